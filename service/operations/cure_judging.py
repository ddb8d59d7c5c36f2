"""The verdict on a cure, and what follows from it: states, holds, flags (shop rules 35 to 37)."""

from collections.abc import Sequence
from typing import Any

from schemas.words import Evidence, State
from service.formulas.ranges import OutOfRange
from service.operations import ledger
from service.operations.cure_evidence import judged
from service.operations.cure_kinetics import reacted
from service.operations.flags import lift, raise_flag
from service.operations.operation import Work
from service.operations.part_rows import cures_of
from service.operations.refusals import Unprocessable
from service.records.cures import Cure, Schedule
from service.records.items import Flag, Hold, Item, StateChange

_NOT_PROVED = "cure-not-proved"


def judge_again(work: Work, item: Item, parts: Sequence[Item]) -> None:
    """Judge a cure by all the evidence that stands; once it has ended, states and holds follow. All are locked."""
    cure = Cure.get_by_id(item.id)
    schedule = Schedule.get_by_id(cure.schedule_id)
    try:
        verdict, grade, series = judged(cure, schedule, at=work.act.occurred_at)
    except OutOfRange as wrong:
        raise Unprocessable(str(wrong)) from None
    ended = cure.ended_at is not None
    verdict["kinetics"] = []
    if ended and grade == Evidence.PART_PROBE and series.log is not None and verdict["coldest_probe"] is not None:
        last = schedule.stages[-1]
        verdict["kinetics"] = reacted(
            [part.id for part in parts],
            log=series.log,
            probe=verdict["coldest_probe"],
            reference_c=(last["low_c"] + last["high_c"]) / 2,
        )
    passed = verdict["passed"] if ended else None
    work.touch(item)
    work.note(cure=item.code, evidence=grade, passed=passed, sentences=verdict["sentences"])
    before = (cure.verdict or {}).get("sentences") if item.state == State.FAILED else None
    if passed is False and before == verdict["sentences"]:
        # It fails as it failed before: the flag and what was signed for it still speak of this verdict.
        Cure.update(verdict=verdict, evidence=grade).where(Cure.item == item.id).execute()
        return
    Cure.update(verdict=verdict, evidence=grade, passed=passed, judged_in=work.deed).where(
        Cure.item == item.id
    ).execute()
    if passed:
        _pass(work, item, parts, grade, verdict)
    elif ended:
        _fail(work, item, verdict)


def _pass(work: Work, item: Item, parts: Sequence[Item], grade: Evidence | None, verdict: dict[str, Any]) -> None:
    first_time = item.state != State.PASSED
    ledger.set_state(work, item, State.PASSED)
    flags = Flag.select(Flag.id).where((Flag.item == item.id) & (Flag.kind == _NOT_PROVED))
    for hold in Hold.select().where(Hold.flag.in_(flags) & Hold.lifted_at.is_null()):
        lift(work, hold)
    for part in parts:
        if part.state == State.CURING and cures_of(part.id)[:1] == [item.id]:
            ledger.set_state(work, part, _state_after(part, item))
    if first_time and grade == Evidence.DECLARED:
        raise_flag(work, item, "cure-declared", f"{item.code} was declared; nothing was measured.", stops=False)
    if first_time:
        _look_at_log(work, item, verdict)


def _look_at_log(work: Work, item: Item, verdict: dict[str, Any]) -> None:
    """A proved cure whose log is not whole, or has a sample that stands out, is read once more at release."""
    for stage in verdict["stages"]:
        if stage["suspects"] or stage["gaps"]:
            sentence = f"{item.code}, {stage['name']}: the log has {len(stage['suspects'])} suspect samples and "
            sentence += f"{len(stage['gaps'])} gaps."
            raise_flag(work, item, "cure-log-odd", sentence, stops=False, stage=stage["name"])


def _state_after(part: Item, cure: Item) -> State:
    """A part that had left its mould before a post-cure is then where it was; any other is cured."""
    before = (
        StateChange.select(StateChange.state)
        .where((StateChange.item == part.id) & (StateChange.deed < cure.deed_id) & (StateChange.state != State.CURING))
        .order_by(StateChange.id.desc())
        .first()
    )
    if before is not None and before.state in (State.DEMOULDED, State.TRIMMED):
        return State(before.state)
    return State.CURED


def _fail(work: Work, item: Item, verdict: dict[str, Any]) -> None:
    ledger.set_state(work, item, State.FAILED)
    sentences = verdict["sentences"]
    raise_flag(work, item, _NOT_PROVED, f"{item.code}: {' '.join(sentences)}", stops=True, hold=True)
