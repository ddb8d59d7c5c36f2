"""What the scales of a pot can know of its ratio: before the pour by the plan, after it by the readings themselves."""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from schemas.words import PARTS_OF_A_RATIO, Component, ScaleForm
from service.formulas.scales import too_coarse
from service.formulas.weighing import LARGEST_SHARE_OF_TOLERANCE, ratio_uncertainty_pct
from service.operations.ledger.amounts import grams
from service.operations.pots.measures import millilitres
from service.operations.pots.pot import Named, Pot
from service.operations.pots.pump_start import planned_strokes, pump_sentence, uncertainty_of
from service.operations.pots.scale import reading_u_g, smallest_honest_g, up_to_mg
from service.records.materials import Scale
from service.records.mixes import Mix, Pour


@dataclass(frozen=True, slots=True)
class ScaleInUse:
    """The scale that one component of a pot is weighed on.

    Attributes
    ----------
    repeatability_mg
        0 where it is not known.
    """

    component: Component
    scale: str
    name: str
    interval_mg: int
    repeatability_mg: int


@dataclass(frozen=True, slots=True)
class ScalesView:
    """The scales of one pot and what they can say of it (shop rules 17 and 18).

    Attributes
    ----------
    uncertainty_pct
        Of the ratio, k = 2.
    third_of_tolerance_pct
        What the uncertainty may be at most.
    smallest_honest_mg
        The smallest pot for which it is, from one can of each.
    weighed
        By the readings; else by what is planned.
    """

    scales: tuple[ScaleInUse, ...]
    uncertainty_pct: float
    third_of_tolerance_pct: float
    smallest_honest_mg: int
    honest: bool
    weighed: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Ability:
    """What two scales can know of a ratio that is only planned."""

    uncertainty_pct: float
    smallest_g: float
    zeroed: bool
    honest: bool


def ability(
    *,
    resin_mg: int,
    hardener_mg: int,
    ratio: float,
    tolerance_pct: float,
    resin_on: Scale,
    hardener_on: Scale,
    zeroed: bool,
    resin_pours: int = 1,
    hardener_pours: int = 1,
) -> Ability:
    """The uncertainty of a pot as planned, and the smallest pot for which these scales are fine enough."""
    each_zeroed = zeroed or resin_on.item_id != hardener_on.item_id
    u_a, u_b = reading_u_g(resin_on), reading_u_g(hardener_on)
    uncertainty = ratio_uncertainty_pct(
        resin_g=resin_mg / 1000,
        hardener_g=hardener_mg / 1000,
        resin_reading_u_g=u_a,
        hardener_reading_u_g=u_b,
        zeroed=each_zeroed,
        resin_readings=resin_pours,
        hardener_readings=hardener_pours,
    )
    smallest = smallest_honest_g(ratio, tolerance_pct, resin_on, hardener_on, zeroed=zeroed)
    coarse = too_coarse(uncertainty_pct=uncertainty, tolerance_pct=tolerance_pct)
    return Ability(uncertainty, smallest, each_zeroed, not coarse)


def scales_of(pot: Pot, uncertainty_pct: float | None) -> ScalesView:
    """The scales of a pot: those that it was weighed on, or while a component is missing those that were planned.

    `uncertainty_pct` is what the readings know of the ratio, if they do.
    """
    mix, pours = pot.mix, pot.pours
    if mix.plan.get("pump") is not None:
        return _pump(pot, uncertainty_pct)
    weighed = uncertainty_pct is not None
    on = {
        Component.RESIN: _read_on(pours, Component.RESIN) or [mix.plan["scale"]],
        Component.HARDENER: _read_on(pours, Component.HARDENER) or [mix.plan["hardener_scale"]],
    }
    # Of several for one component the coarsest counts.
    coarsest = {c: max((pot.scale(number) for number in listed), key=reading_u_g) for c, listed in on.items()}
    zeroed = all(p.zeroed or p.emptied_cup_mg is not None for p in pours) if weighed else mix.plan["zeroed"]
    planned = ability(
        resin_mg=mix.plan["resin_mg"],
        hardener_mg=mix.plan["hardener_mg"],
        ratio=mix.ratio,
        tolerance_pct=mix.tolerance_pct,
        resin_on=coarsest[Component.RESIN],
        hardener_on=coarsest[Component.HARDENER],
        zeroed=zeroed or mix.separate_cups,
        resin_pours=_planned(pot, Component.RESIN),
        hardener_pours=_planned(pot, Component.HARDENER),
    )
    known, honest = planned.uncertainty_pct, planned.honest
    if uncertainty_pct is not None:
        known = uncertainty_pct
        honest = not too_coarse(uncertainty_pct=known, tolerance_pct=mix.tolerance_pct)
    used = tuple(
        ScaleInUse(
            pot.told(c), pot.named[n].code, pot.named[n].name, pot.scale(n).interval_mg, pot.scale(n).repeatability_mg
        )
        for c, listed in on.items()
        for n in listed
    )
    steps = dict.fromkeys(_step(pot.named[n], pot.scale(n)) for listed in on.values() for n in listed)
    return ScalesView(
        scales=used,
        uncertainty_pct=known,
        third_of_tolerance_pct=mix.tolerance_pct * LARGEST_SHARE_OF_TOLERANCE,
        smallest_honest_mg=up_to_mg(planned.smallest_g),
        honest=honest,
        weighed=weighed,
        sentence=_sentence(steps, mix, known, planned.smallest_g, honest, weighed=weighed),
    )


