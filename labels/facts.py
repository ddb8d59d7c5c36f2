"""What a label says: frozen facts, checked when they are built. No database, no clock, no layout.

Times are printed as they are given, so they come in the zone of the shop.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import ClassVar

from labels.codes import parse
from labels.errors import BadFact
from labels.hazards import hazard_block
from labels.qr import payload

# A thin space and a non-breaking hyphen aren't in the font; their nearest relatives are.
_STAND_INS = str.maketrans({"\u2009": "\u202f", "\u2011": "-"})


def _text(facts: object, field: str, longest: int, *, required: bool = False) -> None:
    value = getattr(facts, field)
    if not isinstance(value, str):
        raise BadFact(f"{field} must be text, not {type(value).__name__}.")
    clean = unicodedata.normalize("NFC", value).translate(_STAND_INS).strip()
    if any(unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") for char in clean):
        raise BadFact(f"{field} has a character that cannot be printed.")
    if required and not clean:
        raise BadFact(f"{field} must not be empty.")
    if len(clean) > longest:
        raise BadFact(f"{field} has {len(clean)} characters; a label takes at most {longest}.")
    object.__setattr__(facts, field, clean)


def _day(facts: object, field: str) -> None:
    value = getattr(facts, field)
    if value is not None and (not isinstance(value, date) or isinstance(value, datetime)):
        raise BadFact(f"{field} must be a date, not {type(value).__name__}.")


def _moment(facts: object, field: str) -> None:
    value = getattr(facts, field)
    if value is not None and not isinstance(value, datetime):
        raise BadFact(f"{field} must be a date with a time, not {type(value).__name__}.")


def _hazards(facts: object, h_codes: Iterable[str]) -> None:
    if isinstance(h_codes, str):
        raise BadFact("h_codes must be a list of codes, not one text.")
    codes = tuple(h_codes)
    hazard_block(codes)
    object.__setattr__(facts, "h_codes", codes)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What every label has: the item's code, the issue of this label, and the origin that the QR code leads to.

    `held` is HOLD or FAILED where the label is drawn while that is so, and no fact that is kept with the issue.
    """

    KIND: ClassVar[str]
    NOUN: ClassVar[str]

    code: str
    origin: str
    issue: int = 1
    held: str = ""

    def __post_init__(self) -> None:
        _text(self, "held", 12)
        read = parse(self.code)
        if self.KIND and read.kind != self.KIND:
            raise BadFact(f"code must be that of a {self.NOUN} (letter {self.KIND}), not {read.text}.")
        object.__setattr__(self, "code", read.text)
        payload(self.origin, self.code, self.issue)

    @property
    def address(self) -> str:
        """What the QR code says."""
        return payload(self.origin, self.code, self.issue)


@dataclass(frozen=True, kw_only=True)
class LotLabel(Facts):
    """A delivered lot, on its pallet or shelf."""

    KIND: ClassVar[str] = "L"
    NOUN: ClassVar[str] = "lot"

    name: str
    lot: str
    received_on: date | None = None
    expires_on: date | None = None
    net: str = ""
    h_codes: tuple[str, ...] = ()
    storage: str = ""
    quarantine: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "lot", 40, required=True)
        _text(self, "net", 40)
        _text(self, "storage", 80)
        _day(self, "received_on")
        _day(self, "expires_on")
        _hazards(self, self.h_codes)


@dataclass(frozen=True, kw_only=True)
class ContainerLabel(Facts):
    """A can, drum, bottle or roll: the shop's own label, beside the supplier's and never over it (shop rule 40).

    `sequence` is such as "can 2 of 4", `net` such as "5 kg", `source` the container that it was filled from, `ratio`
    such as "Alder 10 resin 100 : 30 by weight", `out_time` such as "out life 480 h at 21 °C".
    """

    KIND: ClassVar[str] = "C"
    NOUN: ClassVar[str] = "container"

    name: str
    lot: str
    noun: str = "container"
    sequence: str = ""
    net: str = ""
    source: str = ""
    expires_on: date | None = None
    opened_on: date | None = None
    opened_life_days: int | None = None
    h_codes: tuple[str, ...] = ()
    storage: str = ""
    out_time: str = ""
    ratio: str = ""
    quarantine: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "lot", 40, required=True)
        _text(self, "noun", 20, required=True)
        _text(self, "sequence", 40)
        _text(self, "net", 40)
        _text(self, "source", 20)
        _text(self, "storage", 80)
        _text(self, "out_time", 120)
        _text(self, "ratio", 80)
        _day(self, "expires_on")
        _day(self, "opened_on")
        _hazards(self, self.h_codes)
        if self.opened_life_days is not None and not 1 <= self.opened_life_days <= 36_500:
            raise BadFact(f"opened_life_days must be from 1 to 36500, not {self.opened_life_days}.")

    @property
    def use_by(self) -> date | None:
        """The day that counts: the lot's, or that of the opened life if it ends sooner (shop rule 9)."""
        if self.opened_on is None or self.opened_life_days is None:
            return self.expires_on
        opened_end = self.opened_on + timedelta(days=self.opened_life_days)
        return opened_end if self.expires_on is None else min(self.expires_on, opened_end)


