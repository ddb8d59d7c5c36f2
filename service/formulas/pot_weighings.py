"""One pot on the scale: what to weigh before it is poured, and what its readings say of its ratio afterwards.

- ``Weighing``: one pour as the scale showed it.
- :func:`weighed_ratio_uncertainty_pct`: uncertainty of the ratio, whatever mixture of zeroed and running readings.
- ``PotTargets``, :func:`pot`: targets and limits of one pot on one scale, and whether the scale can judge it.
- :func:`possible_ratio_error_pct`: how far a scale that failed its check may have put a ratio out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.formulas.ranges import OutOfRange, mass, series, within
from service.formulas.ratio import hardener_target_g, split_total, tolerance_pct
from service.formulas.scales import acceptance_limits, smallest_honest_pot_g
from service.formulas.weighing import (
    COVERAGE_FACTOR,
    LARGEST_INTERVAL_G,
    ratio_uncertainty_pct,
    reading_uncertainty_g,
    too_coarse,
)

__all__ = ["PotTargets", "Weighing", "possible_ratio_error_pct", "pot", "weighed_ratio_uncertainty_pct"]

MOST_WEIGHINGS = 200


@dataclass(frozen=True, slots=True)
class Weighing:
    """One pour as the scale showed it.

    Attributes
    ----------
    component : {'resin', 'hardener'}
        What was poured [text].
    scale : str
        Which scale showed it [text].
    reading_u_g : float
        Standard uncertainty of one reading of that scale [g].
    zeroed : bool
        True if the scale was zeroed before (or an emptied cup weighed back); False if it ran on from its reading
        before [-].
    """

    component: Literal["resin", "hardener"]
    scale: str
    reading_u_g: float
    zeroed: bool


def weighed_ratio_uncertainty_pct(*, weighings: Sequence[Weighing], resin_g: float, hardener_g: float) -> float:
    """Expanded uncertainty (k = 2) of the ratio of a pot from its readings in their order.

    Formula: a pour is the difference of two readings, so ``ln(b/a)`` moves with reading j by ``c_j = sum(+-1/b) -
    sum(+-1/a)`` over the pours that begin or end with it, and ``(U/200)**2 = sum(c_j**2*u_j**2)``. A zeroed pour has a
    zero of its own; one that runs on begins where the pour before it on the same scale ended. For one pour of each
    component this is :func:`service.formulas.weighing.ratio_uncertainty_pct`.

    Parameters
    ----------
    weighings : sequence of Weighing
        The pours in the order in which they were weighed [list of g].
    resin_g : float
        All resin poured, a [g].
    hardener_g : float
        All hardener poured, b [g].

    Returns
    -------
    float
        Expanded uncertainty, k = 2 [% of ratio].

    Raises
    ------
    OutOfRange
        If a mass or an uncertainty is outside its range, or a component has no weighing.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; uncertainty of a reading above 0 and at most 1000 g; 2 to 200 weighings.

    Examples
    --------
    >>> pours = [Weighing("resin", "S1", 0.0288675, True), Weighing("hardener", "S1", 0.0288675, True)]
    >>> weighed_ratio_uncertainty_pct(weighings=pours, resin_g=100, hardener_g=30)
    0.284

    Source
    ------
    Shop rule 17; JCGM 100:2008 5.1.2 and 5.1.3, combined standard uncertainty and sensitivity coefficients (read:
    https://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/05_e.html).
    """
    a, b = mass("resin_g", resin_g), mass("hardener_g", hardener_g)
    given = series("weighings", weighings, least=2, most=MOST_WEIGHINGS)
    if {one.component for one in given} != {"resin", "hardener"}:
        raise OutOfRange("weighings", "without one of the components", "weighings of resin and of hardener")
    variance = 0.0
    # The last reading of each scale: how ln(b/a) moves with it so far, and its uncertainty.
    last: dict[str, tuple[float, float]] = {}
    for one in given:
        u = within("reading_u_g", one.reading_u_g, 0, LARGEST_INTERVAL_G, above=True, unit="g")
        share = 1 / b if one.component == "hardener" else -1 / a
        begins, begins_u = last.get(one.scale, (0.0, u))
        if one.zeroed or one.scale not in last:
            variance += (begins * begins_u) ** 2 + (share * u) ** 2
        else:
            variance += ((begins - share) * begins_u) ** 2
        last[one.scale] = (share, u)
    variance += sum((share * u) ** 2 for share, u in last.values())
    return 100 * COVERAGE_FACTOR * math.sqrt(variance)


def possible_ratio_error_pct(
    *, error_g: float, nominal_g: float, resin_g: float | None = None, hardener_g: float | None = None
) -> float:
    """How far a ratio may be out because a scale was found out by ``error_g`` at a check weight.

    Formula: ``sum(e*max(1, m/m_check)/m)*100`` over the components weighed on that scale. Nobody knows whether the
    scale was out by a constant or in proportion to its load, nor in which direction for each pour, so the worse of
    the two is taken for each mass and the components are added up: a bound, not an estimate.

    Parameters
    ----------
    error_g : float
        Reading less nominal of the check weight, of either sign, e [g].
    nominal_g : float
        Nominal mass of the check weight, m_check [g].
    resin_g : float, optional
        Resin weighed on that scale [g].
    hardener_g : float, optional
        Hardener weighed on that scale [g].

    Returns
    -------
    float
        Largest error of the ratio to either side [% of ratio].

    Raises
    ------
    OutOfRange
        If a mass is outside its range, or neither component was weighed on the scale.

    Valid range
    -----------
    Error -1e6 to 1e6 g; masses 0.001 g to 1e6 g.

    Examples
    --------
    >>> possible_ratio_error_pct(error_g=-0.3, nominal_g=500, resin_g=100, hardener_g=30)
    1.3
    >>> possible_ratio_error_pct(error_g=-0.3, nominal_g=50, hardener_g=100)
    0.6

    Source
    ------
    Shop rule 18 for the ratio; taking the worse case is common practice, no source. That all pots since the last
    passed check are looked at: FDA, Questions and Answers on CGMP, Laboratory Controls, question 1.
    """
    error = abs(within("error_g", error_g, -1e6, 1e6, unit="g"))
    nominal = mass("nominal_g", nominal_g)
    weighed = [
        mass(name, value) for name, value in (("resin_g", resin_g), ("hardener_g", hardener_g)) if value is not None
    ]
    if not weighed:
        raise OutOfRange("resin_g", "missing like hardener_g", "the mass of at least one component")
    return 100 * math.fsum(error * max(1.0, m / nominal) / m for m in weighed)


@dataclass(frozen=True, slots=True)
class PotTargets:
    """What to weigh, and what the scale can say of it.

    Attributes
    ----------
    resin_g : float
        Resin to pour [g].
    hardener_g : float
        Hardener that belongs to it [g].
    reading_if_not_zeroed_g : float
        Where the scale stands after the hardener if it was not zeroed after the resin [g].
    tolerance_pct : float
        Tolerance to either side [% of ratio].
    tolerance_low_g : float
        Least hardener within the tolerance [g].
    tolerance_high_g : float
        Most hardener within the tolerance [g].
    accepted_low_g : float or None
        Least reading of the hardener that is surely within it; None where no reading is [g].
    accepted_high_g : float or None
        Most reading of the hardener that is surely within it [g].
    uncertainty_pct : float
        Expanded uncertainty of the ratio, k = 2 [% of ratio].
    honest : bool
        Whether the scale is fine enough for this pot [-].
    smallest_pot_g : float
        Smallest pot for which it is, resin and hardener together [g].
    """

    resin_g: float
    hardener_g: float
    reading_if_not_zeroed_g: float
    tolerance_pct: float
    tolerance_low_g: float
    tolerance_high_g: float
    accepted_low_g: float | None
    accepted_high_g: float | None
    uncertainty_pct: float
    honest: bool
    smallest_pot_g: float


def pot(
    *,
    ratio: float,
    tolerance: float,
    interval_g: float,
    resin_g: float | None = None,
    total_g: float | None = None,
    tolerance_kind: Literal["percent_of_ratio", "parts", "percent_of_each_mass"] = "percent_of_ratio",
    repeatability_g: float = 0.0,
    zeroed: bool = True,
) -> PotTargets:
    """Targets, limits and honesty of one pot on one scale.

    Formula: those of `split_total`, `tolerance_pct`, `acceptance_limits`, `ratio_uncertainty_pct`, `too_coarse` and
    `smallest_honest_pot_g`, one after the other.

    Parameters
    ----------
    ratio : float
        Stated hardener to resin by weight [-].
    tolerance : float
        Tolerance as stated, without its sign [% or parts per 100].
    interval_g : float
        Scale interval [g].
    resin_g : float, optional
        Resin; this or the total [g].
    total_g : float, optional
        Resin and hardener together; this or the resin [g].
    tolerance_kind : {'percent_of_ratio', 'parts', 'percent_of_each_mass'}, optional
        What the tolerance is counted in [text].
    repeatability_g : float, optional
        Standard deviation of repeated readings; 0 where it is not known [g].
    zeroed : bool, optional
        True if the scale is zeroed before each pour; False for a running total [-].

    Returns
    -------
    PotTargets
        What to weigh, and what the scale can say of it [g, %].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or not exactly one of resin and total is given.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; ratio 0.001 to 10; tolerance below 100 % of the ratio; interval 1e-6 g to 1000 g;
    repeatability 0 to 1000 g.

    Examples
    --------
    >>> targets = pot(resin_g=46.0, ratio=0.30, tolerance=2, interval_g=0.1)
    >>> targets.hardener_g, targets.reading_if_not_zeroed_g, targets.accepted_low_g, targets.accepted_high_g
    (13.8, 59.8, 13.7, 13.9)
    >>> targets.honest, targets.smallest_pot_g
    (True, 55.4)

    Source
    ------
    Shop rules 15 and 17 to 19.
    """
    if (resin_g is None) == (total_g is None):
        given = "not given either" if resin_g is None else "given too"
        raise OutOfRange("resin_g", given, "given where total_g is not, and left out where it is")
    resin = split_total(total_g=total_g, ratio=ratio).resin_g if total_g is not None else resin_g or 0.0
    hardener = hardener_target_g(resin_g=resin, ratio=ratio)
    tolerated = tolerance_pct(kind=tolerance_kind, value=tolerance, ratio=ratio)
    limits = acceptance_limits(
        resin_g=resin,
        ratio=ratio,
        tolerance_pct=tolerated,
        interval_g=interval_g,
        repeatability_g=repeatability_g,
        zeroed=zeroed,
    )
    reading_u_g = reading_uncertainty_g(interval_g=interval_g, repeatability_g=repeatability_g)
    uncertainty = ratio_uncertainty_pct(
        resin_g=resin,
        hardener_g=hardener,
        resin_reading_u_g=reading_u_g,
        hardener_reading_u_g=reading_u_g,
        zeroed=zeroed,
    )
    smallest = smallest_honest_pot_g(
        ratio=ratio,
        tolerance_pct=tolerated,
        resin_reading_u_g=reading_u_g,
        hardener_reading_u_g=reading_u_g,
        zeroed=zeroed,
    )
    return PotTargets(
        resin_g=resin,
        hardener_g=hardener,
        reading_if_not_zeroed_g=resin + hardener,
        tolerance_pct=tolerated,
        tolerance_low_g=limits.tolerance_low_g,
        tolerance_high_g=limits.tolerance_high_g,
        accepted_low_g=limits.accepted_low_g,
        accepted_high_g=limits.accepted_high_g,
        uncertainty_pct=uncertainty,
        honest=not too_coarse(uncertainty_pct=uncertainty, tolerance_pct=tolerated),
        smallest_pot_g=smallest,
    )