def _pump(pot: Pot, weighed_pct: float | None) -> ScalesView:
    """What a pump can know: by the spread of its shots at the check, and of as many strokes as the pot takes."""
    mix, shots, pump = pot.mix, pot.mix.plan["pump"], pot.mix.plan["scale"]
    planned = planned_strokes(shots, mix.plan["resin_mg"], mix.plan["hardener_mg"])
    known = planned.uncertainty_pct if weighed_pct is None else weighed_pct
    third = mix.tolerance_pct * LARGEST_SHARE_OF_TOLERANCE
    enough = (n for n in range(1, _MOST_STROKES) if uncertainty_of(shots, n, n) <= third)
    strokes = next(enough, 0)
    named, row = pot.named[pump], pot.scale(pump)
    used = tuple(ScaleInUse(c, named.code, named.name, row.interval_mg, 0) for c in PARTS_OF_A_RATIO)
    return ScalesView(
        scales=used,
        uncertainty_pct=known,
        third_of_tolerance_pct=third,
        smallest_honest_mg=round(strokes * (shots["resin_g"] + shots["hardener_g"]) * 1000),
        honest=not too_coarse(uncertainty_pct=min(1e9, known), tolerance_pct=mix.tolerance_pct),
        weighed=weighed_pct is not None,
        sentence=pump_sentence(named.code, named.name, known, mix.tolerance_pct),
    )


# With so many strokes the spread of the check alone is left.
_MOST_STROKES = 200


def _read_on(pours: Iterable[Pour], component: Component) -> list[int]:
    return list(dict.fromkeys(p.scale_id for p in pours if p.component == component))


def _planned(pot: Pot, component: Component) -> int:
    return max(1, len({p.container_id for p in pot.plans if p.component == component}))


def _step(named: Named, row: Scale) -> str:
    """A scale with what it can show; a graduated measure is read to its nearest line."""
    if row.form == ScaleForm.MEASURE:
        return f"{named.code} {named.name} (step {millilitres(row.interval_mg)})"
    known = f"repeatability {grams(row.repeatability_mg)}" if row.repeatability_mg else "repeatability not known"
    return f"{named.code} {named.name} (step {grams(row.interval_mg)}, {known})"


def _sentence(
    told: Collection[str], mix: Mix, uncertainty: float, smallest_g: float, honest: bool, *, weighed: bool
) -> str:
    third = mix.tolerance_pct * LARGEST_SHARE_OF_TOLERANCE
    knows = "knew" if weighed else "can know"
    smallest = math.ceil(round(smallest_g * 10, 6)) / 10
    where = "on it" if len(told) == 1 else "on them"
    if honest:
        end = f"within a third of the tolerance, {third:.2g} %; the smallest honest pot {where} is {smallest:g} g."
    else:
        end = f"more than a third of the tolerance, {third:.2g} %: too coarse for this pot. "
        end += f"The smallest honest pot {where} is {smallest:g} g, from one can of each."
    return f"{' and '.join(told)} {knows} the ratio to ± {uncertainty:.2g} % (k = 2), {end}"
