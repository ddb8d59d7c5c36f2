"""Cure schedules: what a cure has to reach, stage by stage, and what has to prove it.

A schedule is changed as long as it is a draft. Approved, it is locked and frozen; the next revision replaces it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Annotated, Any, cast

from peewee import JOIN

from schemas.words import Evidence, Measure
from service.formulas.pressure_bands import PressureBand
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable
from service.operations.door.revisions import Revisions, approver_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger.documents import freeze
from service.operations.ledger.second import require_other_than_author
from service.records.base import as_word, known
from service.records.cures import Schedule
from service.records.people import Person

# A thermometer's minimum and maximum, or a person's word, tell nothing about when it was warm or how fast it grew so.
_WITHOUT_A_LOG = (Evidence.MINIMUM_MAXIMUM, Evidence.DECLARED)

# An interval between samples is at most one part in so many of an oven's cycle; common practice, no source.
CYCLE_SHARE = 4


SCHEDULES = Revisions(
    Schedule,
    "schedule",
    title=lambda row: f"Revision {row.revision} of {row.name}",
    way_on="Add a schedule of the same name: that is its next revision.",
)


@dataclass(frozen=True, slots=True)
class AskedPressure:
    """A band of vacuum or pressure.

    Attributes
    ----------
    measure
        vacuum: below the pressure of the air; pressure: above it; absolute: from zero.
    from_stage
        From the first moment in that stage's band; nothing: from the start of the cure.
    until_stage
        To the last moment in that stage's band; nothing: to the end of the cure.
    """

    measure: Measure
    low_mbar: float | None
    high_mbar: float | None
    from_stage: str | None = None
    until_stage: str | None = None

    @property
    def band(self) -> PressureBand:
        return PressureBand(cast(Any, str(self.measure)), self.low_mbar, self.high_mbar)


@dataclass(frozen=True, slots=True)
class ScheduleView:
    """A cure schedule in one of its revisions.

    Attributes
    ----------
    document
        The frozen schedule.
    """

    id: int
    name: str
    revision_number: int
    source: str
    stages: tuple[Stage, ...]
    pressures: tuple[AskedPressure, ...]
    longest_interval_min: float
    oven_cycle_min: float | None
    evidence: Evidence
    start_within_min: int | None
    demould_below_c: float | None
    approved: bool
    approved_at: datetime | None
    approved_by: str | None
    document: int | None
    version: int


@operation
def add_schedule(
    work: Work,
    *,
    name: str,
    source: str,
    stages: Sequence[Mapping[str, Any]],
    longest_interval_min: float,
    evidence: Evidence,
    pressures: Sequence[Mapping[str, Any]] = (),
    oven_cycle_min: float | None = None,
    start_within_min: int | None = None,
    demould_below_c: float | None = None,
) -> ScheduleView:
    """Add a cure schedule as a draft. The same name makes the next revision of it."""
    kept = _checked(stages, evidence)
    bands = _checked_pressures(pressures, kept, evidence)
    _require_often_enough(longest_interval_min, oven_cycle_min)
    revision = SCHEDULES.next_number(name)
    row = Schedule.create(
        name=name,
        revision=revision,
        source=source,
        stages=kept,
        pressures=bands,
        longest_interval_min=longest_interval_min,
        oven_cycle_min=oven_cycle_min,
        evidence=evidence,
        start_within_min=start_within_min,
        demould_below_c=demould_below_c,
        authors=SCHEDULES.written_by(work),
    )
    work.note(schedule=row.id, name=name, revision=row.revision)
    return view_schedule(row)


@operation
def change_schedule(work: Work, *, schedule: int, version: int, **changes: Annotated[Any, Schedule]) -> ScheduleView:
    """Change a schedule that is still a draft."""
    row = SCHEDULES.draft(schedule, version=version)
    stages = changes.get("stages", row.stages)
    kept = _checked(stages, Evidence(changes.get("evidence", row.evidence)))
    bands = _checked_pressures(
        changes.get("pressures", row.pressures), kept, Evidence(changes.get("evidence", row.evidence))
    )
    _require_often_enough(*(changes.get(n, getattr(row, n)) for n in ("longest_interval_min", "oven_cycle_min")))
    if "stages" in changes:
        changes["stages"] = kept
    if "pressures" in changes:
        changes["pressures"] = bands
    return view_schedule(SCHEDULES.change(work, row, changes))


@operation
def approve_schedule(work: Work, *, schedule: int) -> ScheduleView:
    """Approve a schedule: it is locked and frozen, and replaces the revision before it for new cures."""
    row = SCHEDULES.draft(schedule)
    alone = require_other_than_author(work, row, SCHEDULES.title(row))
    facts = {
        "name": row.name,
        "revision": row.revision,
        "source": row.source,
        "stages": row.stages,
        "pressures": row.pressures,
        "longest_interval_min": row.longest_interval_min,
        "oven_cycle_min": row.oven_cycle_min,
        "evidence": row.evidence,
        "start_within_min": row.start_within_min,
        "demould_below_c": row.demould_below_c,
    }
    frozen = freeze(work, f"schedule {row.name} revision {row.revision}", facts)
    return view_schedule(SCHEDULES.approve(work, row, frozen, alone=alone))


def _checked(stages: Sequence[Mapping[str, Any]], evidence: Evidence) -> list[dict[str, Any]]:
    """The stages as they are kept, every field there, or a refusal that points at the one that does not hold."""
    kept: list[Stage] = []
    for place, given in enumerate(stages):
        try:
            kept.append(Stage(**given))
        except OutOfRange as wrong:
            raise Unprocessable(
                f"Stage {given.get('name')}: {wrong}", pointer=f"/stages/{place}/{wrong.argument}"
            ) from None
        if [stage.name for stage in kept].count(kept[-1].name) > 1:
            raise Unprocessable(f"Two stages are called {kept[-1].name}.", pointer=f"/stages/{place}/name")
    if evidence in _WITHOUT_A_LOG:
        _refuse_beyond_one_band(kept, evidence)
    return [asdict(stage) for stage in kept]


def _require_often_enough(longest_interval_min: float, oven_cycle_min: float | None) -> None:
    """Samples four to a cycle show how hot and how cold a part was that follows its oven (shop rule 35)."""
    if oven_cycle_min is not None and longest_interval_min > oven_cycle_min / CYCLE_SHARE:
        raise Unprocessable(
            f"Parts that follow an oven's cycle of {oven_cycle_min:g} min are seen by samples at most "
            f"{oven_cycle_min / CYCLE_SHARE:g} min apart.",
            way_out="Give a shorter interval, and set the logger by it; or leave out the cycle if the parts are too "
            "thick to follow it.",
            pointer="/longest_interval_min",
        )


def _checked_pressures(
    given: Sequence[Mapping[str, Any]], stages: Sequence[Mapping[str, Any]], evidence: Evidence
) -> list[dict[str, Any]]:
    """The bands as they are kept; each begins and ends with a stage that there is, in this order."""
    kept = [AskedPressure(**{**band, "measure": Measure(band["measure"])}) for band in given]
    names = [stage["name"] for stage in stages]
    for place, asked in enumerate(kept):
        try:
            _ = asked.band
        except OutOfRange as wrong:
            raise Unprocessable(str(wrong), pointer=f"/pressures/{place}/{wrong.argument}") from None
        for field, name in (("from_stage", asked.from_stage), ("until_stage", asked.until_stage)):
            if name is not None and name not in names:
                told = ", ".join(names)
                raise Unprocessable(
                    f"No stage is called {name}; there is {told}.", pointer=f"/pressures/{place}/{field}"
                )
        if None not in (asked.from_stage, asked.until_stage):
            first, last = (names.index(known(name)) for name in (asked.from_stage, asked.until_stage))
            if last < first:
                raise Unprocessable(
                    f"{asked.until_stage} comes before {asked.from_stage}.", pointer=f"/pressures/{place}/until_stage"
                )
    if kept and evidence in _WITHOUT_A_LOG:
        raise Unprocessable(
            f"Vacuum and pressure are not proved by the evidence {evidence}; they need a log.", pointer="/evidence"
        )
    return [asdict(asked) for asked in kept]


def _refuse_beyond_one_band(stages: Sequence[Stage], evidence: Evidence) -> None:
    if len(stages) > 1:
        raise Unprocessable(
            f"Several stages are not proved by the evidence {evidence}; they need a log.", pointer="/evidence"
        )
    if stages[0].heating_limit_k_min is not None or stages[0].cooling_limit_k_min is not None:
        raise Unprocessable(
            f"Limits on heating and cooling are not proved by the evidence {evidence}; they need a log.",
            pointer="/evidence",
        )


def stages_of(row: Schedule) -> list[Stage]:
    return [Stage(**stage) for stage in row.stages]


def pressures_of(row: Schedule) -> list[AskedPressure]:
    return [AskedPressure(**band) for band in row.pressures]


def schedule_for_start(asked: int | str) -> Schedule:
    """The newest approved revision of that name, or the very schedule of that number if a cure may follow it."""
    if isinstance(asked, str):
        newest = SCHEDULES.newest_approved(asked)
        if newest is None:
            raise SCHEDULES.none_approved(f"schedule {asked}", Schedule.name == asked, "/schedule")
        return newest
    current = SCHEDULES.current(asked, pointer="/schedule")
    return current


def read_schedule(schedule: int) -> ScheduleView:
    """One revision of a cure schedule."""
    return view_schedule(find_row(Schedule, schedule, "schedule"))


def list_schedules(
    *, after: int | None, limit: int, name: str | None = None, approved: bool | None = None
) -> Page[ScheduleView]:
    """List cure schedules, all revisions of them."""
    approver = called_then(Person, Schedule.approved_at).alias("approver")
    query = Schedule.select(Schedule, approver).join(Person, JOIN.LEFT_OUTER, on=(Schedule.approved_by == Person.id))
    if name is not None:
        query = query.where(Schedule.name == name)
    if approved is not None:
        query = query.where(Schedule.approved_at.is_null(not approved))
    return page(query, Schedule.id, after=after, limit=limit, view=view_schedule)


def view_schedule(row: Schedule) -> ScheduleView:
    return ScheduleView(
        id=row.id,
        name=row.name,
        revision_number=row.revision,
        source=row.source,
        stages=tuple(stages_of(row)),
        pressures=tuple(pressures_of(row)),
        longest_interval_min=row.longest_interval_min,
        oven_cycle_min=row.oven_cycle_min,
        evidence=as_word(Evidence, row.evidence),
        start_within_min=row.start_within_min,
        demould_below_c=row.demould_below_c,
        approved=row.approved_at is not None,
        approved_at=row.approved_at,
        approved_by=approver_of(row),
        document=row.document_id,
        version=row.version,
    )
