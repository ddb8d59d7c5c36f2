"""The earliest day on which all that is asked is ready: the same plan of moulds and search of the shelf, day after day.

A later day is not always as good: cans pass their dates, opened ones sooner. Counted on are deliveries on their days,
and nothing else that has not come yet.
"""

from collections.abc import Sequence
from datetime import timedelta

from schemas.words import BuildAnswer
from service.formulas._earliest import Planned
from service.operations.building.earliest_plans import OutOfTimeError, Read, Search
from service.operations.building.earliest_proof import Bound, bounds_of
from service.operations.building.timeline import Unit
from service.operations.building.view import BuildDelivery, BuildEarliest
from service.operations.building.wording import told_part


def find_earliest(read: Read, within_days: int, barred: Sequence[str]) -> BuildEarliest:
    """The earliest day, its proof or that there is none, and the plan that keeps it; ``barred`` is what lets none of
    it be begun on any day, as things stand."""
    if barred:
        return _without_a_day(BuildAnswer.NO, within_days, " ".join(dict.fromkeys(barred)), proved=True)
    search = Search(read, within_days)
    if not search.combinations:
        return _without_a_day(BuildAnswer.NO, within_days, " ".join(search.unmixed), proved=True)
    unknown = search.not_known()
    if unknown is not None:
        return _without_a_day(BuildAnswer.NOT_SHOWN, within_days, unknown)
    bound = max((one for line in read.lines for one in bounds_of(search, line)), key=lambda one: one.ready)
    if bound.ready > within_days:
        return _without_a_day(BuildAnswer.NO, within_days, _too_late(bound, read, within_days), proved=True)
    best: tuple[Planned, ...] | None = None
    try:
        for best in search.plans():
            if max(one.ready for one in best) <= bound.ready:
                break
    except OutOfTimeError:
        pass
    if best is None:
        said = f"No day within {within_days} days was found on which all is ready, and none was ruled out."
        return _without_a_day(BuildAnswer.NOT_SHOWN, within_days, said)
    return _told(read, search, best, bound, within_days)


def _without_a_day(answer: BuildAnswer, within_days: int, said: str, *, proved: bool = False) -> BuildEarliest:
    return BuildEarliest(answer, None, proved, within_days, (), (), said)


def _told(read: Read, search: Search, best: Sequence[Planned], bound: Bound, within_days: int) -> BuildEarliest:
    ready = max(one.ready for one in best)
    proved = ready <= bound.ready
    own = sorted(search.made[tuple(best)], key=lambda unit: (unit.line.number, unit.part))
    deliveries = _deliveries(read, search, own)
    on = read.today + timedelta(days=ready)
    what = "All is" if len(own) > 1 else "It is"
    because = _why(bound, read) if proved else "Whether an earlier day would do was not shown."
    return BuildEarliest(
        answer=BuildAnswer.YES_IF if deliveries else BuildAnswer.YES,
        ready_on=on,
        proved=proved,
        within_days=within_days,
        deliveries=tuple(deliveries),
        parts=tuple(told_part(unit, read.kits.get((unit.line.number, unit.part)), read.site) for unit in own),
        sentence=" ".join([f"{what} ready on {on:%-d %b %Y}.", because, *(one.sentence for one in deliveries)]),
    )


def _deliveries(read: Read, search: Search, own: Sequence[Unit]) -> list[BuildDelivery]:
    search.until = float("inf")
    drawn = search.drawn(own, search.views[-1]) or {}
    found: dict[tuple[int, str], BuildDelivery] = {}
    for material, matched in drawn.items():
        for draw in matched.found.draws:
            said = search.coming[material][draw.stock]
            if said is None or matched.wishes[draw.need].line is None:
                continue
            on = read.today + timedelta(days=search.shelf.of(material)[draw.stock].stock.first)
            found[material, said] = BuildDelivery(material, read.materials[material].name, on, said)
    return sorted(found.values(), key=lambda one: (one.expected_on, one.material, one.sentence))


def _why(bound: Bound, read: Read) -> str:
    if bound.material is None:
        name = bound.line.design.part_number
        return f"By the moulds of {name}, its cure and the calendar no earlier day is possible."
    return f"No earlier day is possible: {_enough_for(bound, bound.material, read)}."


def _enough_for(bound: Bound, material: int, read: Read) -> str:
    day = read.today + timedelta(days=bound.from_day)
    return (
        f"the {read.materials[material].name} that is there before {day:%-d %b %Y} is enough for {bound.before} of "
        f"{bound.line.quantity} {bound.line.design.part_number}"
    )


def _too_late(bound: Bound, read: Read, within_days: int) -> str:
    name = bound.line.design.part_number
    if bound.material is None:
        return f"Not within {within_days} days: the moulds of {name}, its cure and the calendar give no earlier day."
    return f"Not within {within_days} days: {_enough_for(bound, bound.material, read)}, with all that is expected."