@dataclass(frozen=True, kw_only=True)
class KitLabel(Facts):
    """Plies cut for one part: `sequence` such as "kit 3 of 4", `plies` such as "12 plies", `made_of` such as
    "300 g twill, lot 26-0207"."""

    KIND: ClassVar[str] = "K"
    NOUN: ClassVar[str] = "kit"

    name: str
    sequence: str = ""
    plies: str = ""
    made_of: str = ""
    purpose: str = ""
    cut_on: date | None = None
    cut_by: str = ""
    expires_on: date | None = None
    h_codes: tuple[str, ...] = ()
    storage: str = ""
    out_time: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "sequence", 40)
        _text(self, "plies", 40)
        _text(self, "made_of", 120)
        _text(self, "purpose", 80)
        _text(self, "cut_by", 40)
        _text(self, "storage", 80)
        _text(self, "out_time", 120)
        _day(self, "cut_on")
        _day(self, "expires_on")
        _hazards(self, self.h_codes)


@dataclass(frozen=True, kw_only=True)
class PotLabel(Facts):
    """A mixed pot: the label goes on the cup and stays there for the check next morning (shop rule 29).

    `parts` are those that it is for, `maker` is who mixes it, `ratio` such as "1.5 to 2.5 % of the resin", `life_note`
    why there is no `use_before`, such as "shorter than 65 min: 260 g is heavier than the table (100 g)".
    """

    KIND: ClassVar[str] = "M"
    NOUN: ClassVar[str] = "pot"

    system: str
    hardener: str
    mixed_at: datetime
    use_before: datetime | None = None
    mass: str = ""
    purpose: str = ""
    parts: str = ""
    maker: str = ""
    ratio: str = ""
    life_note: str = ""
    h_codes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "life_note", 160)
        _text(self, "parts", 80)
        _text(self, "maker", 40)
        _text(self, "ratio", 80)
        _text(self, "system", 120, required=True)
        _text(self, "hardener", 80)
        _text(self, "mass", 40)
        _text(self, "purpose", 80)
        if self.mixed_at is None:
            raise BadFact("mixed_at must be given.")
        _moment(self, "mixed_at")
        _moment(self, "use_before")
        _hazards(self, self.h_codes)
        if self.use_before is not None:
            if (self.use_before.tzinfo is None) != (self.mixed_at.tzinfo is None):
                raise BadFact("mixed_at and use_before must both have a time zone, or neither.")
            if self.use_before < self.mixed_at:
                raise BadFact("use_before must not be earlier than mixed_at.")


@dataclass(frozen=True, kw_only=True)
class PartLabel(Facts):
    """A part: in work a tissue label laminated in, the final one after post-cure and trim (shop rules 38 and 42)."""

    KIND: ClassVar[str] = "P"
    NOUN: ClassVar[str] = "part"

    name: str
    part_number: str = ""
    revision: str = ""
    laid_on: date | None = None
    final: bool = False
    serial: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "part_number", 40)
        _text(self, "revision", 20)
        _day(self, "laid_on")
        _text(self, "serial", 60)


@dataclass(frozen=True, kw_only=True)
class MouldLabel(Facts):
    """A mould: `release` such as "semi-permanent, 5 coats", `limit` such as "at most 80 °C"."""

    KIND: ClassVar[str] = "T"
    NOUN: ClassVar[str] = "mould"

    name: str
    release: str = ""
    limit: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "release", 80)
        _text(self, "limit", 80)
        _text(self, "note", 80)


@dataclass(frozen=True, kw_only=True)
class BadgeLabel(Facts):
    """A person's badge: scanned at a tablet, it says who taps from now on."""

    KIND: ClassVar[str] = "B"
    NOUN: ClassVar[str] = "badge"

    name: str

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)


@dataclass(frozen=True, kw_only=True)
class PlaceLabel(Facts):
    """A place of the store or shop: `range` such as "15 to 25 °C", `note` such as "peroxides only"."""

    KIND: ClassVar[str] = "A"
    NOUN: ClassVar[str] = "place"

    name: str
    range: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "range", 80)
        _text(self, "note", 80)


@dataclass(frozen=True, kw_only=True)
class ScaleLabel(Facts):
    """A scale: `capacity` such as "6 kg × 0.1 g"."""

    KIND: ClassVar[str] = "S"
    NOUN: ClassVar[str] = "scale"

    name: str
    capacity: str = ""
    calibrated_until: date | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "capacity", 80)
        _day(self, "calibrated_until")


@dataclass(frozen=True, kw_only=True)
class CureLabel(Facts):
    """A cure run, on the oven door or the bag: `schedule` such as "16 h at 23 °C, then 15 h at 60 °C"."""

    KIND: ClassVar[str] = "R"
    NOUN: ClassVar[str] = "cure run"

    name: str
    schedule: str = ""
    started_at: datetime | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "schedule", 120)
        _moment(self, "started_at")


@dataclass(frozen=True, kw_only=True)
class HoldTag(Facts):
    """A tag of its own for what is on hold or failed: put on while it stands, taken off when it is lifted.

    Of any kind of item; `reason` as it was given, `more` such as "and 2 more holds", `word` HOLD or FAILED.
    """

    KIND: ClassVar[str] = ""
    NOUN: ClassVar[str] = "tag"

    name: str
    reason: str
    word: str = "HOLD"
    more: str = ""
    printed_on: date

    def __post_init__(self) -> None:
        super().__post_init__()
        _text(self, "name", 120, required=True)
        _text(self, "reason", 200, required=True)
        _text(self, "word", 12, required=True)
        _text(self, "more", 40)
        _day(self, "printed_on")
