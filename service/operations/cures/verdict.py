"""The verdict on a cure, what follows from it, its degree of cure where constants are known (shop rules 35–37)."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from schemas.words import Evidence, State
from service.formulas.cure_log import Log, hole_limit_min
from service.formulas.ranges import OutOfRange
from service.operations.cures.cure import CureInHand, last_cures
from service.operations.cures.evidence import judged
from service.operations.cures.schedules import stages_of
from service.operations.door.operation import Work
from service.operations.door.refusals import Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.flags import lift, raise_flag, stands
from service.operations.ledger.graph import closure
from service.operations.parts.settling import NOT_PROVED
from service.records.items import Flag, Hold, Item, StateChange
from service.records.materials import ResinSystem
from service.records.mixes import Mix


def judge_again(work: Work, held: CureInHand) -> None:
    """Judge a cure by all the evidence that stands; once it has ended, states and holds follow. All are locked."""
    item, cure, schedule, parts = held.item, held.row, held.schedule, held.parts
    statements = [one.row for one in held.said]
    try:
        verdict, grade, series = judged(cure, schedule, parts, held.logs, statements, at=work.act.occurred_at)
    except OutOfRange as wrong:
        raise Unprocessable(str(wrong)) from None
    ended = cure.ended_at is not None
    verdict["kinetics"] = []
    if ended and grade == Evidence.PART_PROBE and series.log is not None and verdict["coldest_probe"] is not None:
        verdict["kinetics"] = reacted(
            [part.id for part in parts],
            log=series.log,
            probe=verdict["coldest_probe"],
            reference_c=stages_of(schedule)[-1].aimed_c,
            longest_min=hole_limit_min(longest_interval_min=schedule.longest_interval_min),
        )
    passed = verdict["passed"] if ended else None
    work.touch(item)
    work.note(cure=item.code, evidence=grade, passed=passed, result=verdict["result"], sentences=verdict["sentences"])
    before = (cure.verdict or {}).get("sentences") if item.state == State.FAILED else None
    if passed is False and before == verdict["sentences"]:
        # It fails as it failed before: the flag and what was signed for it still speak of this verdict.
        held.update(verdict=verdict, evidence=grade)
        return
    held.update(verdict=verdict, evidence=grade, passed=passed, judged_in=work.deed)
    if passed:
        _pass(work, item, parts, grade, verdict)
    elif ended:
        _fail(work, item, verdict)


def _pass(work: Work, item: Item, parts: Sequence[Item], grade: Evidence | None, verdict: dict[str, Any]) -> None:
    first_time = item.state != State.PASSED
    ledger.set_state(work, item, State.PASSED)
    _lift_what_was_not_known(work, item)
    curing = [part for part in parts if part.state == State.CURING]
    last = last_cures([part.id for part in curing])
    before = _states_before([part.id for part in curing], item)
    for part in curing:
        if last.get(part.id) == item.id:
            ledger.set_state(work, part, before.get(part.id, State.CURED))
    if first_time and grade == Evidence.DECLARED:
        raise_flag(work, item, "cure-declared", f"{item.code} was declared; nothing was measured.", stops=False)
    if first_time:
        _look_at_log(work, item, verdict)


def _lift_what_was_not_known(work: Work, item: Item) -> None:
    """Further evidence lifts what was not known. What a log that still stands has shown, a person answers."""
    flags = Flag.select(Flag, stands(Flag.deed).alias("stands")).where(
        (Flag.item == item.id) & (Flag.kind == NOT_PROVED)
    )
    answered = [flag.id for flag in flags.objects() if flag.facts.get("result") != "violated" or not flag.stands]
    for hold in Hold.select().where(Hold.flag.in_(answered) & Hold.lifted_at.is_null()):
        lift(work, hold)


def _look_at_log(work: Work, item: Item, verdict: dict[str, Any]) -> None:
    """A proved cure whose log is not whole, or has a sample that stands out, is read once more at release."""
    for stage in verdict["stages"]:
        if stage["suspects"] or stage["gaps"]:
            found = [(len(stage["suspects"]), "doubted reading"), (len(stage["gaps"]), "hole")]
            said = " and ".join(f"{count} {name}{'' if count == 1 else 's'}" for count, name in found if count)
            sentence = f"{item.code}, {stage['name']}: the log has {said}."
            raise_flag(work, item, "cure-log-odd", sentence, stops=False, stage=stage["name"])


def _states_before(parts: Sequence[int], cure: Item) -> dict[int, State]:
    """Parts that had left their mould before a post-cure are then where they were; any other is cured."""
    changes = (
        StateChange.select(StateChange.item, StateChange.state)
        .where(
            StateChange.item.in_(list(parts)) & (StateChange.deed < cure.deed_id) & (StateChange.state != State.CURING)
        )
        .order_by(StateChange.id)
    )
    before = {change.item_id: State(change.state) for change in changes}
    return {part: state for part, state in before.items() if state in (State.DEMOULDED, State.TRIMMED)}


def _fail(work: Work, item: Item, verdict: dict[str, Any]) -> None:
    ledger.set_state(work, item, State.FAILED)
    sentence = f"{item.code}: {' '.join(_what_failed(verdict))}"
    raise_flag(work, item, NOT_PROVED, sentence, stops=True, hold=True, result=verdict["result"])


def _what_failed(verdict: dict[str, Any]) -> list[str]:
    """The summary and what stands against the cure; what was found to be in order is read with the verdict."""
    summary, *others = verdict["sentences"]
    told = {f"{stage['name']}: {sentence}" for stage in verdict["stages"] for sentence in stage["sentences"]}
    told |= {said for band in verdict["pressures"] if band["result"] == "proved" for said in band["sentences"]}
    against = [f"{stage['name']}: {one['sentence']}" for stage in verdict["stages"] for one in stage["reasons"]]
    return [summary, *(one for one in others if one not in told), *against]


_ALONE = "Counted over this cure alone. A figure from a model never replaces a stated cure."


def systems_in(parts: Iterable[int]) -> list[ResinSystem]:
    """The resin systems with constants of their own that these parts were made with."""
    made_of = {item for ids in closure(parts, back=True).values() for item in ids}
    mixes = Mix.select(Mix.system).where(Mix.item.in_(made_of))
    query = ResinSystem.select().where(ResinSystem.id.in_(mixes) & ResinSystem.constants.is_null(False))
    return [row for row in query.order_by(ResinSystem.id) if row.constants and row.constants.get("kinetics")]


def reacted(
    parts: Iterable[int], *, log: Log, probe: str, reference_c: float, longest_min: float
) -> list[dict[str, Any]]:
    """For each system its degree of cure after this cure alone, by the coldest part probe, and what follows from it."""
    systems = systems_in(parts)
    if not systems:
        return []
    samples = [(t, v) for t, v in zip(log.times_min, log.probes[probe], strict=True) if v is not None]
    times, temperatures = [t for t, _ in samples], [v for _, v in samples]
    answers = []
    for system in systems:
        answer: dict[str, Any] = {
            "system": system.name,
            "revision_number": system.revision,
            "source": system.constants.get("source"),
            "probe": probe,
            "degree_of_cure": None,
            "glass_transition_c": None,
            "reference_c": reference_c,
            "equivalent_min": None,
            "rate_at_end_per_min": None,
            "gel_point": None,
            "gelled_by_min": None,
        }
        try:
            answer |= _worked_out(system.constants, times, temperatures, longest_min, reference_c)
        except OutOfRange as wrong:
            answer["sentence"] = f"Not known: {wrong}"
        except (TypeError, KeyError, ValueError):
            answer["sentence"] = "Not known: the constants of the system lack a field, or have one that no model has."
        answers.append(answer)
    return answers


def _worked_out(
    constants: Mapping[str, Any],
    times: Sequence[float],
    temperatures: Sequence[float],
    longest_min: float,
    reference_c: float,
) -> dict[str, Any]:
    from service.formulas.kinetics import degree_of_cure, equivalent_time_min, glass_transition_c, rate_per_min

    if any(later - earlier > longest_min for earlier, later in pairwise(times)):
        return {"sentence": "Not known: the log has holes."}
    model, initial = _model(dict(constants["kinetics"]))
    degrees = degree_of_cure(model=model, times_min=times, temperatures_c=temperatures, initial=initial)
    degree, rate = degrees[-1], rate_per_min(model=model, degree=degrees[-1], temperature_c=temperatures[-1])
    answer: dict[str, Any] = {"degree_of_cure": round(degree, 4), "rate_at_end_per_min": float(f"{rate:.3g}")}
    said = [f"{degree:.0%} cured"]
    if constants.get("glass_transition"):
        transition = round(glass_transition_c(degree_of_cure=degree, **constants["glass_transition"]), 1)
        answer["glass_transition_c"] = transition
        said.append(f"glass transition {transition:g} °C")
    if constants.get("network"):
        answer |= _gelled(constants["network"], times, degrees)
        passed = answer["gelled_by_min"]
        when = f"passed by minute {passed:.0f}" if passed is not None else "not reached"
        said.append(f"gel point, at {answer['gel_point']:.0%} at least, {when}")
    try:
        answer["equivalent_min"] = round(
            equivalent_time_min(
                model=model, times_min=times, temperatures_c=temperatures, reference_c=reference_c, initial=initial
            ),
            1,
        )
        said.append(f"as far as {answer['equivalent_min']:.0f} min at {reference_c:g} °C")
    except OutOfRange:
        # At the reference temperature alone this degree is not reached: there is no such time.
        answer["equivalent_min"] = None
    said.append(f"reacting at the end by {rate * 60:.2g} an hour")
    answer["sentence"] = f"{'; '.join(said).capitalize()}. {_ALONE}"
    return answer


def _gelled(network: Mapping[str, Any], times: Sequence[float], degrees: Sequence[float]) -> dict[str, Any]:
    """The conversion at which the network spans the part, and the first sample at which the degree had passed it.

    A degree of cure of one means that all of the scarcer groups have reacted, so it is their conversion that counts.
    """
    from service.formulas.network import gel_point

    found = gel_point(**network)
    conversion = max(found.epoxy_conversion, found.hydrogen_conversion)
    passed = next((time for time, degree in zip(times, degrees, strict=True) if degree >= conversion), None)
    return {"gel_point": round(conversion, 4), "gelled_by_min": passed}


def _model(fields: dict[str, Any]) -> tuple[Any, float]:
    from service.formulas.cure_models import Autocatalytic, DiffusionFactor, NthOrder, TwoRegime

    kinds = {"nth order": NthOrder, "autocatalytic": Autocatalytic, "two regimes": TwoRegime}
    name, initial = fields.pop("model"), fields.pop("initial_degree", 0.0)
    if name not in kinds:
        raise OutOfRange("model", repr(name)[:40], f"one of {', '.join(kinds)}")
    if fields.get("diffusion"):
        fields["diffusion"] = DiffusionFactor(**fields["diffusion"])
    return kinds[name](**fields), initial
