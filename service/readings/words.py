"""What the words in a header or a title line tell: units, what a column holds, the order of dates, the zone."""

import re
from collections.abc import Sequence

from .profile import DateOrder, TimeKind, Unit, is_zone

_MARKED_UNIT = re.compile(r"(?:°|º|ø|˚|\bdeg(?:rees)?\.?\s*)\s*([CFK])(?![a-z])|\b(celsius|fahrenheit|kelvin)\b", re.I)
_BRACKETED = re.compile(r"[(\[]\s*([A-Za-z])\s*[)\]]")
_SUFFIXED = re.compile(r"\btemp(?:erature)?s?[_ ]?(?:in[_ ])?([CFK])$", re.I)
_TITLE_UNIT = re.compile(r"\bunits?\b\W+(?:temperature\W+)?(?:°|deg\.?\s*)?([CFK])\b", re.I)
_SPEAKS_OF_UNITS = re.compile(r"\bunits?\b|\beinheit|\bunité|\bunidad|temperatures? (?:are )?in\b", re.I)
_SPEAKS_OF_ZONES = re.compile(r"zone|\btz\b|\boffset\b|\btimes? (?:are )?in\b|^\W*(?:UTC|GMT)", re.I)
_UNIT_PART = re.compile(
    r"\s*,?\s*[(\[/]?\s*(?:(?:°|º|ø|˚|\bdeg(?:rees)?\.?\s*)\s*[CFK]\b|[(\[][CFK][)\]])\s*[)\]]?\s*$", re.I
)

_INDEX = re.compile(
    r"(?:#|n[°º]|no|nr|num|number|index|idx|id|rec|record|sample|scan|count|line|row|reading|lfd)\.?"
    r"(?:\s*(?:#|no|nr|number|index|id)\.?)?",
    re.I,
)
_NOT_A_PROBE = re.compile(
    r"batt|volt|\bm?v\b|humid|feucht|humedad|\brh\b|r\.h\.|%|\bdew\b|taupunkt|pressure|\bm?bar\b|\b[hk]?pa\b|vacuum"
    r"|\bstat(?:us|e)\b|alarm|event|\bnote|comment|signal|rssi|\blux\b|\blight\b|\bco2\b"
    r"|\bserial\b|elapsed|\b(?:milli)?seconds?\b|\bmillis\b|\bms\b|\bepoch\b|unix|time ?stamp|latitude|longitude",
    re.I,
)
_GAUGE = re.compile(
    r"pressure|\bm?bar\b|\b[hk]?pa\b|\bpsi\b|\binhg\b|vacuum|vakuum|\bdruck\b|pression|presi[oó]n", re.I
)
_CONTROLLER = re.compile(
    r"set.?(?:point|value)|(?:\b|_)w?s[pv](?:\b|_)|\bset\b|sollwert|consigne|\btarget\b|\bdemand\b|(?:\b|_)(?:out(?:put)?|op|co)(?:\b|_)"
    r"|stellgrad|stellwert|\bpower\b|\bduty\b|\bpid\b|(?:\b|_)err(?:or)?(?:\b|_)|\bdev(?:iation)?\b|\bdiff(?:erence)?\b|\bdelta\b"
    r"|abweichung|\bsegment\b|\bstep\b|\bprogram(?:me)?\b|\bramp\b",
    re.I,
)
"""What an oven's controller writes beside what it measures: set point, output, error, step of its programme."""
_LABEL_COLUMN = re.compile(r"probe|chan(?:nel)?\b|\bch\b|sensor|\bname\b|point|location|input|source|\btag\b", re.I)
_ELAPSED = re.compile(r"elapsed|duration|run ?time|since|relative|\bdt\b", re.I)
_TIME = re.compile(
    r"time|elapsed|duration|since|\bt\b|zeit|heure|hora|\b(?:sec|min|hours?|seconds?|minutes?|ms|millis\w*)\b", re.I
)
_TIME_UNITS: tuple[tuple[TimeKind, re.Pattern[str]], ...] = (
    ("elapsed_h", re.compile(r"(?:\b|_)(?:h|hrs?|hours?)\b", re.I)),
    ("elapsed_min", re.compile(r"(?:\b|_)(?:min|mins|minutes?)\b", re.I)),
    ("elapsed_ms", re.compile(r"(?:\b|_)(?:ms|msecs?|millis(?:ec(?:ond)?s?)?)\b", re.I)),
    ("elapsed_s", re.compile(r"(?:\b|_)(?:s|secs?|seconds?)\b", re.I)),
)
_DATE_FORM = re.compile(
    r"\b(d{1,2}|m{1,2}|y{4}|y{2})[-./ ](d{1,2}|m{1,2}|y{4}|y{2})[-./ ](d{1,2}|m{1,2}|y{4}|y{2})\b", re.I
)
_ZONE_NAME = re.compile(r"\b[A-Z][A-Za-z]+/[A-Z][A-Za-z_]+(?:/[A-Z][A-Za-z_]+)?\b")
_ZONE_OFFSET = re.compile(r"\b(?:UTC|GMT)\b(?:\s*([+\-−])\s*(\d{1,2})(?::?([0-5]\d))?)?")


