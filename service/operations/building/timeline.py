"""On which day each part is begun, by the moulds of its number and the calendar, before any material is asked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from service.formulas._mould_days import Begun, Job, plan_days
from service.operations.building.forms import Forms, hours_of, local
from service.operations.building.wanted import Line
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class Unit:
    """One part of a line, and the day on which it is begun as far as that is known."""

    line: Line
    part: int
    begun: Begun
    day: int

    @property
    def is_others(self) -> bool:
        """Is it planned for another order, which is not asked about here?"""
        return self.line.number < 0

    @property
    def number(self) -> int | None:
        return None if self.is_others else self.line.number


def plan_units(
    lines: Sequence[Line],
    forms: Mapping[str, Forms],
    *,
    at: datetime,
    site: Site,
    today: date,
    since: Mapping[tuple[int, int], date] | None = None,
) -> list[Unit]:
    """All parts with their days; lines of one part number share its moulds.

    ``since`` has parts that are not begun before a day of their own, by line and part.
    """
    later = since or {}
    now, hours = local(at, site), hours_of(site)
    units: list[Unit] = []
    for name, own in forms.items():
        parts = [
            (line, part) for line in lines if line.design.part_number == name for part in range(1, line.quantity + 1)
        ]
        jobs = [
            Job(
                key,
                max([now, *(datetime.combine(day, time.min) for day in (line.not_before, own_day) if day is not None)]),
                line.due_on,
            )
            for key, (line, part) in enumerate(parts)
            for own_day in (later.get((line.number, part)),)
        ]
        begun = plan_days(jobs, own.usable, hours)
        if begun is None or (not own.usable and own.barred):
            begun = tuple(Begun(job.key, None, None, None, None) for job in jobs)
        for one in begun:
            line, part = parts[one.key]
            first = one.begins or hours.at_work(jobs[one.key].earliest) or now
            units.append(Unit(line, part, one, max(0, (first.date() - today).days)))
    return sorted(units, key=lambda unit: (unit.line.number, unit.part))
