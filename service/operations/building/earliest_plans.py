"""Plans of what is asked: the days of its parts by moulds and calendar, and whether the shelf has enough on these days,
every delivery there on its day.

What other orders take first they take on the days that their moulds give, and beside that on the first days on which
there is enough for them, deliveries too.
"""

import time as clock
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import islice, product
from typing import Any

from schemas.words import BuildConditionKind
from service.formulas._earliest import Planned, as_many_as_can, plans
from service.formulas._stock import Outcome
from service.operations.building.forms import Forms, hours_of
from service.operations.building.matching import Matched, Matcher, Wish
from service.operations.building.mixing import MOST_WAYS, cuts_of, tried_by
from service.operations.building.recipes import Bench, Pots, Way, pots_for
from service.operations.building.timeline import Unit, plan_units
from service.operations.building.wanted import Line
from service.operations.stock.shelf import Shelf
from service.records.materials import Material
from service.records.people import Site

SOLVER_S = 0.5
"""So long the solver may look at one material on one plan."""
LONGEST_S = 6.0
"""So long is looked for an earlier day; then the best that was found is told, and that none is shown."""
_AS_OWN = 10_000
"""Lines of others are asked by numbers from here on, where they are asked as if they were what is wanted."""


@dataclass(frozen=True)
class Read:
    """What a build check has read, as it asks about it."""

    lines: Sequence[Line]
    others: Sequence[Line]
    forms: Mapping[str, Forms]
    cloths: Mapping[int, Any]
    ways: Mapping[str, Sequence[Way]]
    bench: Bench
    shelf: Shelf
    materials: Mapping[int, Material]
    reserved: Mapping[int, Sequence[Wish]]
    kits: Mapping[tuple[int, int], str]
    cures: Mapping[str, timedelta]
    at: datetime
    site: Site
    today: date


class OutOfTimeError(Exception):
    """Nothing more is looked for."""


