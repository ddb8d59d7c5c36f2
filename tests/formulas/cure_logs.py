"""A log and a schedule in a line or two, for the tests of what a cure log proves."""

from typing import Any

from service.formulas.cure_verdicts import cure_verdict, stage_verdict
from service.formulas.stages import CureVerdict, Stage, StageVerdict


def asked(name: str = "hold", **facts: Any) -> Stage:
    """A stage that states no highest temperatures where a test is not about them."""
    return Stage(**{"name": name, "over_c": None, "air_over_c": None, **facts})


def judged(stage: Stage, times: Any, *traces: Any, longest: float = 10) -> StageVerdict:
    """A log of required probes P1, P2, … against one stage; its samples may be ``longest`` apart."""
    probes = {f"P{number}": trace for number, trace in enumerate(traces, 1)}
    return stage_verdict(
        stage=stage, times_min=times, probes=probes, required=list(probes), longest_interval_min=longest
    )


def in_order(stages: list[Stage], times: Any, probes: Any, longest: float = 10) -> CureVerdict:
    return cure_verdict(
        stages=stages, times_min=times, probes=probes, required=list(probes), longest_interval_min=longest
    )
