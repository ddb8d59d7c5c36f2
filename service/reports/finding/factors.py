"""What the parts of a time share, read in bulk: one closure over all of them, and one look at each kind of row."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from schemas.words import DefectKind, Kind, MovementKind, State
from service.operations.door.shop import day_in_shop, the_site
from service.operations.ledger.graph import closure
from service.records.base import known
from service.records.items import Flag, Item, MadeWith, Movement
from service.records.journal import Deed
from service.records.materials import Material
from service.records.parts import Defect, Design, Inspection, Nonconformance, Part
from service.records.people import Person, Site
from service.reports.finding.suspects import FAILED, AgedUse, Factor, Outcomes
from service.reports.reading.ages import Ages, noun_of
from service.reports.wording import code

WINDOW = timedelta(days=365)
MOST_PARTS = 2000
# Flags that say the same as a container beyond its limit.
_AGE_FLAGS = ("open-too-long", "expired")
_NOT_LOOKED_AT = (State.LAYING, State.LAID_UP, State.CURING, State.CURED)


# The words by which a sister's outcome says that it failed, the same way or another.
FAILED_OUTCOMES = ("failed", "failed otherwise")


@dataclass(frozen=True, slots=True)
class Sister:
    """Another part of the time that is compared, and where it is now."""

    code: str
    name: str
    part_number: str
    state: str
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


@dataclass(frozen=True, slots=True)
class _Rows:
    """The parts that are compared and everything upstream of them."""

    site: Site
    parts: dict[int, Part]
    items: dict[int, Item]
    upstream: dict[int, set[int]]
    movements: list[Any]


def compare(part: int, *, at: datetime) -> Compared:
    """Everything that speaks for or against what this part shares, from the parts of the year before it on."""
    site = the_site()
    parts, capped = _parts_of_the_time(part, at)
    rows = _read(site, parts)
    outcomes = _outcomes(rows, part, at)
    ages = Ages(site, [i.id for i in rows.items.values() if i.kind == Kind.CONTAINER])
    used = _last_uses(rows, ages)
    factors = [*_made_of(rows, ages), *_made_with(rows), *_people_and_time(rows), *_flags(rows), *_designs(rows)]
    own = {container for container, uses in used.items() if part in uses}
    aged = _aged(rows, ages, used, own, part)
    if any(rows.items[part].code in a.after for a in aged):
        factors = [f for f in factors if f.kind != "flag" or f.code not in _AGE_FLAGS]
    return Compared(outcomes, tuple(factors), tuple(aged), _sisters(rows, outcomes), capped)


def _parts_of_the_time(part: int, at: datetime) -> tuple[dict[int, Part], bool]:
    row = Part.get_by_id(part)
    query = (
        Part.select(Part, Design)
        .join(Design)
        .where((Part.started_at >= row.started_at - WINDOW) & (Part.started_at <= at))
        .order_by(Part.started_at.desc())
        .limit(MOST_PARTS + 1)
    )
    found = {p.item_id: p for p in query}
    capped = len(found) > MOST_PARTS
    if capped:
        found.popitem()
    found.setdefault(part, row)
    return found, capped


def _read(site: Site, parts: dict[int, Part]) -> _Rows:
    upstream = closure(parts, back=True)
    every = set(parts).union(*upstream.values())
    movements = (
        Movement.select(Movement.source, Movement.target, Movement.kind, Movement.occurred_at, Deed.person, Deed.late)
        .join(Deed, on=(Movement.deed == Deed.id))
        .where(Movement.target.in_(every) & Movement.source.is_null(False) & Movement.cancelled_by.is_null())
        .order_by(Movement.occurred_at)
        .objects()
    )
    items = Item.select(Item.id, Item.code, Item.kind, Item.name, Item.state, Item.place).where(Item.id.in_(every))
    return _Rows(site, parts, {i.id: i for i in items}, upstream, list(movements))


def _outcomes(rows: _Rows, part: int, at: datetime) -> Outcomes:
    """Failed the same way as this part, good, not yet looked at, or failed in another way (left out)."""
    ids = list(rows.parts)
    failed_in: dict[int, set[int]] = defaultdict(set)
    for failure in Nonconformance.select(Nonconformance.id, Nonconformance.item).where(
        Nonconformance.item.in_(ids) & (Nonconformance.failed == True)  # noqa: E712
    ):
        failed_in[failure.item_id].add(failure.id)
    kinds: dict[int, set[str]] = defaultdict(set)
    found = Defect.select(Defect.part, Defect.kind).where(Defect.part.in_(list(failed_in)))
    for defect in found.where(Defect.accepted == False):  # noqa: E712
        kinds[defect.part_id].add(defect.kind)
    looked_at = {r.part_id for r in Inspection.select(Inspection.part).where(Inspection.part.in_(ids)).distinct()}
    own = kinds[part] if part in failed_in else set()
    failed: set[str] = set()
    good: set[str] = set()
    undecided: set[str] = set()
    otherwise: set[str] = set()
    for number, row in rows.parts.items():
        named = rows.items[number].code
        if number in failed_in:
            same = not own or not kinds[number] or bool(own & kinds[number])
            (failed if same else otherwise).add(named)
        elif number in looked_at or row.released_at is not None or rows.items[number].state not in _NOT_LOOKED_AT:
            good.add(named)
        else:
            undecided.add(named)
    same_way = [kinds[n] for n in failed_in if rows.items[n].code in failed]
    soft = bool(same_way) and all(DefectKind.SOFT in k for k in same_way)
    started = [p.started_at for p in rows.parts.values()]
    return Outcomes(
        word=str(DefectKind.SOFT) if soft else FAILED,
        failed=frozenset(failed),
        good=frozenset(good),
        undecided=frozenset(undecided),
        otherwise=frozenset(otherwise),
        since=day_in_shop(min(started), rows.site),
        until=day_in_shop(at, rows.site),
    )


def _exposed(rows: _Rows, things: Iterable[int]) -> dict[int, set[str]]:
    wanted = set(things)
    found: dict[int, set[str]] = defaultdict(set)
    for part, upstream in rows.upstream.items():
        for thing in upstream & wanted:
            found[thing].add(rows.items[part].code)
    return found


def _made_of(rows: _Rows, ages: Ages) -> list[Factor]:
    """Lots, containers, rolls, kits, pots, cures, and the materials themselves."""
    words = {Kind.LOT: "lot", Kind.KIT: "kit", Kind.MIX: "pot", Kind.CURE: "cure", Kind.CONTAINER: "container"}
    exposed = _exposed(rows, [i.id for i in rows.items.values() if i.kind in words])
    found = []
    materials: dict[str, set[str]] = defaultdict(set)
    for thing, parts in exposed.items():
        item = rows.items[thing]
        kind, name = words[Kind(item.kind)], f"{words[Kind(item.kind)]} {code(item.code)}"
        if item.kind == Kind.CONTAINER:
            material = ages.materials[ages.containers[thing].material_id]
            noun = noun_of(material)
            kind = "roll" if noun == "roll" else "container"
            name = f"{noun} {code(item.code)}"
            materials[material.name] |= parts
        elif item.kind == Kind.LOT:
            name = f"{name}, {item.name}"
        found.append(Factor(kind, name, item.code, frozenset(parts)))
    found += [Factor("material", name, None, frozenset(parts)) for name, parts in materials.items()]
    return found


def _made_with(rows: _Rows) -> list[Factor]:
    """Moulds, scales, ovens and gauges; and people by name."""
    reached: dict[int, set[int]] = defaultdict(set)
    for part, upstream in rows.upstream.items():
        reached[part].add(part)
        for thing in upstream:
            if rows.items[thing].kind in (Kind.MIX, Kind.KIT, Kind.CURE, Kind.PART):
                reached[thing].add(part)
    used: dict[int, set[str]] = defaultdict(set)
    people: dict[int, set[str]] = defaultdict(set)
    for row in MadeWith.select(MadeWith.item, MadeWith.used, MadeWith.person).where(MadeWith.item.in_(list(reached))):
        codes = {rows.items[p].code for p in reached[row.item_id]}
        (used[row.used_id] if row.used_id is not None else people[known(row.person_id)]).update(codes)
    words = {Kind.MOULD: "mould", Kind.SCALE: "scale"}
    items = Item.select(Item.id, Item.code, Item.kind, Item.name).where(Item.id.in_(list(used)))
    found = [
        Factor(words.get(Kind(i.kind), "tool"), f"{i.name} ({code(i.code)})", i.code, frozenset(used[i.id]))
        for i in items
    ]
    for movement in rows.movements:
        if movement.target_id in reached:
            people[movement.person].update(rows.items[p].code for p in reached[movement.target_id])
    names = dict(Person.select(Person.id, Person.name).tuples())
    found += [
        Factor("person", f"{names[n]} at work", None, frozenset(parts)) for n, parts in people.items() if n in names
    ]
    return found


def _people_and_time(rows: _Rows) -> list[Factor]:
    """The week in which a part was started, and entries that came late."""
    weeks: dict[str, set[str]] = defaultdict(set)
    late: set[str] = set()
    for number, row in rows.parts.items():
        year, week, _ = day_in_shop(row.started_at, rows.site).isocalendar()
        weeks[f"a start in week {week} of {year}"].add(rows.items[number].code)
    late_targets = {m.target_id for m in rows.movements if m.late}
    for number, upstream in rows.upstream.items():
        if late_targets & (upstream | {number}):
            late.add(rows.items[number].code)
    found = [Factor("week", name, None, frozenset(parts)) for name, parts in weeks.items()]
    return [*found, Factor("flag", "an entry made late", "late", frozenset(late))]


def _flags(rows: _Rows) -> list[Factor]:
    """Any flag of a kind, on the part or on something that it was made of."""
    on: dict[int, set[str]] = defaultdict(set)
    for row in Flag.select(Flag.item, Flag.kind).where(Flag.item.in_(list(rows.items))):
        on[row.item_id].add(row.kind)
    found: dict[str, set[str]] = defaultdict(set)
    for number, upstream in rows.upstream.items():
        for thing in (upstream | {number}) & on.keys():
            for kind in on[thing]:
                found[kind].add(rows.items[number].code)
    return [Factor("flag", f"the flag “{kind}”", kind, frozenset(parts)) for kind, parts in found.items()]


def _designs(rows: _Rows) -> list[Factor]:
    found: dict[str, set[str]] = defaultdict(set)
    for number, row in rows.parts.items():
        found[row.design.part_number].add(rows.items[number].code)
    return [Factor("design", f"design {name}", None, frozenset(parts)) for name, parts in found.items()]


def _last_uses(rows: _Rows, ages: Ages) -> dict[int, dict[int, datetime]]:
    """Container -> part -> when something from it was last taken for that part; a jug's use is its cans' too."""
    takes = {
        MovementKind.POUR,
        MovementKind.ADDITION,
        MovementKind.CUTTING,
        MovementKind.LAYING,
        MovementKind.TREATMENT,
    }
    taken: dict[int, list[tuple[int, datetime]]] = defaultdict(list)
    for m in rows.movements:
        if m.kind in takes and m.source_id in ages.containers:
            for container in ages.ancestors(m.source_id, m.occurred_at):
                taken[m.target_id].append((container, m.occurred_at))
    found: dict[int, dict[int, datetime]] = defaultdict(dict)
    for part, upstream in rows.upstream.items():
        for thing in taken.keys() & (upstream | {part}):
            for container, at in taken[thing]:
                found[container][part] = max(at, found[container].get(part, at))
    return found


def _aged(
    rows: _Rows, ages: Ages, used: Mapping[int, Mapping[int, datetime]], own: set[int], part: int
) -> list[AgedUse]:
    """This part's containers that were used beyond their limit for some part, with the age at each use."""
    by_material: dict[int, set[int]] = defaultdict(set)
    for container, uses in used.items():
        by_material[ages.containers[container].material_id] |= uses.keys()
    measured = None
    found = []
    for container in sorted(own):
        row = ages.containers[container]
        material: Material = ages.materials[row.material_id]
        days, limit, because = _days(rows, ages, container, used[container], part)
        if limit is None or all(d <= limit for d in days.values()):
            continue
        if measured is None:
            measured = _measured(rows)
        codes = {number: rows.items[number].code for number in used[container]}
        found.append(
            AgedUse(
                code=rows.items[container].code,
                noun=noun_of(material),
                material=material.name,
                because=because,
                limit_days=limit,
                days={codes[n]: d for n, d in days.items()},
                others=frozenset(rows.items[n].code for n in by_material[row.material_id] - used[container].keys()),
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
    rows_read = Inspection.select(Inspection.part, Inspection.measurements)
    for row in rows_read.where(Inspection.part.in_(list(rows.parts))).order_by(Inspection.id):
        for measurement in row.measurements:
            if "hardness" in measurement["name"].casefold():
                unit = measurement.get("unit")
                found[row.part_id] = (measurement["value"], " ".join(w for w in (measurement["name"], unit) if w))
    names = [name for _, name in found.values()]
    usual = max(set(names), key=names.count) if names else None
    return {part: (value, name) for part, (value, name) in found.items() if name == usual}


def _sisters(rows: _Rows, outcomes: Outcomes) -> dict[str, Sister]:
    places = dict(Item.select(Item.id, Item.name).where(
        Item.id.in_({rows.items[n].place_id for n in rows.parts if rows.items[n].place_id})).tuples())  # fmt: skip
    words = (
        (outcomes.failed, "failed"),
        (outcomes.otherwise, "failed otherwise"),
        (outcomes.undecided, "not yet judged"),
    )
    found = {}
    for number, row in rows.parts.items():
        item = rows.items[number]
        found[item.code] = Sister(
            code=item.code,
            name=item.name,
            part_number=row.design.part_number,
            state=item.state,
            place=places.get(item.place_id),
            customer=row.customer,
            started_at=row.started_at,
            outcome=next((word for codes, word in words if item.code in codes), "good"),
        )
    return found