class Search:
    """Plans of what was read, and whether the shelf has enough for them, every delivery there on its day."""

    def __init__(self, read: Read, within_days: int) -> None:
        self.read = read
        self.horizon = within_days
        self.hours = hours_of(read.site)
        self.shelf, self.coming = _as_it_comes(read.shelf)
        self.cures = read.cures
        self.matcher = Matcher(SOLVER_S, read.reserved)
        self.until = clock.monotonic() + LONGEST_S
        self.own = [(line, part) for line in read.lines for part in range(1, line.quantity + 1)]
        self.kits = dict(read.kits) | {(_AS_OWN - n, part): kit for (n, part), kit in read.kits.items() if n < 0}
        self.made: dict[tuple[Planned, ...], list[Unit]] = {}
        self.combinations, self.unmixed = self._combinations()

    def _combinations(self) -> tuple[list[dict[str, Way]], list[str]]:
        """The ways to mix all that is asked, without another hardener and without a permit; or why there are none."""
        own = {need["system"] for line in self.read.lines for need in line.design.resin_need}
        ways = {name: _as_it_is(some) for name, some in self.read.ways.items()}
        ways = {name: some for name, some in ways.items() if some or name in own}
        found, against = (
            [],
            [f"{name} is mixed with none of the hardeners that were named." for name, some in ways.items() if not some],
        )
        for some in islice(product(*ways.values()), MOST_WAYS):
            way = dict(zip(ways, some, strict=True))
            needs = {
                (n["system"], round(n["mass_g"] * 1000)) for line in self.read.lines for n in line.design.resin_need
            }
            wrong = [
                pots for name, mass in needs if isinstance(pots := pots_for(mass, way[name], self.read.bench), str)
            ]
            against += wrong
            if not wrong:
                found.append(way)
        return found, sorted(set(against))

    # The days.

    def units(self, earliest: Sequence[int] | None = None) -> list[Unit]:
        """All parts with their days, those of others by their moulds."""
        since = {
            (line.number, part): self.read.today + timedelta(days=day)
            for (line, part), day in zip(self.own, earliest or (), strict=False)
        }
        read = self.read
        lines = [*read.others, *read.lines]
        return plan_units(lines, read.forms, at=read.at, site=read.site, today=read.today, since=since)

    def plan(self, earliest: Sequence[int]) -> list[Planned] | None:
        own = {(unit.line.number, unit.part): unit for unit in self.units(earliest) if not unit.is_others}
        found = []
        for line, part in self.own:
            unit = own[line.number, part]
            ready = self.ready(unit)
            if ready is None:
                return None
            found.append(Planned(unit.day, ready))
        self.made[tuple(found)] = list(own.values())
        return found

    def ready(self, unit: Unit) -> int | None:
        begun = unit.begun
        if begun.begins is None or (begun.mould is not None and begun.out is None):
            return None
        cure = self.cures.get(unit.line.design.schedule or "")
        ends = [one for one in (begun.out if begun.mould is not None else None, cure and begun.begins + cure) if one]
        at_work = self.hours.at_work(max(ends)) if ends else None
        return None if at_work is None else self.day(at_work)

    def day(self, at: datetime) -> int:
        return (at.date() - self.read.today).days

    def not_known(self) -> str | None:
        """Why no day can be told, however much there is."""
        for unit in self.units():
            if unit.is_others or self.ready(unit) is not None:
                continue
            name = unit.line.design.part_number
            if unit.begun.begins is None and not self.read.forms[name].no_hours:
                return "The shop does not open again by its calendar."
            if self.read.forms[name].no_hours or unit.begun.mould is not None:
                return f"How long a part of {name} takes its mould is not known: set its hours, or those of the shop."
            return (
                f"When a part of {name} is ready is not known: it has no mould here, and its design names no approved "
                "cure schedule."
            )
        return None

    # The stock.

    def plans(self) -> Iterator[tuple[Planned, ...]]:
        shift = any(one.stock.life is not None for some in self.shelf.by_material.values() for one in some)
        groups = [line.number for line, _ in self.own]
        return plans(groups, self.plan, self._fits, self._arrival, horizon=self.horizon, shift=shift)

    def _fits(self, begun: Sequence[tuple[int, int]]) -> bool:
        own = [self._unit(number, day) for number, day in begun]
        return all(self.drawn(own, others) is not None for others in self.views)

    def _unit(self, number: int, day: int) -> Unit:
        line, part = self.own[number]
        return replace(self.as_planned[line.number, part], day=day)

    @cached_property
    def as_planned(self) -> dict[tuple[int, int], Unit]:
        return {(unit.line.number, unit.part): unit for unit in self.units()}

    @cached_property
    def views(self) -> list[list[Unit]]:
        """What others take: by their moulds alone, and where that is too early for some, when there is enough."""
        others = [unit for unit in self.as_planned.values() if unit.is_others]
        waiting = [unit for unit in others if not unit.line.reserved]
        if not waiting:
            return [others]
        own = [replace(unit, line=replace(unit.line, number=_AS_OWN - unit.line.number)) for unit in waiting]

        def plan(earliest: Sequence[int]) -> list[Planned]:
            return [Planned(max(unit.day, day), 0) for unit, day in zip(own, earliest, strict=True)]

        def fits(begun: Sequence[tuple[int, int]]) -> bool:
            return self.drawn([replace(own[number], day=day) for number, day in begun], ()) is not None

        def arrival(number: int, day: int) -> int | None:
            return self._next_arrival(own[number].line, day)

        groups = [unit.line.number for unit in own]
        days = as_many_as_can(groups, plan, fits, arrival, horizon=self.horizon)
        if all(days.get(number) == unit.day for number, unit in enumerate(waiting)):
            return [others]
        later = {
            (unit.line.number, unit.part): replace(unit, day=days.get(number, unit.day))
            for number, unit in enumerate(waiting)
        }
        return [others, [later.get((unit.line.number, unit.part), unit) for unit in others]]

    def drawn(self, own: Sequence[Unit], others: Sequence[Unit]) -> dict[int, Matched] | None:
        """What these parts draw, if there is a way to mix for which there is enough."""
        if clock.monotonic() > self.until:
            raise OutOfTimeError
        units = [*others, *own]
        uncut = [unit for unit in units if (unit.line.number, unit.part) not in self.kits]
        cut = {}
        for number, some in cuts_of(uncut, self.read.cloths).items():
            cut[number] = self.matcher.match_cloth(some, self.shelf.of(number))
            if cut[number].found.outcome != Outcome.YES:
                return None
        for ways in self.combinations:
            tried = tried_by(ways, units, self.read.bench, self.shelf, self.matcher)
            if not tried.against and all(one.found.outcome == Outcome.YES for one in tried.matched.values()):
                return {**tried.matched, **cut}
        return None

    def _arrival(self, number: int, day: int) -> int | None:
        return self._next_arrival(self.own[number][0], day)

    def _next_arrival(self, line: Line, day: int) -> int | None:
        firsts = (one.stock.first for m in self.takes(line) for one in self.shelf.of(m))
        return min((first for first in firsts if first > day), default=None)

    def takes(self, line: Line) -> dict[int, int]:
        """What a part of a line takes at the least of each material, whichever way it is mixed."""
        found: dict[int, int] = {cloth.material.id: _least_cloth(cloth) for cloth in self.read.cloths[line.design.id]}
        masses: list[dict[int, int]] = []
        for ways in self.combinations:
            own: dict[int, int] = {}
            for need in line.design.resin_need:
                way = ways.get(need["system"])
                pots = pots_for(round(need["mass_g"] * 1000), way, self.read.bench) if way is not None else None
                if isinstance(pots, Pots):
                    for one in pots.components:
                        own[one.material] = own.get(one.material, 0) + one.mass_mg * pots.count
            masses.append(own)
        for material in {number for own in masses for number in own}:
            found[material] = min(own.get(material, 0) for own in masses)
        return found


def _as_it_is(ways: Iterable[Way]) -> list[Way]:
    """The ways to mix that ask for nothing but a scale that is checked."""
    return [way for way in ways if all(kind == BuildConditionKind.SCALE_CHECK for kind, _ in way.conditions)]


def _least_cloth(cloth: Any) -> int:
    least: int = max(cloth.area_mm, sum(cloth.strips_mm) if cloth.strips_alone else 0)
    return least


def _as_it_comes(shelf: Shelf) -> tuple[Shelf, dict[int, list[str | None]]]:
    """The shelf with every delivery there on its day and nothing else that has to come true; and what each thing on it
    is said to be, if it is a delivery."""
    found: dict[int, list[Any]] = {}
    said: dict[int, list[str | None]] = {}
    for material, things in shelf.by_material.items():
        for thing in things:
            delivery = next(
                (key for key in thing.stock.needs if key.startswith(f"{BuildConditionKind.DELIVERY}/")), None
            )
            if thing.stock.needs and delivery is None:
                continue
            found.setdefault(material, []).append(replace(thing, stock=replace(thing.stock, needs=(), beyond=None)))
            said.setdefault(material, []).append(None if delivery is None else shelf.sentences[delivery])
    return Shelf(found, shelf.sentences), said
