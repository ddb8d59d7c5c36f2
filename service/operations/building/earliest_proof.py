"""Days before which no plan is ready, whatever is begun when: proofs that an earliest day is the earliest."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from schemas.words import MaterialKind
from service.formulas._earliest import most_before
from service.formulas._mould_days import Job, plan_days
from service.formulas._stock import Need
from service.operations.building.earliest_plans import Search
from service.operations.building.forms import local
from service.operations.building.wanted import Line


@dataclass(frozen=True, slots=True)
class Bound:
    """No plan is ready before this day, and why: of what was asked in a line so many cannot be begun before a day."""

    ready: int
    line: Line
    from_day: int = 0
    material: int | None = None
    before: int = 0


def bounds_of(search: Search, line: Line) -> Iterator[Bound]:
    """Days before which no plan of this line alone is ready: by its moulds, and by what there is before each day on
    which more comes."""
    slots = [search.day(one) for one in _slots(search, line, 0, line.quantity)]
    yield Bound(_ready_by_moulds(search, line), line)
    for material, size in search.takes(line).items():
        cut = any(cloth.material.id == material for cloth in search.read.cloths[line.design.id])
        ready = [(line.number, part) in search.read.kits for part in range(1, line.quantity + 1)]
        sizes = [0 if cut and has_kit else size for has_kit in ready]
        stocks = [one.stock for one in search.shelf.of(material)]
        for day in sorted({*(stock.first for stock in stocks if stock.first), search.horizon + 1}):
            if day > search.horizon + 1:
                break
            kept = _surely_kept(search, material)
            before = most_before(day, slots, sizes, kept, stocks, known_lot=line.design.traceable)
            if before < line.quantity:
                yield Bound(_ready_at_least(search, line, day, line.quantity - before), line, day, material, before)


def _surely_kept(search: Search, material: int) -> list[Need]:
    """What is reserved, as far as it can be given."""
    whole = search.read.materials[material].kind == MaterialKind.FABRIC
    matched = search.matcher.match(material, (), search.shelf.of(material), whole=whole)
    return [wish.need for wish in matched.wishes]


def _jobs(search: Search, line: Line, day: int, count: int) -> list[Job]:
    first = search.read.today + timedelta(days=day)
    begin = datetime.combine(max(first, line.not_before or first), datetime.min.time())
    return [Job(key, max(local(search.read.at, search.read.site), begin)) for key in range(count)]


def _slots(search: Search, line: Line, day: int, count: int) -> list[datetime]:
    """The times before which the first, the second and so on cannot be begun, each mould by itself."""
    jobs, forms = _jobs(search, line, day, count), search.read.forms[line.design.part_number].usable
    each = [plan_days(jobs, [form], search.hours) for form in forms] or [plan_days(jobs, [], search.hours)]
    begins = [one.begins for begun in each for one in begun or () if one.begins is not None]
    return sorted(begins)[:count]


def _ready_by_moulds(search: Search, line: Line) -> int:
    """Where all that takes these moulds may begin alike, no plan beats the one that is made; else it is as if
    nothing but this line were made."""
    name, cure = line.design.part_number, search.cures.get(line.design.schedule or "")
    unlike = cure is not None and len({(form.hours, form.wait_min) for form in search.read.forms[name].usable}) > 1
    sharing = {one.not_before for one in (*search.read.lines, *search.read.others) if one.design.part_number == name}
    if len(sharing) > 1 or unlike:
        return _ready_at_least(search, line, 0, line.quantity)
    own = [unit for (number, _), unit in search.as_planned.items() if number == line.number]
    return max(ready for unit in own if (ready := search.ready(unit)) is not None)


def _ready_at_least(search: Search, line: Line, day: int, count: int) -> int:
    """When so many parts that are begun from a day on can all be ready at the earliest, nothing else made here."""
    jobs, forms = _jobs(search, line, day, count), search.read.forms[line.design.part_number].usable
    begun = plan_days(jobs, forms, search.hours) or ()
    found = [search.day(one.out) for one in begun if one.mould is not None and one.out is not None]
    slots, cure = _slots(search, line, day, count), search.cures.get(line.design.schedule or "")
    cured = search.hours.at_work(slots[-1] + cure) if slots and cure else None
    if cured is not None:
        found.append(search.day(cured))
    return max(found, default=day)
