"""What a part shares with the other parts of its time, which of them failed, and how old their containers were.

The parts and all that they were made of are tables within each statement; only what tells them apart comes back.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from schemas.defects import DefectKind
from schemas.words import Kind, MovementKind, PartState, State
from service.database import each, each_or_none, rows_of
from service.operations.door.acts import ACTS, called
from service.operations.door.shop import day_in_shop, the_site
from service.operations.ledger.graph import steps
from service.records.base import as_word, instant, microseconds
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Material
from service.records.parts import Part
from service.records.people import Person, Site
from service.reports.finding.suspects import FAILED, AgedUse, Factor, Outcomes
from service.reports.reading.ages import Ages, noun_of
from service.reports.wording import code

WINDOW = timedelta(days=365)
MOST_PARTS = 2000
# Flags that say the same as a container beyond its limit.
_AGE_FLAGS = ("open-too-long", "expired")
# What is worked on: a tool or a person there bears on the part.
_WORKED_ON = (Kind.MIX, Kind.KIT, Kind.CURE, Kind.PART)
_NOT_LOOKED_AT = (State.LAYING, State.LAID_UP, State.CURING, State.CURED)


# The words by which a sister's outcome says that it failed, the same way or another.
FAILED_OUTCOMES = ("failed", "failed otherwise")


@dataclass(frozen=True, slots=True)
class Sister:
    """Another part of the time that is compared, and where it is now.

    Attributes
    ----------
    outcome
        failed, failed otherwise, not yet judged, good.
    """

    code: str
    name: str
    part_number: str
    state: PartState
    place: str | None
    customer: str | None
    started_at: datetime
    outcome: str


@dataclass(frozen=True, slots=True)
class Compared:
    """The parts of a time, what became of them, and what they share."""

    outcomes: Outcomes
    factors: tuple[Factor, ...]
    aged: tuple[AgedUse, ...]
    sisters: dict[str, Sister]
    capped: bool


class _Part(NamedTuple):
    """A part of the time that is compared."""

    id: int
    code: str
    name: str
    state: str
    place: str | None
    customer: str | None
    started_at: int
    released_at: int | None
    part_number: str


@dataclass(frozen=True, slots=True)
class _Rows:
    """The parts that are compared, what each was made of (itself with it), and which of them each thing reaches."""

    site: Site
    root: int
    time: tuple[int, int, int]
    parts: dict[int, _Part]
    upstream: dict[int, set[int]]
    reached: dict[int, set[int]]
    kinds: dict[int, str]

    def codes(self, parts: Iterable[int]) -> frozenset[str]:
        return frozenset(self.parts[p].code for p in parts)

    def of(self, sql: str) -> list[tuple[Any, ...]]:
        """Rows about the parts of the time, the table `parts`, or about all that they were made of, `made`."""
        made = steps("SELECT id FROM parts", back=True, name="made")
        return rows_of(f"WITH RECURSIVE {_OF_THE_TIME}, {made} {sql}", *self.time)


# The newest parts of the time, and the one that is looked at.
_OF_THE_TIME = (
    "parts(id) AS (SELECT item_id FROM (SELECT item_id FROM part WHERE started_at >= ? AND started_at <= ?"
    f" ORDER BY started_at DESC, item_id DESC LIMIT {MOST_PARTS}) newest UNION SELECT CAST(? AS BIGINT))"
)


def compare(part: int, *, at: datetime) -> Compared:
    """Everything that speaks for or against what this part shares, from the parts of the year before it on.

    What it does not share cannot speak for its failure, and is not looked at.
    """
    site = the_site()
    rows, capped = _read(site, part, at)
    outcomes = _outcomes(rows, part, at)
    ages = Ages(site, [thing for thing, kind in rows.kinds.items() if kind == Kind.CONTAINER])
    used = _last_uses(rows, ages)
    factors = [*_made_of(rows, ages), *_made_with(rows), *_week(rows), *_flags(rows), *_design(rows)]
    own = {container for container, uses in used.items() if part in uses}
    aged = _aged(rows, ages, used, own, part)
    if any(rows.parts[part].code in a.after for a in aged):
        factors = [f for f in factors if f.kind != "flag" or f.code not in _AGE_FLAGS]
    return Compared(outcomes, tuple(factors), tuple(aged), _sisters(rows, outcomes), capped)


def _read(site: Site, root: int, at: datetime) -> tuple[_Rows, bool]:
    begun = microseconds(Part.get_by_id(root).started_at - WINDOW)
    time = (begun, microseconds(at), root)
    found = rows_of(
        f"WITH {_OF_THE_TIME} SELECT i.id, i.code, i.name, i.state, a.name, p.customer, p.started_at, p.released_at,"
        f" d.part_number FROM parts {each('part', 'p', 'p.item_id = parts.id')} {each('item', 'i', 'i.id = parts.id')}"
        f" JOIN design d ON d.id = p.design_id {each_or_none('item', 'a', 'a.id = i.place_id')}"
        " ORDER BY p.started_at DESC, i.id DESC",
        *time,
    )
    (of_the_time,) = rows_of("SELECT count(*) FROM part WHERE started_at >= ? AND started_at <= ?", *time[:2])
    rows = _Rows(site, root, time, {row[0]: _Part(*row) for row in found}, defaultdict(set), defaultdict(set), {})
    carried = steps("SELECT id, id FROM parts", back=True, also="root")
    pairs = rows_of(
        f"WITH RECURSIVE {_OF_THE_TIME}, {carried} SELECT r.root, r.id, i.kind FROM reach r"
        f" {each('item', 'i', 'i.id = r.id')}",
        *time,
    )
    for part, thing, kind in pairs:
        rows.upstream[part].add(thing)
        rows.reached[thing].add(part)
        rows.kinds[thing] = kind
    return rows, of_the_time[0] > MOST_PARTS


def _outcomes(rows: _Rows, part: int, at: datetime) -> Outcomes:
    """Failed the same way as this part, good, not yet looked at, or failed in another way (left out)."""
    failed_in = {
        number
        for (number,) in rows.of(
            f"SELECT DISTINCT parts.id FROM parts {each('nonconformance', 'n', 'n.item_id = parts.id')} WHERE n.failed"
        )
    }
    kinds: dict[int, set[str]] = defaultdict(set)
    found = rows.of(
        f"SELECT DISTINCT parts.id, d.kind FROM parts {each('defect', 'd', 'd.part_id = parts.id')}"
        " WHERE NOT d.accepted"
    )
    for number, kind in found:
        if number in failed_in:
            kinds[number].add(kind)
    looked_at = {
        number
        for (number,) in rows.of(
            f"SELECT DISTINCT parts.id FROM parts {each('inspection', 's', 's.part_id = parts.id')}"
        )
    }
    own = kinds[part] if part in failed_in else set()
    failed: set[str] = set()
    good: set[str] = set()
    undecided: set[str] = set()
    otherwise: set[str] = set()
    for number, row in rows.parts.items():
        if number in failed_in:
            same = not own or not kinds[number] or bool(own & kinds[number])
            (failed if same else otherwise).add(row.code)
        elif number in looked_at or row.released_at is not None or row.state not in _NOT_LOOKED_AT:
            good.add(row.code)
        else:
            undecided.add(row.code)
    same_way = [kinds[n] for n in failed_in if rows.parts[n].code in failed]
    soft = bool(same_way) and all(DefectKind.SOFT in k for k in same_way)
    return Outcomes(
        word=str(DefectKind.SOFT) if soft else FAILED,
        failed=frozenset(failed),
        good=frozenset(good),
        undecided=frozenset(undecided),
        otherwise=frozenset(otherwise),
        since=day_in_shop(instant(min(p.started_at for p in rows.parts.values())), rows.site),
        until=day_in_shop(at, rows.site),
    )


def _made_of(rows: _Rows, ages: Ages) -> list[Factor]:
    """Lots, containers, rolls, kits, pots, cures, and the materials themselves."""
    words = {Kind.LOT: "lot", Kind.KIT: "kit", Kind.MIX: "pot", Kind.CURE: "cure", Kind.CONTAINER: "container"}
    own = rows_among(Item, Item.id, rows.upstream[rows.root])
    found = []
    for item in own:
        if item.kind not in words:
            continue
        kind, name = words[Kind(item.kind)], f"{words[Kind(item.kind)]} {code(item.code)}"
        if item.kind == Kind.CONTAINER:
            noun = noun_of(ages.material_of(item.id))
            kind = "roll" if noun == "roll" else "container"
            name = f"{noun} {code(item.code)}"
        elif item.kind == Kind.LOT:
            name = f"{name}, {item.name}"
        found.append(Factor(kind, name, item.code, rows.codes(rows.reached[item.id])))
    own_materials = {ages.material_of(i.id).name for i in own if i.kind == Kind.CONTAINER}
    exposed: dict[str, set[int]] = defaultdict(set)
    for container in ages.containers:
        name = ages.material_of(container).name
        if name in own_materials:
            exposed[name] |= rows.reached[container]
    return [*found, *(Factor("material", name, None, rows.codes(parts)) for name, parts in exposed.items())]


def _made_with(rows: _Rows) -> list[Factor]:
    """Moulds, scales, ovens and gauges; people by what they did; and entries that came late."""
    used: dict[int, set[int]] = defaultdict(set)
    people: dict[tuple[int, str], set[int]] = defaultdict(set)
    late: set[int] = set()
    for thing, tool, person, role in rows.of(
        f"SELECT DISTINCT w.item_id, w.used_id, w.person_id, w.role FROM made"
        f" {each('made_with', 'w', 'w.item_id = made.id')}"
    ):
        if rows.kinds[thing] in _WORKED_ON:
            (used[tool] if tool is not None else people[person, role]).update(rows.reached[thing])
    for thing, person, was_late, operation in rows.of(
        "SELECT DISTINCT m.target_id, d.person_id, d.late, d.operation FROM made"
        f" {each('movement', 'm', 'm.target_id IN (made.id)')} {each('deed', 'd', 'd.id = m.deed_id')}"
        " WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL"
    ):
        if rows.kinds[thing] in _WORKED_ON:
            people[person, ACTS[operation].did or called(operation)].update(rows.reached[thing])
        if was_late:
            late.update(rows.reached[thing])
    words = {Kind.MOULD: "mould", Kind.SCALE: "scale"}
    found = [
        Factor(words.get(Kind(i.kind), "tool"), f"{i.name} ({code(i.code)})", i.code, rows.codes(used[i.id]))
        for i in rows_among(Item, Item.id, [tool for tool, parts in used.items() if rows.root in parts])
    ]
    names = dict(Person.select(Person.id, Person.name).tuples())
    found += [Factor("person", f"{task}, {names[n]}", None, rows.codes(parts)) for (n, task), parts in people.items()]
    return [*found, Factor("flag", "an entry made late", "late", rows.codes(late))]


def _week(rows: _Rows) -> list[Factor]:
    """The week in which the part was started."""

    def week(part: _Part) -> tuple[int, int]:
        year, number, _ = day_in_shop(instant(part.started_at), rows.site).isocalendar()
        return year, number

    year, number = own = week(rows.parts[rows.root])
    same = [p.id for p in rows.parts.values() if week(p) == own]
    return [Factor("week", f"a start in week {number} of {year}", None, rows.codes(same))]


def _flags(rows: _Rows) -> list[Factor]:
    """Any flag of a kind, on the part or on something that it was made of."""
    found: dict[str, set[int]] = defaultdict(set)
    for thing, kind in rows.of(
        f"SELECT DISTINCT f.item_id, f.kind FROM made {each('flag', 'f', 'f.item_id = made.id')}"
    ):
        found[kind] |= rows.reached[thing]
    return [Factor("flag", f"the flag “{kind}”", kind, rows.codes(parts)) for kind, parts in found.items()]


def _design(rows: _Rows) -> list[Factor]:
    name = rows.parts[rows.root].part_number
    same = [p.id for p in rows.parts.values() if p.part_number == name]
    return [Factor("design", f"design {name}", None, rows.codes(same))]


def _last_uses(rows: _Rows, ages: Ages) -> dict[int, dict[int, datetime]]:
    """Container -> part -> when something from it was last taken for that part; a jug's use is its cans' too."""
    takes = (
        MovementKind.POUR,
        MovementKind.ADDITION,
        MovementKind.CUTTING,
        MovementKind.LAYING,
        MovementKind.TREATMENT,
    )
    kinds = ", ".join(f"'{kind}'" for kind in takes)
    found: dict[int, dict[int, datetime]] = defaultdict(dict)
    # The last of several takings is enough: what it had been filled from by then it had been filled from.
    for source, thing, last in rows.of(
        "SELECT m.source_id, m.target_id, max(m.occurred_at) FROM made"
        f" {each('movement', 'm', 'm.target_id IN (made.id)')}"
        f" WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL AND m.kind IN ({kinds})"
        " GROUP BY m.source_id, m.target_id"
    ):
        if source not in ages.containers:
            continue
        at = instant(last)
        for container in ages.ancestors(source, at):
            uses = found[container]
            for part in rows.reached[thing]:
                uses[part] = max(at, uses.get(part, at))
    return found


def _aged(
    rows: _Rows, ages: Ages, used: Mapping[int, Mapping[int, datetime]], own: set[int], part: int
) -> list[AgedUse]:
    """This part's containers that were used beyond their limit for some part, with the age at each use."""
    by_material: dict[int, set[int]] = defaultdict(set)
    for container, uses in used.items():
        by_material[ages.containers[container].material_id] |= uses.keys()
    measured = None
    names = {item.id: item.code for item in rows_among(Item, Item.id, own)}
    found = []
    for container in sorted(own):
        row = ages.containers[container]
        material: Material = ages.materials[row.material_id]
        days, limit, because = _days(rows, ages, container, used[container], part)
        if limit is None or all(d <= limit for d in days.values()):
            continue
        if measured is None:
            measured = _measured(rows)
        codes = {number: rows.parts[number].code for number in used[container]}
        found.append(
            AgedUse(
                code=names[container],
                noun=noun_of(material),
                material=material.name,
                because=because,
                limit_days=limit,
                days={codes[n]: d for n, d in days.items()},
                others=rows.codes(by_material[row.material_id] - used[container].keys()),
                measured={codes[n]: measured[n] for n in days if n in measured},
            )
        )
    return found


