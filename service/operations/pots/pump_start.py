"""A pot that is pumped: what its pump can know of it before, and how many strokes are next (shop rule 23a)."""

from dataclasses import dataclass
from typing import Any

from schemas.words import Component, ScaleForm, State
from service.formulas.pumps import pumped_uncertainty_pct
from service.formulas.scales import too_coarse
from service.formulas.weighing import LARGEST_SHARE_OF_TOLERANCE
from service.operations.door.refusals import PumpNotChecked, Unprocessable, WrongPair
from service.operations.ledger.amounts import grams
from service.operations.pots.pot import Pot
from service.operations.pots.scale import LoadedScale
from service.operations.pots.told import NextPour


@dataclass(frozen=True, slots=True)
class Strokes:
    """How many strokes of each side make a pot, and what can be known of its ratio."""

    resin: int
    hardener: int
    uncertainty_pct: float


def planned_strokes(shots: dict[str, Any], resin_mg: int, hardener_mg: int) -> Strokes:
    """The nearest whole strokes, one at least."""
    resin = max(1, round(resin_mg / 1000 / shots["resin_g"]))
    hardener = max(1, round(hardener_mg / 1000 / shots["hardener_g"]))
    return Strokes(resin, hardener, uncertainty_of(shots, resin, hardener))


def uncertainty_of(shots: dict[str, Any], resin: int, hardener: int) -> float:
    return pumped_uncertainty_pct(
        resin_strokes=min(10_000, resin),
        hardener_strokes=min(10_000, hardener),
        resin_shot_g=shots["resin_g"],
        hardener_shot_g=shots["hardener_g"],
        resin_spread_g=shots["resin_spread_g"],
        hardener_spread_g=shots["hardener_spread_g"],
        pairs=shots["pairs"],
    )


def pump_sentence(code: str, name: str, uncertainty_pct: float, tolerance_pct: float) -> str:
    """What a pump can know, in a sentence; a coarse one is told of, not refused: it is what the shop has."""
    third = tolerance_pct * LARGEST_SHARE_OF_TOLERANCE
    knows = f"Pump {code} {name} can know the ratio to ± {uncertainty_pct:.2g} % (k = 2)"
    if too_coarse(uncertainty_pct=min(1e9, uncertainty_pct), tolerance_pct=tolerance_pct):
        return f"{knows}, more than a third of the tolerance, {third:.2g} %: weigh the pot, or give more strokes."
    return f"{knows}, within a third of the tolerance, {third:.2g} %."


def next_strokes(pot: Pot) -> NextPour | None:
    """The strokes of both sides, each counted for itself."""
    if pot.item.state != State.WEIGHING or pot.pours:
        return None
    shots, plan = pot.mix.plan["pump"], pot.mix.plan
    strokes = planned_strokes(shots, plan["resin_mg"], plan["hardener_mg"])
    resin = next((p for p in pot.open_plans if p.component == Component.RESIN), None)
    if resin is None:
        return None
    given = round(strokes.resin * shots["resin_g"] * 1000), round(strokes.hardener * shots["hardener_g"] * 1000)
    return NextPour(
        component=Component.RESIN,
        container=pot.named[resin.container_id].code,
        scale=pot.named[plan["scale"]].code,
        target_mg=given[0],
        scale_reading_if_not_zeroed_mg=None,
        tolerance_from_mg=None,
        tolerance_to_mg=None,
        accepted_from_mg=None,
        accepted_to_mg=None,
        if_not_zeroed=None,
        provable=None,
        sentence=f"Give {strokes.resin} strokes of resin and {strokes.hardener} of hardener, some "
        f"{grams(sum(given))}; count each side for itself.",
    )


def pump_of(loaded: LoadedScale, resin: int, hardener: int) -> dict[str, Any] | None:
    """The shots of a pump that a pot is started with; nothing where it is a scale."""
    return shots_of(loaded, resin, hardener) if loaded.row.form == ScaleForm.PUMP else None


def shots_of(loaded: LoadedScale, resin: int, hardener: int) -> dict[str, Any]:
    """What the last check of a pump says of its shots of these two; a refusal where there is none."""
    item, last = loaded.item, loaded.last
    if loaded.row.form != ScaleForm.PUMP:
        raise Unprocessable(f"{item.code} is a {loaded.row.form}; strokes come from a pump.", pointer="/scale")
    if last is None or last.shots is None:
        raise PumpNotChecked(
            f"The shots of {item.code} {item.name} were never weighed, so nobody knows what a stroke gives.",
            way_out="Weigh at least six pairs of shots, and record the check.",
            scale=item.code,
        )
    shots: dict[str, Any] = last.shots
    if (shots["resin"], shots["hardener"]) != (resin, hardener):
        raise WrongPair(
            f"{item.code} {item.name} was checked with another resin or hardener.",
            way_out="Check it with what is on it now.",
            scale=item.code,
        )
    return shots
