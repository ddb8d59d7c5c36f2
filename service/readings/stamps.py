"""One cell, or two, as a time. All times here are whole microseconds.

A stamp without an offset is wall time: microseconds since 1970-01-01 00:00 on the logger's own clock, whatever its
zone. Whole numbers keep a long file fast, and differences exact.
"""

import datetime
import re
from collections.abc import Callable

from .profile import DateOrder, DecimalSign, TimeKind
from .temperatures import number
from .text import shown

SECOND = 1_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
EPOCH_ORDINAL = datetime.date(1970, 1, 1).toordinal()
FIRST_YEAR, LAST_YEAR = 1990, 2099
LONGEST_ELAPSED = 366 * DAY

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_CLOCK_TEXT = (
    r"(?P<h>\d{1,2})(?P<s>[:.])(?P<m>\d{2})(?:(?P=s)(?P<sec>\d{2})(?:[.,](?P<frac>\d{1,9}))?)?"
    r"(?:\s*(?P<half>[AaPp])\.?[Mm]\.?)?\s*(?P<off>Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
)
_CLOCK = re.compile(_CLOCK_TEXT, re.ASCII)
_CELL = re.compile(rf"(?P<date>.{{6,40}}?)(?:T|,?\s+)(?P<clock>{_CLOCK_TEXT})", re.ASCII)
_COMPACT = re.compile(r"(\d{8})[T _-]?(\d{2})(\d{2})(\d{2})?(Z|[+-]\d{2}:?\d{2})?", re.ASCII)
_DATE_TOKENS = re.compile(r"([A-Za-z]{3,9}|\d{1,4})[-/. ]\s?([A-Za-z]{3,9}|\d{1,2}),?[-/. ]\s?(\d{1,4})\.?", re.ASCII)
_ELAPSED = re.compile(
    r"(?:(\d{1,4})(?:\s*d(?:ays?)?,?\s*|\s+|\.))?(\d{1,5}):([0-5]\d)(?::([0-5]\d)(?:[.,](\d{1,6})\d{0,3})?)?", re.ASCII
)

Clock = tuple[int, int | None]
"""Microseconds since midnight, and the offset from UTC if one is written."""


def date_tokens(text: str) -> tuple[str, str, str] | None:
    """The three parts of a written date in their order, a month's name in lower case; None if it is no date."""
    text = text.strip()
    head, _, rest = text.partition(" ")
    if head[:3].lower() in _WEEKDAYS and head.rstrip(".,").isalpha():
        text = rest.strip()
    if len(text) == 8 and text.isascii() and text.isdigit():
        return text[:4], text[4:6], text[6:]
    found = _DATE_TOKENS.fullmatch(text)
    if not found:
        return None
    parts = tuple(part.lower() for part in found.groups())
    names = [part for part in parts if part.isalpha()]
    if len(names) > 1 or any(name[:3] not in MONTHS for name in names):
        return None
    return parts[0], parts[1], parts[2]


def tells_order(tokens: tuple[str, str, str]) -> DateOrder | None:
    """The order that a date tells by itself: a four-digit year first, or a month's name."""
    first, second, third = tokens
    if len(first) == 4 and first.isdigit():
        return "ymd"
    if first.isalpha():
        return "mdy"
    if second.isalpha() and len(third) == 4:
        return "dmy"
    return None


def day_number(tokens: tuple[str, str, str], order: DateOrder | None) -> int:
    """Days since 1970-01-01. ValueError if the date doesn't exist, or not in this order."""
    told = tells_order(tokens)
    names = {"ymd": "year first", "dmy": "day first", "mdy": "month first"}
    order = told or order
    if order is None:
        raise ValueError("could be read in more than one order, and the profile names none")
    parts = dict(zip(order, tokens, strict=True))
    if any(len(parts[key]) > 2 and not parts[key].isalpha() for key in "dm") or len(parts["y"]) not in (2, 4):
        raise ValueError(f"is not a date with {names[order]}")
    month = MONTHS.index(parts["m"][:3]) + 1 if parts["m"].isalpha() else int(parts["m"])
    year = int(parts["y"]) + (2000 if len(parts["y"]) == 2 else 0)
    try:
        ordinal = datetime.date(year, month, int(parts["d"])).toordinal()
    except ValueError:
        raise ValueError(f"is not a date with {names[order]}") from None
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise ValueError(f"lies outside the years {FIRST_YEAR} to {LAST_YEAR}")
    return ordinal - EPOCH_ORDINAL


def clock(text: str) -> Clock | None:
    """A time of day such as 08:05, 8:05:07.250 PM or 08:05Z; None if it is none."""
    found = _CLOCK.fullmatch(text.strip())
    return _clock(found) if found else None


