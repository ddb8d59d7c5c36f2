"""A pot as one of a job that was planned in several: what the planner says at its start, kept with the pot."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.operations.door.refusals import Unprocessable
from service.operations.ledger.amounts import grams
from service.operations.pots.planning import pots_of_job
from service.operations.pots.scale import smallest_honest_g, up_to_mg
from service.operations.pots.system import SystemView
from service.operations.stock.load import Loaded
from service.records.materials import Scale

# A pot is weighed to round figures; that far from the plan it is still the planned one.
_ROUNDED_MG, _ROUNDED_SHARE = 1000, 0.01


@dataclass(frozen=True, slots=True)
class JobPlan:
    """The plan of what is still to be mixed, this pot counted, by the facts of its start.

    Attributes
    ----------
    need_mg
        Mixed resin that the whole job takes.
    still_needed_mg
        What of it is not mixed yet, this pot counted.
    pots
        How many the rest of the job takes, this one counted.
    pot_mg
        How large each would be.
    largest_workable_mg
        What can be wetted out in its share of the pot life.
    smallest_honest_mg
        What the scales can still judge.
    agrees
        Whether this pot is of the planned size.
    """

    number: int
    of: int
    need_mg: int
    still_needed_mg: int
    wet_out_rate_g_min: float
    working_share: float
    temperature_c: float
    possible: bool
    pots: int
    pot_mg: int | None
    largest_workable_mg: int
    smallest_honest_mg: int
    agrees: bool
    sentences: tuple[str, ...]
    sentence: str


def plan_of_job(
    view: SystemView,
    hardener: int,
    asked: Mapping[str, Any] | None,
    *,
    resin_cans: Sequence[Loaded],
    hardener_cans: Sequence[Loaded],
    pot_mg: int,
    temperature_c: float | None,
    scales: tuple[Scale, Scale],
    zeroed: bool,
) -> JobPlan | None:
    """Run the planner for what is left of the job; nobody is stopped by its answer, which is kept as it was."""
    if asked is None:
        return None
    number, of = int(asked["number"]), int(asked["of"])
    if number > of:
        raise Unprocessable(f"There is no pot {number} of {of}.", pointer="/plan/number")
    if temperature_c is None:
        raise Unprocessable("A plan goes by the temperature of the mix; give it too.", pointer="/temperature_c")
    one = next(h for h in view.hardeners if h.material == hardener)
    smallest = smallest_honest_g(one.ratio, one.tolerance_pct, *scales, zeroed=zeroed)
    # The pots of a job are equal: those before this one have taken their share of it.
    still = asked["need_mg"] * (of - number + 1) / of
    share = asked.get("working_share") or 0.5
    plan, _, largest = pots_of_job(
        view,
        one,
        resin_cans=resin_cans,
        hardener_cans=hardener_cans,
        need_g=still / 1000,
        wet_out_rate_g_min=asked["wet_out_rate_g_min"],
        temperature_c=temperature_c,
        working_share=share,
        smallest_honest_pot_g=smallest,
    )
    planned = round(plan.pots[0].total_g * 1000) if plan.possible else None
    agrees = planned is not None and abs(planned - pot_mg) <= max(_ROUNDED_MG, planned * _ROUNDED_SHARE)
    return JobPlan(
        number=number,
        of=of,
        need_mg=asked["need_mg"],
        still_needed_mg=round(still),
        wet_out_rate_g_min=asked["wet_out_rate_g_min"],
        working_share=share,
        temperature_c=temperature_c,
        possible=plan.possible,
        pots=len(plan.pots),
        pot_mg=planned,
        largest_workable_mg=math.floor(largest * 1000 + 1e-6),
        smallest_honest_mg=up_to_mg(smallest),
        agrees=agrees,
        sentences=plan.sentences,
        sentence=_sentence(number, of, pot_mg, planned, len(plan.pots), agrees),
    )


def _sentence(number: int, of: int, pot_mg: int, planned: int | None, pots: int, agrees: bool) -> str:
    """One line for the records of the pot: nothing in it of the shelf or of other lots."""
    this = f"Pot {number} of {of}, {grams(pot_mg)}"
    if planned is None:
        return f"{this}: there was no plan for what is left of the job."
    said = f"{pots} pots of {grams(planned)}" if pots > 1 else f"one pot of {grams(planned)}"
    return f"{this}: {'as planned' if agrees else 'not as planned'}; what is left of the job takes {said}."


def kept_plan(plan: Mapping[str, Any]) -> JobPlan | None:
    """The planner's answer as it was kept with the pot."""
    kept = plan.get("job")
    return None if kept is None else JobPlan(**{**kept, "sentences": tuple(kept["sentences"])})
