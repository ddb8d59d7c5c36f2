"""How warm or cold it was where a can stood (shop rule 14).

A reading speaks for what stood there since the reading before. What was outside the range that a material keeps at is
a span, with its peak and its hours. A material may state what it bears; what it bears is noted, what goes beyond that
is asked about until quality has reviewed it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from service.database import each, each_or_none, listed, looked_up, rows_of
from service.operations.door.shop import time_in_shop
from service.operations.ledger.failing import stands
from service.records.base import instant, microseconds

DAYS_BETWEEN_READINGS = 7.0
# Of one stay, the readings farthest from the range on each side; whoever has more of them has a store that is wrong.
_WORST = 200


@dataclass(frozen=True, slots=True)
class Range:
    """What a material keeps at, and what it bears beyond that: up or down to a temperature, for so many hours."""

    low_c: float
    high_c: float
    bears: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Span:
    """A time outside the range in one place: `peak_c` is the temperature farthest from it."""

    place: str
    begins_at: datetime
    ends_at: datetime
    peak_c: float

    @property
    def hours(self) -> float:
        return (self.ends_at - self.begins_at) / timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Stored:
    """What is known of a can's storage: whether its place is measured, what it bore, and what it may not have borne."""

    monitored: bool
    borne: tuple[Span, ...] = ()
    beyond: tuple[Span, ...] = ()


def merged(spans: Iterable[Span], keeps: Range) -> tuple[Span, ...]:
    """Readings that follow each other, outside on the same side in the same place, are one span."""
    found: list[Span] = []
    for span in sorted(spans, key=lambda one: (one.begins_at, one.ends_at)):
        last = found[-1] if found else None
        above = span.peak_c > keeps.high_c
        if (
            last is not None
            and last.place == span.place
            and (last.peak_c > keeps.high_c) == above
            and span.begins_at <= last.ends_at
        ):
            farther = max if above else min
            peak, end = farther(last.peak_c, span.peak_c), max(last.ends_at, span.ends_at)
            found[-1] = replace(last, ends_at=end, peak_c=peak)
        else:
            found.append(span)
    return tuple(found)


def borne_and_beyond(spans: Sequence[Span], keeps: Range) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """What a material bears, added up over its life, and what goes beyond that.

    Hours count by the mildest temperature stated that covers a span's peak, each as its share of the hours stated
    there; the shares of one side may come to one whole. Common practice, no source: it is the cautious way to add.
    """
    borne: list[Span] = []
    beyond: list[Span] = []
    used = {True: 0.0, False: 0.0}
    for span in spans:
        above = span.peak_c > keeps.high_c
        covering = [
            (abs(limit - span.peak_c), hours)
            for limit, hours in keeps.bears
            if (limit > keeps.high_c and limit >= span.peak_c > keeps.high_c)
            or (limit < keeps.low_c and limit <= span.peak_c < keeps.low_c)
        ]
        used[above] += span.hours / min(covering)[1] if covering else float("inf")
        (borne if used[above] <= 1 + 1e-9 else beyond).append(span)
    return tuple(borne), tuple(beyond)


def span_sentence(span: Span, keeps: Range, *, now: datetime, zone: str) -> str:
    reach = "up to" if span.peak_c > keeps.high_c else "down to"
    begin, end = (time_in_shop(at, now=now, zone=zone) for at in (span.begins_at, span.ends_at))
    when = f"from {begin} to {end}, {_hours(span.hours)}" if span.hours > 0 else f"at {begin}"
    return f"It stood at {reach} {span.peak_c:g} °C in {span.place} {when}; it keeps at {keeps_at(keeps)}."


def keeps_at(keeps: Range) -> str:
    return f"{keeps.low_c:g} to {keeps.high_c:g} °C"


def _hours(hours: float) -> str:
    return f"{hours:.0f} h" if hours >= 10 else f"{hours:.1f} h" if hours >= 1 else f"{hours * 60:.0f} min"


def stored(ranges: Mapping[int, Range | None], *, at: datetime) -> dict[int, Stored]:
    """For each of these containers what is known of its storage at an instant, all in one query.

    ``ranges`` has what each one's material keeps at, or nothing; then there is nothing to be outside of.
    """
    until = microseconds(at)
    return told(rows_of(_outside_text(), until, listed(ranges), until, until, until) if ranges else [], ranges, at=at)


def told(rows: Iterable[Sequence[Any]], ranges: Mapping[int, Range | None], *, at: datetime) -> dict[int, Stored]:
    """What the rows of `_outside_text` say of each container."""
    asked = {number: keeps for number, keeps in ranges.items() if keeps is not None}
    monitored: set[int] = set()
    outside: dict[int, list[Span]] = {}
    for number, last_at, every_days, name, since, left, read_at, before, lowest_c, highest_c in rows:
        if number not in asked:
            continue
        every = timedelta(days=DAYS_BETWEEN_READINGS if every_days is None else every_days)
        if last_at is not None and at - instant(last_at) <= every:
            monitored.add(number)
        if read_at is None:
            continue
        keeps = asked[number]
        first = instant(read_at) - every if before is None else instant(before)
        begins = max(first, instant(since))
        ends = max(begins, min(instant(read_at), at if left is None else instant(left)))
        found = outside.setdefault(number, [])
        if highest_c > keeps.high_c:
            found.append(Span(name, begins, ends, highest_c))
        if lowest_c < keeps.low_c:
            found.append(Span(name, begins, ends, lowest_c))
    answer = {}
    for number, of_material in ranges.items():
        spans = merged(outside[number], of_material) if of_material is not None and number in outside else ()
        borne, beyond = borne_and_beyond(spans, of_material) if of_material is not None else ((), ())
        answer[number] = Stored(number in monitored, borne, beyond)
    return answer


