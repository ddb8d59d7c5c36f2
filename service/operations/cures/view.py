"""Cures as they are read: what was asked, what proves it, the verdict."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import CureState, Evidence, Kind, Measure, MovementKind, State
from service.operations.cures.cure import CureInHand, load_cure, parts_of
from service.operations.cures.evidence import Said
from service.operations.cures.judged import KeptVerdict, as_kept
from service.operations.door.operation import Work
from service.operations.door.views import ItemRef, Page, by_state, page_of, ref
from service.operations.ledger import ledger
from service.operations.ledger.graph import HoldView, by_hold, hold_views, standing_holds
from service.operations.ledger.tracing import FlagView, flag_views, newest_flags
from service.records.base import as_word
from service.records.cures import Cure, CureLog, Schedule
from service.records.items import Item, Movement


@dataclass(frozen=True, slots=True)
class CureLogView:
    """A logger's file: its document, its probes, and where they lay.

    Attributes
    ----------
    document
        The file as it came: /v1/documents/{number}.
    stands_for
        Probe to the parts for which it stands.
    left_out
        Probe to the reason why it does not count.
    gauges
        Gauge to what it measures.
    """

    id: int
    logger: int
    logger_name: str
    document: int
    part_probes: tuple[str, ...]
    air_probes: tuple[str, ...]
    stands_for: dict[str, list[str]]
    left_out: dict[str, str]
    other_probes: tuple[str, ...]
    gauges: dict[str, Measure]
    first_at: datetime
    last_at: datetime
    rows: int
    missing: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StatementView:
    """A thermometer's minimum and maximum, or a declaration; by whom."""

    kind: Evidence
    low_c: float | None
    high_c: float | None
    reset_at: datetime | None
    remark: str | None
    occurred_at: datetime
    person_name: str


@dataclass(frozen=True, slots=True)
class CureFacts:
    """What a cure says of itself in a list and alone.

    Attributes
    ----------
    state
        running, passed or failed.
    needed
        The evidence that the schedule needs at least.
    """

    code: str
    name: str
    state: CureState
    schedule: str
    schedule_id: int
    revision_number: int
    post_cure: bool
    place: str | None
    started_at: datetime
    ended_at: datetime | None
    needed: Evidence
    evidence: Evidence | None
    passed: bool | None


@dataclass(frozen=True, slots=True)
class CureView(CureFacts):
    """A cure: schedule, parts, evidence and verdict.

    Attributes
    ----------
    flags
        The newest 50, oldest first; GET /v1/items/{code}/flags lists all.
    flags_count
        How many there are.
    """

    verdict: KeptVerdict | None
    parts: tuple[ItemRef, ...]
    logs: tuple[CureLogView, ...]
    statements: tuple[StatementView, ...]
    flags: tuple[FlagView, ...]
    flags_count: int
    holds: tuple[HoldView, ...]
    version: int


@dataclass(frozen=True, slots=True)
class CureRow(CureFacts):
    """A cure in one line of a list."""

    parts: tuple[str, ...]
    on_hold: bool
    version: int


def read_cure(cure: str) -> CureView:
    """One cure: schedule, parts, evidence, verdict, flags and holds."""
    return view_cure(load_cure(ledger.find(cure, Kind.CURE)))


def answered(work: Work, held: CureInHand) -> CureView:
    """What an act on a cure answers: the cure in hand, with all that the act has changed in it."""
    return work.answer(held.item, lambda _: view_cure(held))


def view_cure(held: CureInHand) -> CureView:
    item, cure, schedule = held.item, held.row, held.schedule
    flags, flags_count = newest_flags([item.id])
    return CureView(
        code=item.code,
        name=item.name,
        state=as_word(CureState, item.state),
        schedule=schedule.name,
        schedule_id=schedule.id,
        revision_number=schedule.revision,
        post_cure=cure.post_cure,
        place=item.place.code if item.place is not None else None,
        started_at=cure.started_at,
        ended_at=cure.ended_at,
        needed=as_word(Evidence, schedule.evidence),
        evidence=as_word(Evidence, cure.evidence),
        passed=cure.passed,
        verdict=as_kept(cure.verdict),
        parts=tuple(ref(part) for part in held.parts),
        logs=tuple(_log(log) for log in held.logs_told),
        statements=tuple(_statement(one) for one in held.said),
        flags=flag_views(flags),
        flags_count=flags_count,
        holds=hold_views(standing_holds([item.id])[item.id]),
        version=item.version,
    )


def _log(row: CureLog) -> CureLogView:
    told = {*row.part_probes, *row.air_probes, *row.left_out}
    return CureLogView(
        id=row.id,
        logger=row.logger_id,
        logger_name=row.logger.name,
        document=row.document_id,
        part_probes=tuple(row.part_probes),
        air_probes=tuple(row.air_probes),
        stands_for=row.stands_for,
        left_out=row.left_out,
        other_probes=tuple(name for name in row.summary["probes"] if name not in told),
        gauges={name: as_word(Measure, what) for name, what in row.gauges.items()},
        first_at=row.first_at,
        last_at=row.last_at,
        rows=row.summary["rows"],
        missing=row.summary["missing"],
        notes=tuple(row.summary["notes"]),
    )


def _statement(one: Said) -> StatementView:
    row = one.row
    return StatementView(
        kind=as_word(Evidence, row.kind),
        low_c=row.low_c,
        high_c=row.high_c,
        reset_at=row.reset_at,
        remark=row.remark,
        occurred_at=row.occurred_at,
        person_name=one.by,
    )


def list_cures(
    *,
    after: int | None,
    limit: int,
    state: State | None = None,
    part: str | None = None,
    schedule: str | None = None,
    on_hold: bool | None = None,
) -> Page[CureRow]:
    """List cures, by state, part, hold or the schedule's name."""
    query = Item.select(Item).join(Cure, on=(Cure.item == Item.id))
    if part is not None:
        cures = Movement.select(Movement.source).where(
            (Movement.target == ledger.find(part, Kind.PART).id)
            & (Movement.kind == MovementKind.CURE)
            & Movement.cancelled_by.is_null()
        )
        query = query.where(Item.id.in_(cures))
    if schedule is not None:
        query = query.where(Cure.schedule.in_(Schedule.select(Schedule.id).where(Schedule.name == schedule)))
    query, key = by_state(query, Kind.CURE, Cure.item, state)
    query = by_hold(query, on_hold)
    return page_of(query, key, after=after, limit=limit, views=_rows)


def _rows(items: tuple[Item, ...]) -> tuple[CureRow, ...]:
    ids = [item.id for item in items]
    cures = {row.item_id: row for row in Cure.select(Cure, Schedule).join(Schedule).where(Cure.item.in_(ids))}
    places = {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_([i.place_id for i in items]))}
    parts, holds = parts_of(ids), standing_holds(ids)
    return tuple(
        CureRow(
            code=item.code,
            name=item.name,
            state=as_word(CureState, item.state),
            schedule=cures[item.id].schedule.name,
            schedule_id=cures[item.id].schedule.id,
            revision_number=cures[item.id].schedule.revision,
            post_cure=cures[item.id].post_cure,
            place=places.get(item.place_id or 0),
            started_at=cures[item.id].started_at,
            ended_at=cures[item.id].ended_at,
            needed=as_word(Evidence, cures[item.id].schedule.evidence),
            evidence=as_word(Evidence, cures[item.id].evidence),
            passed=cures[item.id].passed,
            parts=tuple(part.code for part in parts[item.id]),
            on_hold=bool(holds[item.id]),
            version=item.version,
        )
        for item in items
    )
