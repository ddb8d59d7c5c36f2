"""The verdict on a cure as it is kept with it, in JSON. Minutes count from the start of the cure."""

from collections.abc import Iterator
from typing import Any, TypedDict, cast

from schemas.words import CureResult, Evidence, Measure
from service.formulas.stages import ReasonKind


class KeptExcursion(TypedDict):
    """A time above the ceiling."""

    probe: str
    from_min: float
    to_min: float
    highest_c: float


class KeptSample(TypedDict):
    """One reading."""

    probe: str
    at_min: float
    temperature_c: float


class KeptDoubt(TypedDict):
    """A reading that cannot be true, or the moment from which a probe counts nothing."""

    probe: str
    at_min: float
    temperature_c: float
    why: str


class KeptReason(TypedDict):
    """What stands against a stage, or leaves it open.

    Attributes
    ----------
    kind
        time, longest, heating, cooling, over or evidence.
    at_min
        The hottest sample over a maximum, the begin of the fastest ramp; from the start of the cure.
    value
        What was found: minutes for a time, K/min for a ramp, °C for a maximum.
    limit
        What is allowed or asked, the same.
    """

    kind: ReasonKind
    sentence: str
    probe: str | None
    at_min: float | None
    value: float | None
    limit: float | None


class KeptStage(TypedDict):
    """One stage; minutes count from the start of the cure.

    Attributes
    ----------
    gaps
        Holes: where nothing is known of a required probe, from and to.
    reasons
        Why it is not proved; none where it is.
    mean_c
        Mean of the coldest probe over the time proved in the band; nothing where no probe was in it.
    """

    name: str
    low_c: float
    high_c: float | None
    minimum_min: float
    over_c: float | None
    air_over_c: float | None
    result: CureResult
    passed: bool
    proved_min: float
    longest_min: float
    sections: list[list[float]]
    gaps: list[list[float]]
    over: list[KeptExcursion]
    suspects: list[KeptDoubt]
    fastest_heating_k_min: float | None
    fastest_cooling_k_min: float | None
    completed_at_min: float | None
    sentences: list[str]
    reasons: list[KeptReason]
    mean_c: float | None


class KeptPressure(TypedDict):
    """One band of vacuum or pressure; minutes count from the start of the cure.

    Attributes
    ----------
    from_min
        Nothing where the stage at which it begins was not reached.
    """

    measure: Measure
    result: CureResult
    low_mbar: float | None
    high_mbar: float | None
    from_min: float | None
    until_min: float | None
    lowest_mbar: float | None
    highest_mbar: float | None
    sentences: list[str]


class KeptKinetics(TypedDict):
    """How far a system with fitted constants of its own has reacted; it never replaces a stated cure.

    Attributes
    ----------
    equivalent_min
        Minutes at reference_c that cure as far; no stated post-cure.
    gel_point
        Conversion of the scarcer groups; real ones lie somewhat above.
    gelled_by_min
        First sample past it, from the start of the cure.
    """

    system: str
    revision_number: int
    source: str | None
    probe: str
    degree_of_cure: float | None
    glass_transition_c: float | None
    reference_c: float
    equivalent_min: float | None
    rate_at_end_per_min: float | None
    gel_point: float | None
    gelled_by_min: float | None
    sentence: str


class KeptVerdict(TypedDict):
    """Whether a cure is proved, stage by stage.

    Attributes
    ----------
    result
        Not known and violated both hold; further evidence lifts only what is not known.
    final
        False while the cure runs: the verdict so far.
    needed
        The evidence that the schedule needs at least.
    evidence
        The best evidence that there is.
    judged_on
        Probes that were all required.
    """

    passed: bool
    result: CureResult
    final: bool
    needed: Evidence
    evidence: Evidence | None
    sentences: list[str]
    judged_on: list[str]
    stages: list[KeptStage]
    pressures: list[KeptPressure]
    highest: KeptSample | None
    coldest_probe: str | None
    kinetics: list[KeptKinetics]


def as_kept(verdict: dict[str, Any] | None) -> KeptVerdict | None:
    """A verdict as it was kept. An older one has no pressures and no mean, its reasons are read off its numbers, and
    its resin systems had a revision, as designs have.
    """
    if verdict is None:
        return None
    verdict.setdefault("pressures", [])
    for stage in verdict["stages"]:
        stage.setdefault("reasons", list(_reasons_in(stage)))
        stage.setdefault("mean_c", None)
    for system in verdict.get("kinetics", ()):
        if "revision" in system:
            system["revision_number"] = system.pop("revision")
    return cast(KeptVerdict, verdict)


def _reasons_in(stage: dict[str, Any]) -> Iterator[KeptReason]:
    if stage["passed"]:
        return
    for over in stage["over"]:
        yield {
            "kind": "over",
            "sentence": f"{over['probe']} was over {stage['over_c']:g} °C, {over['highest_c']:.1f} °C at the highest.",
            "probe": over["probe"],
            "at_min": over["from_min"],
            "value": over["highest_c"],
            "limit": stage["over_c"],
        }
    short = min(stage["proved_min"], stage["longest_min"])
    if not stage["over"] and short < stage["minimum_min"]:
        yield {
            "kind": "time",
            "sentence": stage["sentences"][0],
            "probe": None,
            "at_min": None,
            "value": short,
            "limit": stage["minimum_min"],
        }
