"""One pot on one scale, worked out before anybody pours: targets, limits, and whether the scale can judge it.

The same arithmetic as a started mix goes by, for a resin and a scale that are on nobody's book.
"""

from dataclasses import dataclass
from typing import Literal

from service.formulas.ranges import OutOfRange
from service.formulas.ratio import hardener_target_g, split_total, tolerance_pct
from service.formulas.scales import acceptance_limits, smallest_honest_pot_g
from service.formulas.weighing import ratio_uncertainty_pct, reading_uncertainty_g, too_coarse


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