def _outside_text() -> str:
    """Of some containers: the last reading where each stands, and each stay with its readings outside the range.

    Those outside are found by their temperature, the worst first; in a place that is kept as it should be they are few.
    What quality has reviewed is left out. A reading belongs to a stay if it was taken during it, or is the first after
    it: that one speaks for what stood there until it left. What a container was filled with stood where it came from,
    until then: the worst of both is told of it. The plus sign keeps both engines from going through all
    of the history by its times instead.
    """

    def worst(column: str, beyond: str, order: str) -> str:
        return (
            f"SELECT * FROM (SELECT r.id FROM storage_reading r WHERE r.place_id = s.place_id AND {stands('r')}"
            f" AND r.{column} {beyond} AND +r.occurred_at >= s.since AND +r.occurred_at <= s.speaks_to"
            " AND NOT EXISTS (SELECT 1 FROM storage_review v WHERE v.place_id = r.place_id"
            " AND v.material_id = s.material_id AND r.occurred_at BETWEEN v.begins_at AND v.ends_at)"
            f" ORDER BY r.{column} {order} LIMIT {_WORST}) {column}"
        )

    left = "(SELECT min(n.since) FROM stay n WHERE n.item_id = y.item_id AND n.since > y.since)"
    filled = "m.target_id IN (k.of) AND m.kind = 'decant' AND m.cancelled_by_id IS NULL AND m.occurred_at <= k.until_at"
    first_after = (
        f"(SELECT x.occurred_at FROM storage_reading x WHERE x.place_id = y.place_id AND {stands('x')}"
        " AND x.occurred_at >= y.left_at AND x.occurred_at <= ? ORDER BY x.occurred_at LIMIT 1)"
    )
    return (
        "WITH RECURSIVE there(id, place_id, material_id, low, high, last_at) AS (SELECT i.id, i.place_id, mt.id,"
        " mt.storage_low_c, mt.storage_high_c, (SELECT r.occurred_at FROM storage_reading r"
        f" WHERE r.place_id = i.place_id AND r.occurred_at <= ? AND {stands('r')} ORDER BY r.occurred_at DESC LIMIT 1)"
        f" FROM {looked_up()} {each('item', 'i', 'i.id = given.id')} {each('container', 'c', 'c.item_id = i.id')}"
        " JOIN material mt ON mt.id = c.material_id),"
        " content(id, of, until_at) AS (SELECT t.id, t.id, CAST(? AS BIGINT) FROM there t UNION SELECT k.id,"
        " m.source_id, CASE WHEN m.occurred_at < k.until_at THEN m.occurred_at ELSE k.until_at END FROM content k"
        f" {each('movement', 'm', filled)}),"
        " stays(id, place_id, since, left_at) AS (SELECT k.id, y.place_id, y.since, CASE WHEN k.of = k.id THEN"
        f" {left} WHEN {left} <= k.until_at THEN {left} ELSE k.until_at END"
        f" FROM content k {each('stay', 'y', 'y.item_id = k.of AND y.since <= k.until_at')}),"
        " stood(id, place_id, since, left_at, material_id, low, high, last_at, speaks_to) AS (SELECT t.id, y.place_id,"
        " y.since, y.left_at, t.material_id, t.low, t.high, t.last_at, CASE WHEN y.left_at IS NULL THEN ?"
        f" ELSE coalesce({first_after}, y.left_at) END"
        " FROM there t JOIN stays y ON y.id = t.id)"
        " SELECT s.id, s.last_at, g.read_every_days, p.name, s.since, s.left_at, o.occurred_at,"
        " (SELECT b.occurred_at FROM storage_reading b WHERE b.place_id = o.place_id AND b.occurred_at < o.occurred_at"
        f" AND {stands('b')} ORDER BY b.occurred_at DESC LIMIT 1), o.lowest_c, o.highest_c FROM stood s"
        f" {each('item', 'p', 'p.id = s.place_id')} {each_or_none('place_setting', 'g', 'g.item_id = s.place_id')} "
        + each_or_none(
            "storage_reading",
            "o",
            f"o.id IN ({worst('highest_c', '> s.high', 'DESC')} UNION {worst('lowest_c', '< s.low', 'ASC')})",
        )
        + " ORDER BY s.id, s.since, o.occurred_at"
    )


def range_of(material: Any) -> Range | None:
    if material.storage_low_c is None:
        return None
    bears = tuple((one["temperature_c"], one["hours"]) for one in material.bears)
    return Range(material.storage_low_c, material.storage_high_c, bears)
