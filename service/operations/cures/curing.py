"""Curing: start, the logger's file, a thermometer, a declaration, the end, and the verdict that follows.

A verdict that fails puts the parts on hold by itself: the hold is on the cure, and reaches them. Evidence may still
come in after the end; the cure is then judged again.
"""

import hashlib
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any

from schemas.words import Evidence, Kind, MovementKind, State
from service.formulas.stages import span_text
from service.operations.cures.cure import CureInHand, last_cures, load_cure, parts_of
from service.operations.cures.evidence import Said
from service.operations.cures.loggers import profile_of, read_log
from service.operations.cures.probes import Told
from service.operations.cures.schedules import schedule_for_start
from service.operations.cures.verdict import judge_again
from service.operations.cures.view import CureView, answered
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import AlreadyThere, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.shop import span, time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.documents import store
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.graph import standing_holds
from service.operations.ledger.holding import require_not_held
from service.operations.parts.out_time import cure_starts
from service.readings.read import Readings
from service.records.cures import Cure, CureLog, CureReading, Logger, Schedule
from service.records.items import Item
from service.records.journal import Document
from service.records.lookups import rows_among
from service.records.parts import Part

_MAY_BE_CURED = (State.LAID_UP, State.CURING, State.CURED, State.DEMOULDED, State.TRIMMED)


@operation
def start_cure(
    work: Work, *, schedule: int | str, parts: Sequence[str], post_cure: bool = False, place: str | None = None
) -> CureView:
    """Start a cure of one or several parts. `schedule` is a name (its newest approved revision counts) or a number."""
    row = schedule_for_start(schedule)
    if len(set(parts)) != len(parts):
        raise Unprocessable("A part is named twice.", pointer="/parts")
    items = ledger.lock(work, *parts, kinds=[Kind.PART])
    _require_ready(items.values())
    laid_up = {p.item_id: p.laid_up_at for p in rows_among(Part, Part.item, [item.id for item in items.values()])}
    for item in items.values():
        _require_laid_up_before(work, item, laid_up[item.id])
    oven = _oven(place)
    cure = ledger.new_item(work, Kind.CURE, name=row.name, state=State.RUNNING, place=oven)
    started = Cure.create(item=cure, schedule=row, post_cure=post_cure, started_at=work.act.occurred_at)
    ledger.made_with(work, cure, "started by", person=work.act.person)
    if oven is not None:
        ledger.made_with(work, cure, "oven", used=oven)
    work.note(cure=cure.code, schedule=row.id, name=row.name, revision=row.revision)
    cure_starts(work, [item for item in items.values() if item.state == State.LAID_UP])
    held = standing_holds([item.id for item in items.values()])
    for item in items.values():
        ledger.move(work, kind=MovementKind.CURE, source=cure, target=item)
        ledger.set_state(work, item, State.CURING)
        if held[item.id]:
            # A resin does not wait for a signature: a part on hold is cured like any other, and stays on hold.
            work.note(part=item.code, on_hold=[hold.reason for hold in held[item.id]])
        _look_at_wait(work, row, cure, item, laid_up[item.id])
    return answered(work, CureInHand(cure, started, [items[part] for part in parts]))


def _require_ready(items: Collection[Item]) -> None:
    last = last_cures([item.id for item in items])
    running = {
        cure.id: cure.code for cure in rows_among(Item, Item.id, set(last.values())) if cure.state == State.RUNNING
    }
    for item in items:
        if item.state == State.LAYING:
            raise WrongState(
                f"{item.code} is still being laid up.",
                way_out=f"Close the lay-up of {item.code} first.",
                part=item.code,
            )
        if item.state not in _MAY_BE_CURED:
            raise WrongState(
                f"{item.code} is {item.state}; it cannot be cured any more.",
                way_out="Scan the part that goes into the oven.",
                part=item.code,
            )
        code = running.get(last.get(item.id, 0))
        if code is not None:
            raise WrongState(
                f"{item.code} is being cured already, in {code}.",
                way_out=f"End {code} first.",
                part=item.code,
                cure=code,
            )


def _require_laid_up_before(work: Work, item: Item, laid_up_at: datetime | None) -> None:
    """A start asks: one of two times that conflict is wrong, and nobody knows which but the one who was there."""
    if laid_up_at is not None and work.act.occurred_at < laid_up_at:
        now, zone = work.act.recorded_at, work.site.zone
        starts, closed = (time_in_shop(when, now=now, zone=zone) for when in (work.act.occurred_at, laid_up_at))
        raise Unprocessable(
            f"The cure would start at {starts}, before the lay-up of {item.code} was closed at {closed}.",
            way_out="Give the right time of the start; if that of the lay-up is wrong, correct its entry first.",
            pointer="/occurred_at",
            part=item.code,
        )


