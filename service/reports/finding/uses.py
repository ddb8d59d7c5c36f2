"""How old containers were at each use, and which of them were used beyond their limit."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from schemas.words import MovementKind
from service.records.base import instant
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Material
from service.reports.finding.given import AgedUse
from service.reports.finding.rows import Rows
from service.reports.reading.ages import Ages, noun_of

_TAKES = frozenset(
    (
        MovementKind.POUR,
        MovementKind.ADDITION,
        MovementKind.CUTTING,
        MovementKind.LAYING,
        MovementKind.TREATMENT,
    )
)


def last_uses(rows: Rows, ages: Ages) -> dict[int, dict[int, datetime]]:
    """Container -> part -> when something from it was last taken for that part; a jug's use is its cans' too."""
    # The last of several takings is enough: what it had been filled from by then it had been filled from.
    taken: dict[int, dict[int, int]] = defaultdict(dict)
    for thing, source, kind, moment, *_ in rows.moved:
        if kind not in _TAKES or source not in ages.containers:
            continue
        last = taken[source]
        for part in rows.reached[thing]:
            if moment >= last.get(part, moment):
                last[part] = moment
    found: dict[int, dict[int, datetime]] = defaultdict(dict)
    moments = {moment: instant(moment) for by_part in taken.values() for moment in by_part.values()}
    for source, by_part in taken.items():
        filled = ages.was_filled(source)
        for part, moment in by_part.items():
            at = moments[moment]
            for container in ages.ancestors(source, at) if filled else (source,):
                uses = found[container]
                if part not in uses or at > uses[part]:
                    uses[part] = at
    return found


def aged_uses(
    rows: Rows,
    ages: Ages,
    used: Mapping[int, Mapping[int, datetime]],
    own: set[int],
    part: int,
    measured: Mapping[int, tuple[float, str]],
) -> list[AgedUse]:
    """This part's containers that were used beyond their limit for some part, with the age at each use."""
    names = {item.id: item.code for item in rows_among(Item, Item.id, own)}
    found = []
    for container in sorted(own):
        row = ages.containers[container]
        material: Material = ages.materials[row.material_id]
        days, limit, because = _days(rows, ages, container, used[container], part)
        if limit is None or all(d <= limit for d in days.values()):
            continue
        codes = {number: rows.parts[number].code for number in used[container]}
        found.append(
            AgedUse(
                code=names[container],
                noun=noun_of(material),
                material=material.name,
                because=because,
                limit_days=limit,
                days={codes[n]: d for n, d in days.items()},
                others=rows.codes(_parts_with(ages, used, row.material_id) - used[container].keys()),
                measured={codes[n]: measured[n] for n in days if n in measured},
            )
        )
    return found


def _parts_with(ages: Ages, used: Mapping[int, Mapping[int, datetime]], material: int) -> set[int]:
    return set().union(
        *(uses for container, uses in used.items() if ages.containers[container].material_id == material)
    )


def _days(
    rows: Rows, ages: Ages, container: int, uses: Mapping[int, datetime], part: int
) -> tuple[dict[int, int], int | None, str]:
    """Days open at each use and the opened life where that is what limits this part's use, else days past the date.

    By the limit that was known at this part's use; where it was kept, or there was none, by the one that is known now.
    """
    at = uses[part]
    expiry, life = ages.good_until(container, at), ages.opened_life(container, at)
    by_now = ages.good_until_by_now(container, at)
    if by_now.on is not None and expiry.on is not None and by_now.on < ages.day(at) <= expiry.on:
        expiry, life = by_now, ages.materials[ages.containers[container].material_id].opened_life_days
    if expiry.on is None:
        return {}, None, expiry.because
    if expiry.because == "opened":
        opened = {n: ages.opened_on(container, at) for n, at in uses.items()}
        days = {n: (ages.day(uses[n]) - on).days for n, on in opened.items() if on is not None}
        return days, life, "opened"
    return {n: (ages.day(at) - expiry.on).days for n, at in uses.items()}, 0, expiry.because
