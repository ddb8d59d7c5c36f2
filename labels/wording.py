"""Facts -> the words on the label, and their rank. The layouts know these words only, not the kinds of item."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from labels import facts as f
from labels.hazards import Hazard, hazard_block

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

SHOP_LABEL = "shop label; see also the safety data sheet"
CUP_CHECK = "keep this label on the cup for the check next morning"


@dataclass(frozen=True)
class Box:
    """The one thing that matters, and beside it a value or room to write one."""

    caption: str
    value: str
    side_caption: str = ""
    side_value: str = ""
    side_note: str = ""
    write_in: bool = False


@dataclass(frozen=True)
class Words:
    """A label in words, in the order of rank."""

    noun: str
    title: str
    details: tuple[str, ...]
    box: Box | None
    notes: tuple[str, ...]
    hazard: Hazard
    alert: str = ""
    alert_scale: float = 1.0
    # A cup beside its cans carries signal word and pictograms alone where the label is small; a can never does.
    statements_on_the_cans: bool = False
    # The details of a small label, where they are fewer.
    brief: tuple[str, ...] | None = None

    def notes_with(self, *, courtesy: bool) -> tuple[str, ...]:
        """The notes, and the sentence that this is a shop label: the only words that a full label may leave out."""
        return (*self.notes, SHOP_LABEL) if courtesy and self.hazard.statements else self.notes


def day(value: date) -> str:
    """A date as printed.

    >>> day(date(2027, 9, 30))
    '30 Sep 2027'
    """
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def clock(value: datetime) -> str:
    """A time of day as printed.

    >>> clock(datetime(2026, 3, 3, 9, 5))
    '09:05'
    """
    return f"{value.hour:02d}:{value.minute:02d}"


def _some(*texts: str) -> tuple[str, ...]:
    return tuple(text for text in texts if text)


def _prefixed(prefix: str, text: str) -> str:
    return f"{prefix}{text}" if text else ""


def _keep(storage: str) -> str:
    """Storage in words: a bare range gets its preposition."""
    if not storage:
        return ""
    return f"keep at {storage}" if storage[0].isdigit() or storage[0] in "-−+" else f"keep {storage}"


def _lot(lot: f.LotLabel) -> Words:
    return Words(
        noun=lot.NOUN,
        title=lot.name,
        details=_some(f"lot {lot.lot}", lot.net),
        box=Box(
            caption="use by, unopened",
            value=day(lot.expires_on) if lot.expires_on else "no expiry",
            side_caption="received" if lot.received_on else "",
            side_value=day(lot.received_on) if lot.received_on else "",
        ),
        notes=_some(_keep(lot.storage)),
        hazard=hazard_block(lot.h_codes),
        alert="QUARANTINE: not released" if lot.quarantine else "",
    )


def _container(can: f.ContainerLabel) -> Words:
    life = can.opened_life_days
    days = "" if life is None else f"then {life} day{'' if life == 1 else 's'}"
    value = day(can.use_by) if can.use_by else "no expiry"
    if can.opened_on is None:
        box = Box("use by, unopened", value, side_caption="opened", side_note=days, write_in=True)
    else:
        box = Box("use by", value, side_caption="opened", side_value=day(can.opened_on))
    return Words(
        noun=can.noun,
        title=can.name,
        details=_some(f"lot {can.lot}", can.sequence, can.net, _prefixed("from ", can.source)),
        box=box,
        notes=_some(_keep(can.storage), can.out_time, can.ratio),
        hazard=hazard_block(can.h_codes),
        alert="QUARANTINE: not released" if can.quarantine else "",
    )


def _kit(kit: f.KitLabel) -> Words:
    cut = day(kit.cut_on) if kit.cut_on else ""
    by = _prefixed("by ", kit.cut_by)
    if kit.expires_on:
        box: Box | None = Box("use by", day(kit.expires_on), side_caption="cut", side_value=cut, side_note=by)
    elif cut:
        box = Box("cut", cut, side_caption="by" if kit.cut_by else "", side_value=kit.cut_by)
    else:
        box = None
    return Words(
        noun=kit.NOUN,
        title=kit.name,
        details=_some(kit.sequence, kit.plies, kit.made_of, _prefixed("for ", kit.purpose)),
        box=box,
        notes=_some(_keep(kit.storage), kit.out_time),
        hazard=hazard_block(kit.h_codes),
    )


def _pot(pot: f.PotLabel) -> Words:
    if pot.use_before is None:
        before = "no figure" if pot.life_note else "not stated"
    elif pot.use_before.date() == pot.mixed_at.date():
        before = clock(pot.use_before)
    else:
        before = f"{clock(pot.use_before)}, {pot.use_before.day} {_MONTHS[pot.use_before.month - 1]}"
    return Words(
        noun=pot.NOUN,
        title=pot.system,
        details=_some(
            _prefixed("with ", pot.hardener),
            pot.ratio,
            pot.mass,
            _prefixed("for ", ", ".join(_some(pot.purpose, pot.parts))),
            _prefixed("by ", pot.maker),
        ),
        box=Box(
            caption="use before",
            value=before,
            side_caption="mixed",
            side_value=clock(pot.mixed_at),
            side_note=day(pot.mixed_at),
        ),
        notes=_some(pot.life_note if pot.use_before is None else "", CUP_CHECK),
        hazard=hazard_block(pot.h_codes),
        statements_on_the_cans=True,
        brief=_some(pot.ratio, _first(pot.parts), pot.maker),
    )


def _first(parts: str) -> str:
    """The first of some parts, and how many more."""
    first, *more = parts.split(", ")
    return f"{first} + {len(more)}" if more else first


def _hold(tag: f.HoldTag) -> Words:
    return Words(
        noun=tag.NOUN,
        title=tag.name,
        details=_some(tag.reason, tag.more),
        box=Box("do not use; printed", day(tag.printed_on)),
        notes=("quality lifts it; then take this tag off",),
        hazard=hazard_block(()),
        alert=tag.word,
        alert_scale=3.0,
    )


def _part(part: f.PartLabel) -> Words:
    state = "" if part.final else "in work; the final label follows post-cure and trim"
    return Words(
        noun=part.NOUN,
        title=part.name,
        details=_some(part.part_number, _prefixed("revision ", part.revision), _prefixed("serial ", part.serial)),
        box=Box("laid up", day(part.laid_on)) if part.laid_on else None,
        notes=_some(state),
        hazard=hazard_block(()),
        brief=_some(part.part_number, part.serial) if part.serial else None,
    )


def _mould(mould: f.MouldLabel) -> Words:
    return Words(
        noun=mould.NOUN,
        title=mould.name,
        details=_some(_prefixed("release: ", mould.release)),
        box=Box("limit", mould.limit) if mould.limit else None,
        notes=_some(mould.note),
        hazard=hazard_block(()),
    )


def _place(place: f.PlaceLabel) -> Words:
    return Words(
        noun=place.NOUN,
        title=place.name,
        details=(),
        box=Box("keep at", place.range) if place.range else None,
        notes=_some(place.note),
        hazard=hazard_block(()),
    )


def _badge(badge: f.BadgeLabel) -> Words:
    return Words(
        noun=badge.NOUN,
        title=badge.name,
        details=(),
        box=None,
        notes=("scan it to say who is at the tablet; it signs nothing",),
        hazard=hazard_block(()),
    )


def _scale(scale: f.ScaleLabel) -> Words:
    return Words(
        noun=scale.NOUN,
        title=scale.name,
        details=_some(scale.capacity),
        box=Box("calibrated until", day(scale.calibrated_until)) if scale.calibrated_until else None,
        notes=(),
        hazard=hazard_block(()),
    )


def _cure(cure: f.CureLabel) -> Words:
    started = cure.started_at
    return Words(
        noun=cure.NOUN,
        title=cure.name,
        details=_some(cure.schedule),
        box=Box("started", f"{clock(started)}, {day(started)}") if started else None,
        notes=(),
        hazard=hazard_block(()),
    )


_WORDINGS: dict[type[f.Facts], Callable[[Any], Words]] = {
    f.LotLabel: _lot,
    f.ContainerLabel: _container,
    f.KitLabel: _kit,
    f.PotLabel: _pot,
    f.PartLabel: _part,
    f.MouldLabel: _mould,
    f.PlaceLabel: _place,
    f.BadgeLabel: _badge,
    f.ScaleLabel: _scale,
    f.CureLabel: _cure,
    f.HoldTag: _hold,
}


def words(facts: f.Facts) -> Words:
    """What a label of these facts says."""
    said = _WORDINGS[type(facts)](facts)
    if not facts.held:
        return said
    return replace(said, alert=" · ".join(_some(facts.held, said.alert)))