def _clock(found: re.Match[str]) -> Clock | None:
    hour, minute, second = int(found["h"]), int(found["m"]), int(found["sec"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found["half"] in "Pp" else 0)
    if hour > 23 or minute > 59 or second > 59:
        return None
    fraction = int((found["frac"] or "0")[:6].ljust(6, "0"))
    return hour * HOUR + minute * MINUTE + second * SECOND + fraction, _offset(found["off"])


def _offset(text: str | None) -> int | None:
    if not text:
        return None
    if text in ("Z", "UTC", "GMT"):
        return 0
    size = int(text[1:3]) * HOUR + int(text[-2:]) * MINUTE
    return -size if text[0] == "-" else size


def split_stamp(cell: str) -> tuple[str, Clock] | None:
    """A cell with date and clock, as the date's text and the clock; None if it isn't that."""
    cell = cell.strip()
    found = _CELL.fullmatch(cell)
    if found:
        read = _clock(found)
        return (found["date"], read) if read else None
    packed = _COMPACT.fullmatch(cell)
    if packed:
        date, hour, minute, second, offset = packed.groups()
        read = clock(f"{hour}:{minute}:{second or '00'}{offset or ''}")
        return (date, read) if read else None
    return None


def stamp_reader(order: DateOrder | None) -> Callable[[str, str | None], Clock]:
    """A function of the date's cell and the clock's (or of one cell that has both) to time and offset.

    Dates and clocks repeat within a file, so each text is worked out once.
    """
    days: dict[str, int] = {}
    clocks: dict[str, Clock] = {}

    def day_of(text: str, cell: str) -> int:
        tokens = date_tokens(text)
        if tokens is None:
            raise ValueError(f"{shown(cell)} is not a date and time.")
        try:
            days[text] = day_number(tokens, order) * DAY
        except ValueError as error:
            raise ValueError(f"{shown(cell)} {error}.") from None
        return days[text]

    def read_one(cell: str) -> Clock:
        date_text, _, clock_text = cell.partition("T" if "T" in cell and " " not in cell else " ")
        day, time = days.get(date_text), clocks.get(clock_text)
        if day is None or time is None:
            parts = split_stamp(cell)
            if parts is None:
                # A spreadsheet writes midnight as a date alone.
                return day_of(cell.strip(), cell), None
            day, time = day_of(parts[0], cell), parts[1]
            if parts[0] == date_text:
                clocks[clock_text] = time
        offset = time[1]
        return day + time[0] - (offset or 0), offset

    def read(date_cell: str, clock_cell: str | None) -> Clock:
        if clock_cell is None:
            return read_one(date_cell)
        day = days.get(date_cell)
        if day is None:
            day = days[date_cell] = day_of(date_cell.strip(), date_cell)
        time = clocks.get(clock_cell)
        if time is None:
            time = clock(clock_cell)
            if time is None:
                raise ValueError(f"{shown(clock_cell)} is not a time of day.")
            clocks[clock_cell] = time
        offset = time[1]
        return day + time[0] - (offset or 0), offset

    return read


def elapsed_hms(cell: str) -> int:
    """Hours, minutes and seconds since the start: 26:05:00, 0:05, 1 02:05:00. Two parts are hours and minutes."""
    found = _ELAPSED.fullmatch(cell.strip())
    if not found:
        raise ValueError(f"{shown(cell)} is not a time since the start in hours, minutes and seconds.")
    days, hours, minutes, seconds, fraction = found.groups()
    value = int(days or 0) * DAY + int(hours) * HOUR + int(minutes) * MINUTE + int(seconds or 0) * SECOND
    return _since_start(value + int((fraction or "0").ljust(6, "0")), cell)


def counted(cell: str, kind: TimeKind, decimal: DecimalSign) -> int:
    """A time written as one number: seconds or milliseconds since 1970, or milliseconds to hours elapsed."""
    value, unit = number(cell, decimal)
    if unit is not None:
        raise ValueError(f"{shown(cell)} is a temperature, not a time.")
    scale = {
        "epoch_s": SECOND,
        "epoch_ms": 1000,
        "elapsed_ms": 1000,
        "elapsed_s": SECOND,
        "elapsed_min": MINUTE,
        "elapsed_h": HOUR,
    }[kind]
    microseconds = round(value * scale)
    if kind in ("epoch_s", "epoch_ms"):
        year = 1970 + microseconds / (365.2425 * DAY)
        if not FIRST_YEAR <= year < LAST_YEAR + 1:
            what = "seconds" if kind == "epoch_s" else "milliseconds"
            raise ValueError(f"{shown(cell)} {what} since 1970 lie outside the years {FIRST_YEAR} to {LAST_YEAR}.")
        return microseconds
    return _since_start(microseconds, cell)


def _since_start(microseconds: int, cell: str) -> int:
    if not 0 <= microseconds <= LONGEST_ELAPSED:
        raise ValueError(f"{shown(cell)} is not a time from the start to a year after it.")
    return microseconds