def unit_in(cells: Sequence[str], place: int, typical: float | None) -> Unit | None:
    """The unit that a header's cell names, if it does.

    A letter in brackets counts only if all columns with one have the same, as (A), (B), (C) number probes; and a K
    counts as kelvin only with typical values above 200, as it also names a kind of thermocouple.
    """
    cell = cells[place]
    found = _MARKED_UNIT.search(cell) or _SUFFIXED.search(cell)
    letter = next((group for group in found.groups() if group), "")[:1].upper() if found else ""
    if not letter:
        letters = {match[1].upper() for text in cells for match in _BRACKETED.finditer(text)}
        own = _BRACKETED.search(cell)
        if own and len(letters) == 1:
            letter = own[1].upper()
    return _as_unit(letter, typical)


def unit_in_titles(lines: Sequence[str], typical: float | None) -> Unit | None:
    """The unit that the title lines name as the unit, if they name one alone. "Post-cure 60 °C" names none."""
    letters = set()
    for line in lines:
        if _SPEAKS_OF_UNITS.search(line):
            found = [*_TITLE_UNIT.finditer(line), *_MARKED_UNIT.finditer(line)]
            letters |= {next(group for group in match.groups() if group)[0].upper() for match in found}
    return _as_unit(letters.pop(), typical) if len(letters) == 1 else None


def _as_unit(letter: str, typical: float | None) -> Unit | None:
    if letter == "C":
        return "C"
    if letter == "F":
        return "F"
    if letter == "K" and typical is not None and typical > 200:
        return "K"
    return None


def is_unit_cell(cell: str) -> bool:
    """Whether a cell of a line under the header only names a unit or a form."""
    bare = cell.strip().strip("()[]").strip()
    return bool(
        re.fullmatch(r"(?:°|º|ø|˚|deg\.?\s*)?\s*[CFK]|celsius|fahrenheit|kelvin|[smhv%]|min|sec|mV|%\s*RH", bare, re.I)
    )


def probe_name(cell: str) -> str:
    """A header's cell without its unit."""
    name = " ".join(cell.split())
    return _UNIT_PART.sub("", name).strip(" ,;:_")[:80].strip()


def is_index(cell: str) -> bool:
    return bool(_INDEX.fullmatch(cell.strip()))


def is_no_probe(cell: str) -> bool:
    return bool(_NOT_A_PROBE.search(cell)) or is_index(cell)


def is_gauge(cell: str) -> bool:
    return bool(_GAUGE.search(cell))


def is_of_controller(cell: str) -> bool:
    """Whether a name is that of a set point, an output or an error, which only a person can tell from a probe's."""
    return bool(_CONTROLLER.search(cell))


def is_label_column(cell: str) -> bool:
    return bool(_LABEL_COLUMN.search(cell))


def is_elapsed(cell: str) -> bool:
    return bool(_ELAPSED.search(cell))


def is_time(cell: str) -> bool:
    return bool(_TIME.search(cell))


def elapsed_unit(cell: str) -> TimeKind | None:
    """elapsed_ms, elapsed_s, elapsed_min or elapsed_h if the header's cell names one of them alone."""
    kinds = [kind for kind, pattern in _TIME_UNITS if pattern.search(cell)]
    return kinds[0] if len(kinds) == 1 else None


def date_order_in(text: str) -> DateOrder | None:
    """The order that a form such as DD/MM/YYYY names."""
    found = _DATE_FORM.search(text)
    letters = "".join(part[0].lower() for part in found.groups()) if found else ""
    if letters == "ymd":
        return "ymd"
    if letters == "dmy":
        return "dmy"
    return "mdy" if letters == "mdy" else None


def zone_in_title(line: str) -> str | None:
    """The zone of a title line that speaks of zones; "exported at 10:00 UTC" says nothing about the readings."""
    return zone_in(line) if _SPEAKS_OF_ZONES.search(line) else None


def zone_in(text: str) -> str | None:
    """The zone that a text names: an IANA name, or UTC with or without an offset."""
    for match in _ZONE_NAME.finditer(text):
        if is_zone(match.group()):
            return match.group()
    found = _ZONE_OFFSET.search(text)
    if not found:
        return None
    sign, hours, minutes = found.groups()
    if hours is None or (int(hours) == 0 and not int(minutes or 0)):
        return "UTC"
    zone = f"{'+' if sign == '+' else '-'}{int(hours):02d}:{minutes or '00'}"
    return zone if is_zone(zone) else None
