"""What failed in a cure, said first: over the maximum, too fast, too short; never a time that was not the reason."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from schemas.words import Evidence
from service.reports.reading.cures import CureAccount, CureReason, CureStage
from service.reports.wording import day, number, span

_NOT_PROVED = "is not proved"
# What an oven did to the part is graver than what it did not do for long enough.
_GRAVEST = ("over", "heating", "cooling", "longest", "time", "evidence")


@dataclass(frozen=True, slots=True)
class Failure:
    """One reason in words: what failed, what more there is to say of it, its numbers, and how grave it is."""

    what: str
    rest: str
    numbers: dict[str, Any] = field(default_factory=dict)
    weight: float = 1.0


def what_failed(cure: CureAccount, zone: str) -> Failure:
    """The gravest reason why a cure is not proved, as it goes on after "The cure"; the others by their number."""
    found = sorted(
        ((stage, one) for stage in cure.stages for one in stage.reasons),
        key=lambda pair: (_GRAVEST.index(pair[1].kind), -(pair[1].value or 0.0)),
    )
    worst = sorted(cure.pressures, key=lambda one: not one.violated)
    if worst and (not found or (worst[0].violated and found[0][1].kind not in ("over", "heating", "cooling"))):
        what = f"did not keep its {worst[0].measure}" if worst[0].violated else _NOT_PROVED
        return Failure(what, f": {worst[0].sentence}", {}, 1.5)
    if not found:
        said = cure.sentences[1] if len(cure.sentences) > 1 else "Not proved."
        return Failure(_NOT_PROVED, f": {said}")
    failure = _in_words(cure, *found[0], zone)
    more = list(_others(found[1:], found[0][1].kind))
    return failure if not more else Failure(
        failure.what, f"{failure.rest} Also {', '.join(more)}.", failure.numbers, failure.weight
    )  # fmt: skip


def _in_words(cure: CureAccount, stage: CureStage, one: CureReason, zone: str) -> Failure:
    if one.kind == "over" and one.probe is not None and one.value is not None and one.at_min is not None:
        then = (cure.started_at + timedelta(minutes=one.at_min)).astimezone(ZoneInfo(zone))
        when = f"{then:%H:%M} on {day(then.date())}"
        return Failure(
            f"was over the maximum at {number(one.value)} °C by {one.probe} at {when}",
            f"; at most {one.limit:g} °C is allowed.",
            {"stage": stage.name, "highest_c": one.value, "limit_c": one.limit},
            2.0,
        )
    if one.kind in ("heating", "cooling"):
        slope = {} if one.value is None else {f"{one.kind}_k_min": one.value, "limit_k_min": one.limit}
        way = "heated" if one.kind == "heating" else "cooled"
        what = f"{way} too fast" if one.value is not None else _NOT_PROVED
        return Failure(what, f": {one.sentence}", {"stage": stage.name, **slope}, 1.5)
    if one.kind == "longest" and one.value is not None:
        return Failure("was in its band for too long", f": {one.sentence}", {"stage": stage.name}, 1.2)
    if one.kind == "time" and one.value is not None and one.limit is not None:
        weight = 1 + (one.limit - one.value) / one.limit
        asks = f"; the schedule asks {span(one.limit)}."
        if cure.evidence == Evidence.DECLARED:
            what = f"was declared for {span(one.value)}, and nothing was measured"
            return Failure(what, asks, {"stage": stage.name, "minimum_min": one.limit}, weight)
        whole = stage.proved_min < stage.minimum_min
        unbroken = "" if whole else " without a break"
        name = "proved_min" if whole else "longest_min"
        minutes = stage.proved_min if whole else one.value
        return Failure(
            f"proved {span(minutes)} in its band{unbroken}",
            asks,
            {"stage": stage.name, name: minutes, "minimum_min": one.limit},
            1 + (one.limit - minutes) / one.limit,
        )
    return Failure(_NOT_PROVED, f": {one.sentence}", {"stage": stage.name})


_ALSO = {
    "over": "over a maximum",
    "heating": "heated too fast",
    "cooling": "cooled too fast",
    "longest": "too long in its band",
    "time": "too short in its band",
    "evidence": "not known in part",
}


def _others(found: Iterable[tuple[CureStage, CureReason]], first: str) -> Iterable[str]:
    kinds = dict.fromkeys(one.kind for _, one in found)
    return (_ALSO[kind] for kind in kinds if kind != first)


def outcome(cure: CureAccount, zone: str) -> str:
    """What the record says of a cure in its first line. One that was declared is never said to have passed."""
    if cure.passed is None:
        return "Not judged yet."
    if not cure.passed:
        what = what_failed(cure, zone).what
        return "Not proved." if what == _NOT_PROVED else f"Not proved: it {what}."
    return "Declared, not measured." if cure.evidence == Evidence.DECLARED else "Passed."
