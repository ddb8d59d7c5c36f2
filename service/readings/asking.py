"""What kind of time a column tells, and the question where it doesn't say."""

import datetime
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from .profile import DATE_ORDERS, DateOrder, TimeKind
from .stamps import EPOCH_ORDINAL, clock, date_tokens, day_number, elapsed_hms, tells_order
from .text import shown
from .words import elapsed_unit, is_elapsed

_ORDER_NAMES = {"ymd": "year first", "dmy": "day first", "mdy": "month first"}

_OLDEST_TWO_DIGIT_YEAR = 20


@dataclass(frozen=True)
class Question:
    """A field of the profile that the file doesn't tell. Without choices the answer is free, as for a zone."""

    field: str
    sentence: str
    choices: tuple[str, ...]


@dataclass(frozen=True)
class TimeFound:
    """``may_need_zone``: one of the kinds that the question on the kind offers is wall time."""

    columns: tuple[int, ...]
    kind: TimeKind | None = None
    order: DateOrder | None = None
    found: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    may_need_zone: bool = False


def date_order(texts: Sequence[str], named: DateOrder | None, columns: tuple[int, ...]) -> TimeFound:
    """The order of day, month and year: told by the dates, by the header, or proven by days above 12 or by time that
    would run backwards otherwise. An order that makes a two-digit year older than 2020, older than this service, is
    dropped if another remains. What stays open is asked, the order with the shortest file first."""
    distinct = list(dict.fromkeys(texts))
    tokens = [found for text in distinct if (found := date_tokens(text))]
    told = {tells_order(parts) for parts in tokens}
    if len(told) == 1 and None not in told:
        sure = told.pop()
        return TimeFound(columns, order=sure, found=(f"Dates are written with {_ORDER_NAMES[sure or 'ymd']}.",))
    spans: dict[DateOrder, int] = {}
    forward: list[DateOrder] = []
    for order in DATE_ORDERS:
        try:
            days = [day_number(parts, order) for parts in tokens]
        except ValueError:
            continue
        if days:
            spans[order] = max(days) - min(days)
            steps = [later - earlier for earlier, later in itertools.pairwise(days)]
            if all(step >= 0 for step in steps) or all(step <= 0 for step in steps):
                forward.append(order)
    recent = [order for order in spans if _recent(tokens, order)]
    if recent:
        spans = {order: spans[order] for order in recent}
        forward = [order for order in forward if order in recent]
    if len(spans) == 1:
        order = next(iter(spans))
        example = next((text for text in distinct if _proves(text, order)), distinct[0])
        return TimeFound(columns, order=order, found=(f"Dates have the {_ORDER_NAMES[order]}: {example} proves it.",))
    if named in spans:
        return TimeFound(columns, order=named, found=(f"The header says that dates have the {_ORDER_NAMES[named]}.",))
    if len(forward) == 1:
        name = _ORDER_NAMES[forward[0]]
        return TimeFound(
            columns, order=forward[0], found=(f"Dates have the {name}; in another order the time would run backwards.",)
        )
    choices = sorted(forward or spans or DATE_ORDERS, key=lambda order: (spans.get(order, 0), order))
    meanings = [meaning for order in choices if (meaning := _meaning(tokens, order))]
    example = shown(distinct[0]) if distinct else "A date"
    asked = f" Is it {' or '.join(meanings)}?" if meanings else ""
    sentence = f"{example} can be read in more than one order.{asked}"
    return TimeFound(columns, questions=(Question("date_order", sentence, tuple(choices)),))


def _recent(tokens: Sequence[tuple[str, str, str]], order: DateOrder) -> bool:
    years = [parts[order.index("y")] for parts in tokens]
    return all(len(year) == 4 or int(year) >= _OLDEST_TWO_DIGIT_YEAR for year in years)


def _proves(text: str, order: DateOrder) -> bool:
    """Whether a date by itself leaves this order alone."""
    parts = date_tokens(text)
    for other in DATE_ORDERS:
        if other != order and parts:
            try:
                day_number(parts, other)
            except ValueError:
                continue
            if _recent([parts], other):
                return False
    return True


def _meaning(tokens: Sequence[tuple[str, str, str]], order: DateOrder) -> str | None:
    try:
        date = datetime.date.fromordinal(day_number(tokens[0], order) + EPOCH_ORDINAL)
    except (ValueError, IndexError):
        return None
    return f"{date.day} {date:%B %Y} ({order})"


def elapsed_kind(is_clock: bool, cells: Sequence[str], header: str, columns: tuple[int, ...], name: str) -> TimeFound:
    """A clock without a date, or a count: elapsed time if the header or the first reading says so."""
    said = name[0].upper() + name[1:]
    if not is_clock:
        unit = elapsed_unit(header)
        if unit:
            words = {
                "elapsed_ms": "milliseconds",
                "elapsed_s": "seconds",
                "elapsed_min": "minutes",
                "elapsed_h": "hours",
            }
            return TimeFound(columns, kind=unit, found=(f"{said} counts {words[unit]} since the start.",))
        sentence = f"{said} counts up from {cells[0] if cells else '0'}, and the file doesn't say in what."
        choices = ("elapsed_s", "elapsed_min", "elapsed_h", "elapsed_ms")
        return TimeFound(columns, questions=(Question("time_kind", f"{sentence} Which is it?", choices),))
    beyond = any(clock(cell) is None for cell in cells if cell)
    if is_elapsed(header) or beyond or _starts_at_zero(cells):
        return TimeFound(columns, kind="elapsed_hms", found=(f"{said} holds the time since the start.",))
    if _runs_back(cells):
        return TimeFound(columns, kind="time_of_day", found=(f"{said} holds the time of day, past midnight.",))
    sentence = f"{said} begins with {cells[0] if cells else ''}. Is that the time of day, or the time since the start?"
    return TimeFound(
        columns, questions=(Question("time_kind", sentence, ("time_of_day", "elapsed_hms")),), may_need_zone=True
    )


def _elapsed(cells: Sequence[str]) -> list[int]:
    times = []
    for cell in cells:
        try:
            times.append(elapsed_hms(cell))
        except ValueError:
            continue
    return times


def _starts_at_zero(cells: Sequence[str]) -> bool:
    return _elapsed(cells[:1]) == [0]


def _runs_back(cells: Sequence[str]) -> bool:
    times = _elapsed(cells)
    return any(later < earlier for earlier, later in itertools.pairwise(times))