def _oven(place: str | None) -> Item | None:
    if place is None:
        return None
    item = ledger.find(place, Kind.PLACE)
    if item.state == State.WITHDRAWN:
        raise WrongState(f"{item.code} {item.name} is out of use.", way_out="Take another place.")
    require_not_held(item)
    return item


def _look_at_wait(work: Work, schedule: Schedule, cure: Item, item: Item, laid_up_at: datetime | None) -> None:
    """A resin that waited too long between lay-up and cure is read at release."""
    if schedule.start_within_min is None:
        return
    if laid_up_at is None:
        sentence = f"When the lay-up of {item.code} was closed is not known; the cure was to start within "
        sentence += f"{span_text(schedule.start_within_min)} of it."
        raise_flag(work, item, "cure-started-late", sentence, stops=False, cure=cure.code)
        return
    waited_min = (work.act.occurred_at - laid_up_at) / timedelta(minutes=1)
    if waited_min > schedule.start_within_min:
        raise_flag(
            work,
            item,
            "cure-started-late",
            f"The cure started late: {span_text(waited_min, up=True)} after the lay-up was closed, "
            f"at most {span_text(schedule.start_within_min)} is allowed.",
            stops=False,
            cure=cure.code,
            waited_min=round(waited_min, 1),
            allowed_min=schedule.start_within_min,
        )


@operation
def import_cure_log(
    work: Work,
    *,
    cure: str,
    logger: int,
    content: bytes,
    part_probes: Sequence[str] = (),
    air_probes: Sequence[str] = (),
    stands_for: Sequence[tuple[str, str]] = (),
    left_out: Sequence[tuple[str, str]] = (),
    elsewhere: Sequence[str] = (),
    gauges: Sequence[tuple[str, str]] = (),
    started_at: datetime | None = None,
    name: str | None = None,
) -> CureView:
    """Add a logger's file to a cure: it is read whole or not at all, kept as it came, and the cure is judged by it."""
    found = ledger.find(cure, Kind.CURE)
    source = find_row(Logger, logger, "logger", pointer="/logger")
    profile = profile_of(source)
    # A long file takes a second to read; nobody has to wait for its cure and parts meanwhile.
    readings = read_log(content, profile, started_at=started_at)
    held = _locked(work, found)
    item = held.item
    _refuse_twice(item, held.logs, content)
    told = Told(
        tuple(part_probes), tuple(air_probes), tuple(stands_for), dict(left_out), tuple(elsewhere), dict(gauges)
    )
    told.refuse_unless_each_is_named_once(readings)
    told.refuse_moved(source, held.logs)
    standing = told.parts_by_probe([part.code for part in held.parts])
    _refuse_other_times(work, item, held.row, readings)
    document = store(work, name=name or f"{item.code} {source.name}.csv", content=content, media_type="text/csv")
    log = CureLog.create(
        cure=item.id,
        logger=source,
        document=document,
        profile=profile.to_dict(),
        part_probes=list(part_probes),
        air_probes=list(air_probes),
        stands_for=standing,
        left_out=told.left_out,
        elsewhere=list(elsewhere),
        gauges=told.gauges,
        readings=_kept(readings),
        summary=_summary(readings),
        first_at=readings.times[0],
        last_at=readings.times[-1],
        deed=work.deed,
    )
    held.logs.append(log)
    work.note(cure=item.code, log=log.id, logger=source.name, rows=readings.rows_read, part_probes=part_probes)
    work.touch(item)
    _look_at_clock(work, item, source, readings)
    judge_again(work, held)
    return answered(work, held)


def _refuse_twice(item: Item, known: Sequence[CureLog], content: bytes) -> None:
    sha256 = hashlib.sha256(content).hexdigest()
    documents = Document.select(Document.id).where(
        Document.id.in_([log.document_id for log in known]) & (Document.sha256 == sha256)
    )
    if documents.exists():
        raise AlreadyThere(
            f"This very file was added to {item.code} already.",
            way_out="Nothing more is to be done; look at the cure's verdict.",
            cure=item.code,
        )


def _refuse_other_times(work: Work, item: Item, cure: Cure, readings: Readings) -> None:
    def shown(at: datetime) -> str:
        return time_in_shop(at, now=work.act.recorded_at, zone=work.site.zone)

    way_out = "Take the right file, or look at the clock of the logger and the zone in its reading profile."
    if readings.times[-1] < cure.started_at:
        raise Unprocessable(
            f"The file ends at {shown(readings.times[-1])}, before {item.code} started at {shown(cure.started_at)}.",
            way_out=way_out,
        )
    if cure.ended_at is not None and readings.times[0] > cure.ended_at:
        raise Unprocessable(
            f"The file begins at {shown(readings.times[0])}, after {item.code} ended at {shown(cure.ended_at)}.",
            way_out=way_out,
        )


