"""What the scales of a pot can know of its ratio: before the pour by the plan, after it by the readings themselves."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from schemas.words import Component
from service.formulas.scales import smallest_honest_pot_g, too_coarse
from service.formulas.weighing import LARGEST_SHARE_OF_TOLERANCE, ratio_uncertainty_pct
from service.operations.pots.pot import Pot
from service.operations.pots.scales import reading_u_g
from service.operations.pots.verdict import Judgement
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Scale
from service.records.mixes import Mix, PlannedPour, Pour


@dataclass(frozen=True, slots=True)
class ScaleInUse:
    component: str
    scale: str
    name: str
    interval_mg: int
    repeatability_mg: int


@dataclass(frozen=True, slots=True)
class ScalesView:
    """The scales of one pot and what they can say of it (shop rules 17 and 18)."""

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
    smallest = smallest_honest_pot_g(
        ratio=ratio, tolerance_pct=tolerance_pct, resin_reading_u_g=u_a, hardener_reading_u_g=u_b, zeroed=each_zeroed
    )
    coarse = too_coarse(uncertainty_pct=uncertainty, tolerance_pct=tolerance_pct)
    return Ability(uncertainty, smallest, each_zeroed, not coarse)


def scales_of(pot: Pot, judged: Judgement | None) -> ScalesView:
    """The scales of a pot: those that it was weighed on, or while a component is missing those that were planned."""
    numbers = scale_numbers(pot.mix, pot.pours)
    return scales_view(
        pot.mix,
        pours=pot.pours,
        plans=pot.plans,
        uncertainty_pct=None if judged is None else judged.uncertainty_pct,
        rows={row.item_id: row for row in rows_among(Scale, Scale.item, numbers)},
        items={item.id: item for item in rows_among(Item, Item.id, numbers)},
    )


def scale_numbers(mix: Mix, pours: Iterable[Pour]) -> set[int]:
    """The numbers of all scales that a pot was planned or weighed on."""
    return {mix.plan["scale"], mix.plan["hardener_scale"], *(p.scale_id for p in pours)}


def scales_view(
    mix: Mix,
    *,
    pours: Sequence[Pour],
    plans: Sequence[PlannedPour],
    uncertainty_pct: float | None,
    rows: Mapping[int, Scale],
    items: Mapping[int, Item],
) -> ScalesView:
    """The same of rows that are at hand: the pours that stand, and what the readings know of the ratio, if they do."""
    weighed = uncertainty_pct is not None
    on = {
        Component.RESIN: _read_on(pours, Component.RESIN) or [mix.plan["scale"]],
        Component.HARDENER: _read_on(pours, Component.HARDENER) or [mix.plan["hardener_scale"]],
    }
    # Of several for one component the coarsest counts.
    coarsest = {c: max((rows[number] for number in listed), key=reading_u_g) for c, listed in on.items()}
    zeroed = all(p.zeroed or p.emptied_cup_mg is not None for p in pours) if weighed else mix.plan["zeroed"]
    planned = ability(
        resin_mg=mix.plan["resin_mg"],
        hardener_mg=mix.plan["hardener_mg"],
        ratio=mix.ratio,
        tolerance_pct=mix.tolerance_pct,
        resin_on=coarsest[Component.RESIN],
        hardener_on=coarsest[Component.HARDENER],
        zeroed=zeroed or mix.separate_cups,
        resin_pours=_planned(plans, Component.RESIN),
        hardener_pours=_planned(plans, Component.HARDENER),
    )
    known, honest = planned.uncertainty_pct, planned.honest
    if uncertainty_pct is not None:
        known = uncertainty_pct
        honest = not too_coarse(uncertainty_pct=known, tolerance_pct=mix.tolerance_pct)
    used = tuple(
        ScaleInUse(c, items[n].code, items[n].name, rows[n].interval_mg, rows[n].repeatability_mg)
        for c, listed in on.items()
        for n in listed
    )
    return ScalesView(
        scales=used,
        uncertainty_pct=known,
        third_of_tolerance_pct=mix.tolerance_pct * LARGEST_SHARE_OF_TOLERANCE,
        smallest_honest_mg=math.ceil(planned.smallest_g * 1000 - 1e-6),
        honest=honest,
        weighed=weighed,
        sentence=_sentence(used, mix, known, planned.smallest_g, honest, weighed=weighed),
    )


def _read_on(pours: Iterable[Pour], component: Component) -> list[int]:
    return list(dict.fromkeys(p.scale_id for p in pours if p.component == component))


def _planned(plans: Iterable[PlannedPour], component: Component) -> int:
    return max(1, sum(p.component == component for p in plans))


def _sentence(
    used: Sequence[ScaleInUse], mix: Mix, uncertainty: float, smallest_g: float, honest: bool, *, weighed: bool
) -> str:
    told = dict.fromkeys(
        f"{s.scale} {s.name} (step {s.interval_mg / 1000:g} g, "
        f"{f'repeatability {s.repeatability_mg / 1000:g} g' if s.repeatability_mg else 'repeatability not known'})"
        for s in used
    )
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
