"""How many pots, how large, from which cans, and when to start each (shop rules 13, 18 and 26).

- ``Can``: what is left in a can; ``PlannedPot``, ``PotPlan``: the answer.
- :func:`largest_workable_pot_g`: the pot that can be worked within its life.
- :func:`plan_pots`: fewest pots, then fewest lots touched, then least left over.

Pots are mixed one after the other, never several at once. A plan does not replace watching the cup: one that warms up
is spread out or taken outside, whatever the clock says.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas._draws import Draw, draws_for_equal_pots
from service.formulas.clocks import LifePoint, life_min
from service.formulas.ranges import OutOfRange, within

__all__ = ["Can", "PlannedPot", "PotPlan", "largest_workable_pot_g", "plan_pots"]

MOST_POTS = 200
MOST_CANS = 40


@dataclass(frozen=True, slots=True)
class Can:
    """A can on the shelf.

    Attributes
    ----------
    code : str
        What its label says [text].
    lot : str
        The lot in it [text].
    left_g : float
        What the book says is left, -1e6 to 1e6; nothing is planned from a can at or below zero [g].
    """

    code: str
    lot: str
    left_g: float

    def __post_init__(self) -> None:
        within("left_g", self.left_g, -1e6, 1e6, unit="g")


@dataclass(frozen=True, slots=True)
class PlannedPot:
    """One pot of a plan.

    Attributes
    ----------
    total_g : float
        Resin and hardener together [g].
    resin_g : float
        Resin [g].
    hardener_g : float
        Hardener [g].
    draws : tuple of (code, grams)
        From which can how much, resin first [list of g].
    start_after_min : float
        When to start it, from the start of the first pot [min].
    """

    total_g: float
    resin_g: float
    hardener_g: float
    draws: tuple[tuple[str, float], ...]
    start_after_min: float


@dataclass(frozen=True, slots=True)
class PotPlan:
    """How to mix what is needed, or what is short.

    Attributes
    ----------
    possible : bool
        Whether there is a plan [-].
    pots : tuple of PlannedPot
        The pots in the order of mixing; none if there is no plan [g, min].
    leftover_g : float
        Mixed over the need, because a pot may not be smaller [g].
    lots_touched : tuple of str
        The lots drawn from, resin first [text].
    short_resin_g : float
        Resin missing on the shelf [g].
    short_hardener_g : float
        Hardener missing on the shelf [g].
    sentences : tuple of str
        The plan and its reasons in words [text].
    """

    possible: bool
    pots: tuple[PlannedPot, ...]
    leftover_g: float
    lots_touched: tuple[str, ...]
    short_resin_g: float
    short_hardener_g: float
    sentences: tuple[str, ...]


def largest_workable_pot_g(
    *,
    points: Sequence[LifePoint],
    temperature_c: float,
    wet_out_rate_g_min: float,
    working_share: float,
    largest_pot_g: float,
) -> float:
    """Largest pot that can be wetted out within its share of the pot life.

    Formula: the largest m with ``m/rate <= share * life(m)``, not above the largest pot allowed nor the heaviest mass
    of the table, to the milligram below.

    Parameters
    ----------
    points : sequence of LifePoint
        The cup's table of life [g, °C, min].
    temperature_c : float
        Temperature of the mix [°C].
    wet_out_rate_g_min : float
        What the people at the mould work in together [g/min].
    working_share : float
        Share of the pot life that wetting out may take [-].
    largest_pot_g : float
        Largest pot that the resin system allows [g].

    Returns
    -------
    float
        Mass of the mix [g]; 0 where the table gives no figure, because the shop is hotter than it.

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or the table contradicts itself (see ``life_min``).

    Valid range
    -----------
    Rate above 0 and at most 1e5 g/min; share above 0 and at most 1; largest pot 0.01 to 1e6 g.

    Examples
    --------
    >>> table = [LifePoint(100, 20, 40), LifePoint(400, 20, 30)]
    >>> largest_workable_pot_g(
    ...     points=table, temperature_c=20, wet_out_rate_g_min=10, working_share=0.5, largest_pot_g=400
    ... )
    177.5

    Source
    ------
    Shop rules 24 and 26; common practice, no source, for the share.
    """
    rate = within("wet_out_rate_g_min", wet_out_rate_g_min, 0, 1e5, above=True, unit="g/min")
    share = within("working_share", working_share, 0, 1, above=True)
    largest = within("largest_pot_g", largest_pot_g, 0.01, 1e6, unit="g")

    def workable(mass_mg: int) -> bool:
        life = life_min(points=points, mass_g=mass_mg / 1000, temperature_c=temperature_c).minutes
        return life is not None and mass_mg / 1000 / rate <= share * life

    low, high = 0, math.floor(largest * 1000 + 1e-6)
    if workable(high):
        return high / 1000
    # Work grows with the mass and life does not: one crossing, found by halving.
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if workable(middle) else (low, middle)
    return low / 1000


def plan_pots(
    *,
    need_g: float,
    wet_out_rate_g_min: float,
    points: Sequence[LifePoint],
    temperature_c: float,
    largest_pot_g: float,
    smallest_honest_pot_g: float,
    ratio: float,
    resin_cans: Sequence[Can],
    hardener_cans: Sequence[Can],
    working_share: float,
) -> PotPlan:
    """Plan equal pots for a job: fewest pots, then fewest lots touched, then least left over.

    All pots are equal, so that the same two masses are weighed each time. Cans are used in the order given, first
    expired first and the opened one before the sealed; among plans with equally few lots, the earlier lots win. A pot
    is not split over two cans for less than a tenth of it; what is too little for that stays in its can. Where that
    rule leaves no plan with the fewest pots, one pot more is tried.

    Parameters
    ----------
    need_g : float
        Mixed resin needed, losses included [g].
    wet_out_rate_g_min : float
        What the people at the mould work in together [g/min].
    points : sequence of LifePoint
        The cup's table of life [g, °C, min].
    temperature_c : float
        Temperature of the mix [°C].
    largest_pot_g : float
        Largest pot that the resin system allows [g].
    smallest_honest_pot_g : float
        Smallest pot that the scale can weigh to the tolerance [g].
    ratio : float
        Hardener to resin by weight [-].
    resin_cans : sequence of Can
        Cans of resin that are fit for use, in the order in which they should be used [g].
    hardener_cans : sequence of Can
        The same for hardener [g].
    working_share : float
        Share of the pot life that wetting out may take [-].

    Returns
    -------
    PotPlan
        The pots, or what is short [g, min].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or the job would take more than 200 pots.

    Valid range
    -----------
    Need 0.01 to 1e6 g; ratio 0.001 to 10; at most 40 cans a side; see ``largest_workable_pot_g`` for the rest.

    Examples
    --------
    >>> plan = plan_pots(
    ...     need_g=300,
    ...     wet_out_rate_g_min=10,
    ...     points=[LifePoint(100, 20, 40), LifePoint(400, 20, 30)],
    ...     temperature_c=20,
    ...     largest_pot_g=400,
    ...     smallest_honest_pot_g=55,
    ...     ratio=0.30,
    ...     resin_cans=[Can("C1", "A", 100), Can("C2", "B", 5000)],
    ...     hardener_cans=[Can("C3", "H", 1000)],
    ...     working_share=0.5,
    ... )
    >>> [(pot.total_g, pot.start_after_min) for pot in plan.pots], plan.lots_touched
    ([(150.0, 0.0), (150.0, 15.0)], ('B', 'H'))

    Source
    ------
    Shop rules 13, 18 and 26. Not several pots at once: US Army TM 1-1500-204-23-11.
    """
    need = math.ceil(within("need_g", need_g, 0.01, 1e6, unit="g") * 1000 - 1e-6)
    smallest = math.ceil(within("smallest_honest_pot_g", smallest_honest_pot_g, 0, 1e6, unit="g") * 1000 - 1e-6)
    within("ratio", ratio, 0.001, 10)
    for name, cans in (("resin_cans", resin_cans), ("hardener_cans", hardener_cans)):
        if len(cans) > MOST_CANS or len({can.code for can in cans}) < len(cans):
            raise OutOfRange(name, f"a list of {len(cans)} cans", f"a list of at most {MOST_CANS} cans, each once")
    largest_g = largest_workable_pot_g(
        points=points,
        temperature_c=temperature_c,
        wet_out_rate_g_min=wet_out_rate_g_min,
        working_share=working_share,
        largest_pot_g=largest_pot_g,
    )
    largest = math.floor(largest_g * 1000 + 0.5)
    if largest == 0:
        return _no_plan("At this temperature the table gives no pot life: cool the shop or take a slower hardener.")
    limit = _limit(largest, largest_pot_g, points, wet_out_rate_g_min, working_share)
    if largest < smallest:
        finer = f"One of less than {smallest / 1000:.1f} g is not weighed well enough"
        return _no_plan(f"{limit} {finer}: take a finer scale, a slower hardener or more hands.")
    fewest = -(-need // largest)
    if fewest > MOST_POTS:
        raise OutOfRange("need_g", f"{need_g:g} ({fewest} pots)", f"a need that takes at most {MOST_POTS} pots")
    for pots in range(fewest, MOST_POTS + 1):
        pot = max(-(-need // pots), smallest)
        if pots > fewest and pots * pot > need + pots:
            break
        resin, hardener = _parts(pot, ratio)
        resin_draws = _draws(resin, pots, resin_cans)
        hardener_draws = _draws(hardener, pots, hardener_cans) if resin_draws else None
        if resin_draws and hardener_draws:
            both = (resin_cans, hardener_cans)
            plan = _plan(pot, resin, resin_draws, hardener_draws, both, wet_out_rate_g_min, need)
            return PotPlan(True, *plan, 0.0, 0.0, _sentences(*plan, pots, fewest, limit))
    return _short(fewest, max(-(-need // fewest), smallest), ratio, resin_cans, hardener_cans)


def _limit(largest: int, largest_pot_g: float, points: Sequence[LifePoint], rate: float, share: float) -> str:
    grams = largest / 1000
    if grams >= largest_pot_g - 0.001:
        reason = "the resin system allows no larger one"
    elif grams >= max(point.mass_g for point in points) - 0.001:
        reason = "the table of pot life ends there"
    else:
        reason = f"wetting out takes {grams / rate:.0f} min, which is {100 * share:.0f} % of its life"
    return f"A pot is at most {grams:.1f} g: {reason}."


def _parts(pot_mg: int, ratio: float) -> tuple[int, int]:
    resin = round(pot_mg / (1 + ratio))
    return resin, pot_mg - resin


def _draws(pot_mg: int, pots: int, cans: Sequence[Can]) -> list[list[Draw]] | None:
    left = [_left_mg(can) for can in cans]
    return draws_for_equal_pots(pot_mg=pot_mg, pots=pots, lots=[can.lot for can in cans], left_mg=left)


def _left_mg(can: Can) -> int:
    return max(0, math.floor(can.left_g * 1000 + 1e-6))


def _plan(
    pot: int,
    resin: int,
    resin_draws: list[list[Draw]],
    hardener_draws: list[list[Draw]],
    cans: tuple[Sequence[Can], Sequence[Can]],
    rate: float,
    need: int,
) -> tuple[tuple[PlannedPot, ...], float, tuple[str, ...]]:
    planned = []
    touched: dict[str, None] = {}
    for number, sides in enumerate(zip(resin_draws, hardener_draws, strict=True)):
        draws = [(cans[side][can].code, mg / 1000) for side in (0, 1) for can, mg in sides[side]]
        start = number * pot / 1000 / rate
        planned.append(PlannedPot(pot / 1000, resin / 1000, (pot - resin) / 1000, tuple(draws), start))
    for side, all_draws in enumerate((resin_draws, hardener_draws)):
        used = {can for draws in all_draws for can, _ in draws}
        touched |= {can.lot: None for index, can in enumerate(cans[side]) if index in used}
    leftover = (len(planned) * pot - need) / 1000
    return tuple(planned), leftover, tuple(touched)


def _sentences(
    pots: tuple[PlannedPot, ...], leftover: float, lots: tuple[str, ...], count: int, fewest: int, limit: str
) -> tuple[str, ...]:
    first = pots[0]
    each = f"{first.total_g:.1f} g: {first.resin_g:.1f} g of resin and {first.hardener_g:.1f} g of hardener"
    sentences = [f"{count} pots of {each} each." if count > 1 else f"One pot of {each}.", limit]
    if count > 1:
        sentences.append(
            f"Start a pot when the one before is used up, about every {pots[1].start_after_min:.0f} min; "
            "do not mix several at once."
        )
    if count > fewest:
        sentences.append(f"{fewest} would be enough, but not without taking less than a tenth of a pot from a can.")
    if leftover >= 0.05:
        sentences.append(f"{leftover:.1f} g will be left over, because a smaller pot is not weighed well enough.")
    split = [str(number) for number, pot in enumerate(pots, 1) if len(pot.draws) > 2]
    if split:
        sentences.append(f"Drawn from more than one can: pot {', '.join(split)}.")
    sentences.append(f"Lots touched: {', '.join(lots)}.")
    return tuple(sentences)


def _no_plan(sentence: str, short_resin_g: float = 0.0, short_hardener_g: float = 0.0) -> PotPlan:
    return PotPlan(False, (), 0.0, (), short_resin_g, short_hardener_g, (sentence,))


def _short(pots: int, pot: int, ratio: float, resin_cans: Sequence[Can], hardener_cans: Sequence[Can]) -> PotPlan:
    resin, hardener = _parts(pot, ratio)
    missing = [
        max(0, pots * amount - sum(map(_left_mg, cans))) / 1000
        for amount, cans in ((resin, resin_cans), (hardener, hardener_cans))
    ]
    said = [f"{grams:.1f} g of {name}" for grams, name in zip(missing, ("resin", "hardener"), strict=True) if grams]
    if said:
        return _no_plan(f"The shelf is short of {' and '.join(said)}.", *missing)
    return _no_plan(
        "The cans hold enough in all, but not without taking less than a tenth of a pot from one of them: "
        "mix less, or fetch another can."
    )