def _kept(readings: Readings) -> dict[str, Any]:
    first = readings.times[0]
    return {
        "times_s": [(at - first) / timedelta(seconds=1) for at in readings.times],
        "probes": {name: list(values) for name, values in readings.probes.items()},
        "gauges": {name: list(values) for name, values in readings.gauges.items()},
    }


def _summary(readings: Readings) -> dict[str, Any]:
    probes = {}
    for name, values in readings.probes.items():
        there = [value for value in values if value is not None]
        probes[name] = {"lowest_c": min(there, default=None), "highest_c": max(there, default=None)}
    return {
        "rows": readings.rows_read,
        "missing": readings.dropped_values,
        "notes": list(readings.notes),
        "probes": probes,
    }


def _look_at_clock(work: Work, item: Item, source: Logger, readings: Readings) -> None:
    ahead_min = (readings.times[-1] - work.act.recorded_at) / timedelta(minutes=1)
    if ahead_min > work.site.late_after_min:
        raise_flag(
            work,
            item,
            "logger-clock",
            f"The file of {source.name} runs {span(ahead_min)} beyond the time at which it was added: its clock, or "
            "the zone in its reading profile, is wrong.",
            stops=False,
        )


@operation
def record_cure_reading(
    work: Work, *, cure: str, low_c: float, high_c: float, reset_at: datetime, remark: str | None = None
) -> CureView:
    """Record the minimum and maximum that a thermometer beside the part has kept since it was reset."""
    if reset_at > work.act.occurred_at:
        raise Unprocessable("It was reset before it was read.", pointer="/reset_at")
    if low_c > high_c:
        raise Unprocessable("The minimum is above the maximum; read the thermometer again.", pointer="/low_c")
    held = _locked(work, ledger.find(cure, Kind.CURE))
    _say(work, held, kind=Evidence.MINIMUM_MAXIMUM, low_c=low_c, high_c=high_c, reset_at=reset_at, remark=remark)
    judge_again(work, held)
    return answered(work, held)


@operation
def declare_cure(work: Work, *, cure: str, remark: str, ended: bool = False) -> CureView:
    """Declare an overnight cure that nobody measured, where the schedule allows it; the record says so everywhere.

    With `ended` the cure is over as well, and is judged.
    """
    held = _locked(work, ledger.find(cure, Kind.CURE))
    schedule = held.schedule
    if schedule.evidence != Evidence.DECLARED:
        raise WrongState(
            f"{schedule.name} has to be proved by better than a declaration: {schedule.evidence}.",
            way_out="Add the logger's file, or read the thermometer.",
            evidence=schedule.evidence,
        )
    _say(work, held, kind=Evidence.DECLARED, remark=remark)
    judge_again(work, held)
    if ended:
        return within(work, end_cure, cure=cure)
    return answered(work, held)


@operation
def end_cure(work: Work, *, cure: str) -> CureView:
    """End a cure. It is judged; if it is not proved, its parts go on hold."""
    held = _locked(work, ledger.find(cure, Kind.CURE))
    item, row = held.item, held.row
    if row.ended_at is not None:
        raise WrongState(f"{item.code} was ended already.", way_out="A forgotten file can still be added to it.")
    if work.act.occurred_at < row.started_at:
        raise Unprocessable(f"{item.code} started after that time.", pointer="/occurred_at")
    # The end and the verdict come together; the verdict itself follows at once.
    held.update(ended_at=work.act.occurred_at, passed=False)
    judge_again(work, held)
    return answered(work, held)


def _say(work: Work, held: CureInHand, **facts: Any) -> None:
    """A reading that a person tells: a thermometer's, or a declaration."""
    said = held.said
    row = CureReading.create(cure=held.item.id, occurred_at=work.act.occurred_at, deed=work.deed, **facts)
    said.append(Said(row, work.who))
    work.touch(held.item)


def _locked(work: Work, found: Item) -> CureInHand:
    """A cure and its parts, all locked: a verdict may change the state of each of them."""
    cure = found.code
    parts = [part.code for part in parts_of([found.id])[found.id]]
    items = ledger.lock(work, cure, *parts)
    if items[cure].state == State.ABANDONED:
        raise WrongState(
            f"{cure} was never started: its start was declared not to have occurred.", way_out="Start a cure anew."
        )
    return load_cure(items[cure], parts=[items[part] for part in parts])
