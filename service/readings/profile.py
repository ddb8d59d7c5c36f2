"""The reading profile: what a logger's files don't tell by themselves, kept once per logger.

A profile may still have open fields (``None`` or empty): a proposal leaves open what the file didn't tell. Nothing is
read with an open profile. Lines are counted from 1, as an editor shows them; columns from 0.
"""

import re
import zoneinfo
from dataclasses import dataclass, fields
from typing import Any, Literal, cast, get_args

Delimiter = Literal[",", ";", "\t", "|", " "]
DecimalSign = Literal[".", ","]
TimeKind = Literal[
    "date_time", "time_of_day", "epoch_s", "epoch_ms", "elapsed_ms", "elapsed_s", "elapsed_min", "elapsed_h",
    "elapsed_hms",
]  # fmt: skip
DateOrder = Literal["ymd", "dmy", "mdy"]
Layout = Literal["wide", "long", "pairs"]
Unit = Literal["C", "F", "K"]
PressureUnit = Literal["mbar", "bar", "kPa", "psi", "inHg"]

DELIMITERS: tuple[Delimiter, ...] = get_args(Delimiter)
TIME_KINDS: tuple[TimeKind, ...] = get_args(TimeKind)
DATE_ORDERS: tuple[DateOrder, ...] = get_args(DateOrder)
LAYOUTS: tuple[Layout, ...] = get_args(Layout)
UNITS: tuple[Unit, ...] = get_args(Unit)
PRESSURE_UNITS: tuple[PressureUnit, ...] = get_args(PressureUnit)
NEEDS_START = frozenset({"time_of_day", "elapsed_ms", "elapsed_s", "elapsed_min", "elapsed_h", "elapsed_hms"})
NEEDS_ZONE = frozenset({"date_time", "time_of_day"})

# What loggers write for a probe that gave no value; compared without regard to case.
MISSING_WORDS: tuple[str, ...] = (
    "", "-", "--", "---", "----", "-----", "*", "**", "***", "****", "?", "nan", "na", "n/a", "#n/a", "null", "none",
    "ol", "err", "error", "open", "fault", "--.-", "---.-", "--,-", "---,-",
)  # fmt: skip

MAX_COLUMNS = 500
_FIXED_OFFSET = re.compile(r"[+-](0\d|1[0-4]):[0-5]\d")


