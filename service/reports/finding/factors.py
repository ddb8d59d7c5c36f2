"""What a part shares with the other parts of its time: what they were made of, when, and under which flags."""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from schemas.words import Kind, State
from service.database import each
from service.records.base import instant
from service.records.items import Item
from service.records.lookups import rows_among
from service.reports.finding.given import AgedUse, Factor
from service.reports.finding.rows import Rows
from service.reports.reading.ages import Ages, noun_of
from service.reports.wording import code, day

# The shop's day is told in two halves: whoever works a late shift begins after noon.
_NOON = 12


def made_of(rows: Rows, ages: Ages) -> list[Factor]:
    """Lots, containers, rolls, kits, pots, cures, and the materials themselves."""
    own = things(rows.upstream[rows.root], ages)
    found = [Factor(kind, name, item.code, rows.codes(rows.reached[item.id])) for item, kind, name in own]
    own_materials = {ages.material_of(i.id).name for i, _, _ in own if i.kind == Kind.CONTAINER}
    exposed: dict[str, set[int]] = defaultdict(set)
    for container in ages.containers:
        name = ages.material_of(container).name
        if name in own_materials:
            exposed[name] |= rows.reached[container]
    return [*found, *(Factor("material", name, None, rows.codes(parts)) for name, parts in exposed.items())]


def things(numbers: Collection[int], ages: Ages) -> list[tuple[Item, str, str]]:
    """Those of some items that a part is made of, but for parts: with the kind and the name that they have here."""
    words = {Kind.LOT: "lot", Kind.KIT: "kit", Kind.MIX: "pot", Kind.CURE: "cure", Kind.CONTAINER: "container"}
    found = []
    for item in rows_among(Item, Item.id, numbers):
        if item.kind not in words:
            continue
        kind, name = words[Kind(item.kind)], f"{words[Kind(item.kind)]} {code(item.code)}"
        if item.kind == Kind.CONTAINER:
            noun = noun_of(ages.material_of(item.id))
            kind = "roll" if noun == "roll" else "container"
            name = f"{noun} {code(item.code)}"
        elif item.kind == Kind.LOT:
            name = f"{name}, {item.name}"
        found.append((item, kind, name))
    return found


def when(rows: Rows) -> list[Factor]:
    """The day, the week and the half of the day in which the part was started, if it was."""
    if rows.parts[rows.root].state in (State.PLANNED, State.CANCELLED, State.ABANDONED):
        return []
    zone = ZoneInfo(rows.site.zone)
    begun = {number: instant(part.started_at).astimezone(zone) for number, part in rows.parts.items()}
    at = begun[rows.root]

    def same(what: Callable[[datetime], object]) -> frozenset[str]:
        own = what(at)
        return rows.codes(number for number, begun_at in begun.items() if what(begun_at) == own)

    year, number, _ = at.isocalendar()
    return [
        Factor("day", f"a start on {day(at.date())}", None, same(lambda t: t.date())),
        Factor("week", f"a start in week {number} of {year}", None, same(lambda t: t.isocalendar()[:2])),
        Factor(
            "shift", f"a start {'before' if at.hour < _NOON else 'after'} noon", None, same(lambda t: t.hour < _NOON)
        ),
    ]


# What a failure brings with it is no sign of what led to it.
_FOLLOWS = ("scrap", "rework", "repair", "use-as-is", "out-of-limit", "returned", "done-alone")


def flags(rows: Rows) -> list[Factor]:
    """Any flag of a kind, on the part or on something that it was made of."""
    found: dict[str, set[int]] = defaultdict(set)
    for thing, kind, first in rows.of(
        f"SELECT f.item_id, f.kind, min(f.occurred_at) FROM made {each('flag', 'f', 'f.item_id = made.id')}"
        " GROUP BY f.item_id, f.kind"
    ):
        if kind not in _FOLLOWS and not rows.came_after(thing, first):
            found[kind] |= rows.reached[thing]
    return [Factor("flag", f"the flag “{kind}”", kind, rows.codes(parts)) for kind, parts in found.items()]


def design(rows: Rows) -> list[Factor]:
    name = rows.parts[rows.root].part_number
    same = [p.id for p in rows.parts.values() if p.part_number == name]
    return [Factor("design", f"design {name}", None, rows.codes(same))]


def beyond_the_limit(
    rows: Rows, ages: Ages, used: Mapping[int, Mapping[int, datetime]], aged: Sequence[AgedUse]
) -> list[Factor]:
    """For a material of which this part had a container beyond its limit: the parts that had any such container."""
    own = rows.parts[rows.root].code
    found = []
    for name, noun in dict.fromkeys((a.material, a.noun) for a in aged if own in a.after):
        late: dict[int, set[int]] = defaultdict(set)
        for container, uses in used.items():
            if ages.material_of(container).name != name:
                continue
            for part, at in uses.items():
                until = ages.good_until(container, at).on
                if until is not None and ages.day(at) > until:
                    late[container].add(part)
        if len(late) > 1:
            found.append(Factor("age", f"any {noun} beyond its limit", None, rows.codes(set().union(*late.values()))))
    return found