def _days(
    rows: _Rows, ages: Ages, container: int, uses: Mapping[int, datetime], part: int
) -> tuple[dict[int, int], int | None, str]:
    """Days open at each use and the opened life where that is what limits this part's use, else days past the date."""
    expiry = ages.good_until(container, uses[part])
    if expiry.on is None:
        return {}, None, expiry.because
    if expiry.because == "opened":
        life = ages.materials[ages.containers[container].material_id].opened_life_days
        opened = {n: ages.opened_on(container, at) for n, at in uses.items()}
        days = {n: (day_in_shop(uses[n], rows.site) - on).days for n, on in opened.items() if on is not None}
        return days, life, "opened"
    return {n: (day_in_shop(at, rows.site) - expiry.on).days for n, at in uses.items()}, 0, expiry.because


def _measured(rows: _Rows) -> dict[int, tuple[float, str]]:
    """The hardness that the last inspection of each part measured, in the unit that most have."""
    found: dict[int, tuple[float, str]] = {}
    for part, measurements in rows.of(
        f"SELECT s.part_id, s.measurements FROM parts {each('inspection', 's', 's.part_id = parts.id')} ORDER BY s.id"
    ):
        for measurement in json.loads(measurements):
            if "hardness" in measurement["name"].casefold():
                unit = measurement.get("unit")
                found[part] = (measurement["value"], " ".join(w for w in (measurement["name"], unit) if w))
    names = [name for _, name in found.values()]
    usual = max(set(names), key=names.count) if names else None
    return {part: (value, name) for part, (value, name) in found.items() if name == usual}


def _sisters(rows: _Rows, outcomes: Outcomes) -> dict[str, Sister]:
    words = (
        (outcomes.failed, "failed"),
        (outcomes.otherwise, "failed otherwise"),
        (outcomes.undecided, "not yet judged"),
    )
    return {
        part.code: Sister(
            code=part.code,
            name=part.name,
            part_number=part.part_number,
            state=as_word(PartState, part.state),
            place=part.place,
            customer=part.customer,
            started_at=instant(part.started_at),
            outcome=next((word for codes, word in words if part.code in codes), "good"),
        )
        for part in rows.parts.values()
    }