class ProfileError(ValueError):
    """A field of a profile that can't be used. The sentence names the field and what is allowed."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        self.sentence = sentence
        super().__init__(sentence)


def _refuse(field: str, given: object, allowed: str) -> ProfileError:
    return ProfileError(field, f"{field} is {str(given)[:60]!r}; it must be {allowed}.")


def _choice(field: str, given: object, allowed: tuple[str, ...]) -> None:
    if not isinstance(given, str) or given not in allowed:
        raise _refuse(field, given, "one of " + ", ".join(repr(word) for word in allowed))


def _whole(field: str, given: object, low: int, high: int) -> None:
    if isinstance(given, bool) or not isinstance(given, int) or not low <= given <= high:
        raise _refuse(field, given, f"a whole number from {low} to {high}")


def _words(field: str, given: object, most: int, longest: int) -> None:
    if not isinstance(given, tuple) or len(given) > most:
        raise _refuse(field, given, f"a list of at most {most} words")
    for word in given:
        if not isinstance(word, str) or len(word) > longest:
            raise _refuse(field, word, f"words of at most {longest} characters")


@dataclass(frozen=True, kw_only=True)
class Probe:
    """One probe or gauge: its name in the shop, and where the file has it.

    ``column`` in a wide file; ``label``, the word written beside the value, in a long file or one with pairs.
    ``unit`` only where it differs from the file's; one of pressure makes it a gauge.
    """

    name: str
    column: int | None = None
    label: str | None = None
    unit: Unit | PressureUnit | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not 1 <= len(self.name.strip()) <= 80:
            raise _refuse("probes.name", self.name, "a name of 1 to 80 characters")
        if (self.column is None) == (self.label is None):
            raise ProfileError("probes", f"Probe {self.name!r} needs either its column or the label in the file.")
        if self.column is not None:
            _whole("probes.column", self.column, 0, MAX_COLUMNS - 1)
        if self.label is not None and (not isinstance(self.label, str) or not 1 <= len(self.label.strip()) <= 80):
            raise _refuse("probes.label", self.label, "a label of 1 to 80 characters")
        if self.unit is not None:
            _choice("probes.unit", self.unit, (*UNITS, *PRESSURE_UNITS))

    @property
    def is_gauge(self) -> bool:
        return self.unit in PRESSURE_UNITS


@dataclass(frozen=True, kw_only=True)
class ReadingProfile:
    """How the files of one logger are read.

    ``delimiter``: ``" "`` means any run of white space.
    ``header_line`` and ``header``: the line with the columns' names, and those names; a file in which the line has
    moved is followed, one in which a used column has another name is refused. ``first_data_line`` where it isn't the
    line after the header; with neither, the first line on which the time can be read.
    ``time_columns``: one column, or the date's and the clock's.
    ``time_kind``: ``time_of_day`` is a clock without a date, which needs the start to know its day.
    ``date_order``: two-digit years are 2000 to 2099, as no file of a cure is older.
    ``zone``: an IANA name, or a fixed offset such as ``+01:00`` for a logger that keeps winter time all year.
    ``layout``: ``wide``, one column a probe; ``long``, the probe's name in ``name_column`` and its value in
    ``value_column``; ``pairs``, name and value in turn from ``name_column`` on.
    ``probes``: in a long file or one with pairs, empty means every name that the file has.
    ``missing``: words that stand for no value. ``ignored_starts``: lines that begin so are left out.
    """

    delimiter: Delimiter
    decimal: DecimalSign = "."
    header_line: int | None = None
    header: tuple[str, ...] = ()
    first_data_line: int | None = None
    time_columns: tuple[int, ...] = ()
    time_kind: TimeKind | None = None
    date_order: DateOrder | None = None
    zone: str | None = None
    layout: Layout = "wide"
    probes: tuple[Probe, ...] = ()
    name_column: int | None = None
    value_column: int | None = None
    unit: Unit | None = None
    missing: tuple[str, ...] = MISSING_WORDS
    ignored_starts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _choice("delimiter", self.delimiter, DELIMITERS)
        _choice("decimal", self.decimal, (".", ","))
        _choice("layout", self.layout, LAYOUTS)
        for name, allowed in (("time_kind", TIME_KINDS), ("date_order", DATE_ORDERS), ("unit", UNITS)):
            if getattr(self, name) is not None:
                _choice(name, getattr(self, name), allowed)
        for name in ("header_line", "first_data_line"):
            if getattr(self, name) is not None:
                _whole(name, getattr(self, name), 1, 10_000)
        for name in ("name_column", "value_column"):
            if getattr(self, name) is not None:
                _whole(name, getattr(self, name), 0, MAX_COLUMNS - 1)
        _words("header", self.header, MAX_COLUMNS, 500)
        _words("missing", self.missing, 100, 40)
        _words("ignored_starts", self.ignored_starts, 20, 40)
        if not all(self.ignored_starts):
            raise ProfileError("ignored_starts", "ignored_starts holds an empty word, which every line begins with.")
        self._check_lines()
        self._check_time()
        self._check_layout()

    def _check_lines(self) -> None:
        if self.header and self.header_line is None:
            raise ProfileError("header", "header is given without header_line, the line on which it stands.")
        if self.header_line and self.first_data_line and self.first_data_line <= self.header_line:
            raise ProfileError("first_data_line", "first_data_line must come after header_line.")

    def _check_time(self) -> None:
        if not isinstance(self.time_columns, tuple) or len(self.time_columns) > 2:
            raise _refuse("time_columns", self.time_columns, "a list of one column, or of two for date and clock")
        for column in self.time_columns:
            _whole("time_columns", column, 0, MAX_COLUMNS - 1)
        if len(self.time_columns) == 2:
            if self.time_kind not in (None, "date_time"):
                raise ProfileError("time_columns", f"time_columns has two columns; {self.time_kind} stands in one.")
            if self.time_columns[0] == self.time_columns[1]:
                raise ProfileError("time_columns", "time_columns names the same column twice.")
        if self.zone is not None and not is_zone(self.zone):
            raise _refuse("zone", self.zone, "a time zone such as 'Europe/Paris', 'UTC' or '+01:00'")

    def _check_layout(self) -> None:
        if not isinstance(self.probes, tuple) or len(self.probes) > MAX_COLUMNS:
            raise _refuse("probes", self.probes, f"a list of at most {MAX_COLUMNS} probes")
        names = [probe.name for probe in self.probes]
        if len(set(names)) < len(names):
            raise ProfileError("probes", "Two probes have the same name; each needs its own.")
        wide = self.layout == "wide"
        for probe in self.probes:
            if (probe.column is None) == wide:
                needed = "its column" if wide else "its label"
                raise ProfileError("probes", f"Probe {probe.name!r} needs {needed}, as the layout is {self.layout}.")
        places = [probe.column if wide else str(probe.label).casefold() for probe in self.probes]
        if len(set(places)) < len(places):
            raise ProfileError("probes", "Two probes stand in the same place of the file.")
        needs_name, needs_value = not wide, self.layout == "long"
        if (self.name_column is not None) != needs_name or (self.value_column is not None) != needs_value:
            rule = "pairs needs name_column alone; long needs name_column and value_column; wide needs neither"
            raise ProfileError("layout", f"The layout {rule}.")
        used = [*self.time_columns, *(p.column for p in self.probes if p.column is not None)]
        used += [column for column in (self.name_column, self.value_column) if column is not None]
        if len(set(used)) < len(used):
            raise ProfileError("layout", "The same column is named for two purposes.")

    def open_fields(self) -> tuple[str, ...]:
        """The fields that must still be answered before a file can be read.

        An open zone is not among them: stamps that carry their own offset need none, and only the file knows.
        """
        answers = {
            "time_columns": bool(self.time_columns),
            "time_kind": self.time_kind is not None,
            "date_order": self.time_kind != "date_time" or self.date_order is not None,
            "probes": self.layout != "wide" or bool(self.probes),
            "unit": self.unit is not None or (bool(self.probes) and all(probe.unit for probe in self.probes)),
        }
        return tuple(field for field, answered in answers.items() if not answered)

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, words and numbers, fit for JSON; ``from_dict`` makes the same profile of it."""
        plain: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "probes":
                value = [{f.name: getattr(probe, f.name) for f in fields(probe)} for probe in value]
            plain[field.name] = list(value) if isinstance(value, tuple) else value
        return plain

    @classmethod
    def from_dict(cls, plain: object) -> "ReadingProfile":
        """The profile that ``to_dict`` wrote. Unknown fields and wrong kinds are refused with a sentence."""
        given = _known("profile", plain, {field.name for field in fields(cls)})
        if "delimiter" not in given:
            raise ProfileError("delimiter", "delimiter is missing.")
        for name in ("header", "time_columns", "missing", "ignored_starts", "probes"):
            if name in given:
                if not isinstance(given[name], list | tuple):
                    raise _refuse(name, given[name], "a list")
                given[name] = tuple(given[name])
        if "probes" in given:
            given["probes"] = tuple(_probe(item) for item in cast("tuple[object, ...]", given["probes"]))
        return cls(**given)


def _probe(plain: object) -> Probe:
    given = _known("probes", plain, {field.name for field in fields(Probe)})
    if "name" not in given:
        raise ProfileError("probes.name", "A probe has no name.")
    return Probe(**given)


def _known(what: str, plain: object, names: set[str]) -> dict[str, Any]:
    if not isinstance(plain, dict):
        raise _refuse(what, plain, "an object with named fields")
    unknown = sorted(str(key) for key in plain if key not in names)
    if unknown:
        raise ProfileError(unknown[0], f"{what} has no field {unknown[0]!r}.")
    return dict(plain)


def is_zone(zone: object) -> bool:
    """Whether this is an IANA name that the machine knows, or a fixed offset from −14:59 to +14:59."""
    if not isinstance(zone, str) or len(zone) > 60:
        return False
    if _FIXED_OFFSET.fullmatch(zone):
        return True
    try:
        zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return zone not in ("localtime", "posixrules")
