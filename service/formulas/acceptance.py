"""From where to where the display of a scale may stand while the second component is poured.

- :func:`acceptance_limits`: hardener into the resin.
- :func:`resin_limits`: resin into the hardener.
"""

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from service.formulas.ranges import mass, mix_ratio, tolerance
from service.formulas.ratio import deviation_pct as ratio_deviation_pct
from service.formulas.weighing import ratio_uncertainty_pct, reading_uncertainty_g

__all__ = ["AcceptanceLimits", "acceptance_limits", "resin_limits"]


@dataclass(frozen=True, slots=True)
class AcceptanceLimits:
    """Limits of the component that is poured second, for what is in of the first.

    Attributes
    ----------
    tolerance_low_g : float
        Least of it by the tolerance alone [g].
    tolerance_high_g : float
        Most of it by the tolerance alone [g].
    accepted_low_g : float or None
        Least reading that is surely within the tolerance; None if there is no such reading [g].
    accepted_high_g : float or None
        Largest reading that is surely within the tolerance; None if there is no such reading [g].
    """

    tolerance_low_g: float
    tolerance_high_g: float
    accepted_low_g: float | None
    accepted_high_g: float | None


def acceptance_limits(
    *,
    resin_g: float,
    ratio: float,
    tolerance_pct: float,
    interval_g: float,
    repeatability_g: float,
    zeroed: bool,
    resin_reading_u_g: float | None = None,
    resin_readings: int = 1,
) -> AcceptanceLimits:
    """Readings of the hardener that are surely within the tolerance, rounded inward to the scale's step.

    Formula: every step b of the scale with ``|(b/a)/r - 1|*100 + U(a, b) <= tol``. U falls as b grows, so the limits
    are searched among the steps, each with its own U, not shifted by the U of the target. Below the target
    ``|dev| + U`` falls with b throughout; above it, it rises wherever it is below 100 %, so there is no gap.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    ratio : float
        Stated b/a by weight, r [-].
    tolerance_pct : float
        Tolerance to either side, tol [% of ratio].
    interval_g : float
        Scale interval of the hardener's scale [g].
    repeatability_g : float
        Standard deviation of repeated readings of the hardener's scale; 0 where it is not known [g].
    zeroed : bool
        True if the scale is zeroed before each pour; False for a running total [-].
    resin_reading_u_g : float, optional
        Standard uncertainty of one reading of the resin's scale, where it is another one [g].
    resin_readings : int, optional
        Net weighings that make up the resin [-].

    Returns
    -------
    AcceptanceLimits
        Limits of tolerance and of acceptance [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or a running total has two scales.

    Valid range
    -----------
    Resin 0.001 g to 1e6 g; ratio 0.001 to 10, the target at least 0.001 g; tolerance above 0 and below 100 %;
    interval 1e-6 g to 1000 g; repeatability 0 to 1000 g.

    Examples
    --------
    >>> limits = acceptance_limits(
    ...     resin_g=46.0, ratio=0.30, tolerance_pct=2, interval_g=0.1, repeatability_g=0, zeroed=True
    ... )
    >>> limits.tolerance_low_g, limits.tolerance_high_g
    (13.524, 14.076)
    >>> limits.accepted_low_g, limits.accepted_high_g
    (13.7, 13.9)

    Source
    ------
    Shop rule 19.
    """
    reading_u = reading_uncertainty_g(interval_g=interval_g, repeatability_g=repeatability_g)
    tol = tolerance("tolerance_pct", tolerance_pct)
    target = mass("resin_g times ratio", mass("resin_g", resin_g) * mix_ratio("ratio", ratio))

    def off(hardener_g: float) -> float:
        deviation = ratio_deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=ratio)
        return abs(deviation) + ratio_uncertainty_pct(
            resin_g=resin_g,
            hardener_g=hardener_g,
            resin_reading_u_g=reading_u if resin_reading_u_g is None else resin_reading_u_g,
            hardener_reading_u_g=reading_u,
            zeroed=zeroed,
            resin_readings=resin_readings,
        )

    return searched_limits(
        target, target * (1 - tol / 100), target * (1 + tol / 100), interval_g, lambda b: off(b) <= tol
    )


def resin_limits(
    *,
    hardener_g: float,
    ratio: float,
    tolerance_pct: float,
    interval_g: float,
    repeatability_g: float,
    zeroed: bool,
    hardener_reading_u_g: float | None = None,
    hardener_readings: int = 1,
) -> AcceptanceLimits:
    """Readings of the resin that are surely within the tolerance, where the hardener was poured first.

    Formula: every step a of the scale with ``|(b/a)/r - 1|*100 + U(a, b) <= tol``; the tolerance alone gives
    ``b/r/(1 + tol/100)`` to ``b/r/(1 - tol/100)``, which is not the same to either side. Below the target ``|dev| + U``
    falls with a; above it, it rises wherever it is below 100 %.

    Parameters
    ----------
    hardener_g : float
        Hardener poured, b [g].
    ratio : float
        Stated b/a by weight, r [-].
    tolerance_pct : float
        Tolerance to either side, tol [% of ratio].
    interval_g : float
        Scale interval of the resin's scale [g].
    repeatability_g : float
        Standard deviation of repeated readings of the resin's scale; 0 where it is not known [g].
    zeroed : bool
        True if the scale is zeroed before each pour; False for a running total [-].
    hardener_reading_u_g : float, optional
        Standard uncertainty of one reading of the hardener's scale, where it is another one [g].
    hardener_readings : int, optional
        Net weighings that make up the hardener [-].

    Returns
    -------
    AcceptanceLimits
        Limits of tolerance and of acceptance [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or a running total has two scales.

    Valid range
    -----------
    Hardener 0.001 g to 1e6 g; ratio 0.001 to 10, the target at least 0.001 g; tolerance above 0 and below 100 %;
    interval 1e-6 g to 1000 g; repeatability 0 to 1000 g.

    Examples
    --------
    >>> limits = resin_limits(
    ...     hardener_g=13.8, ratio=0.30, tolerance_pct=2, interval_g=0.1, repeatability_g=0, zeroed=True
    ... )
    >>> limits.tolerance_low_g, limits.tolerance_high_g
    (45.098, 46.939)
    >>> limits.accepted_low_g, limits.accepted_high_g
    (45.4, 46.6)

    Source
    ------
    Shop rules 19 and 22.
    """
    reading_u = reading_uncertainty_g(interval_g=interval_g, repeatability_g=repeatability_g)
    tol = tolerance("tolerance_pct", tolerance_pct)
    target = mass("hardener_g by ratio", mass("hardener_g", hardener_g) / mix_ratio("ratio", ratio))

    def off(resin_g: float) -> float:
        deviation = ratio_deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=ratio)
        return abs(deviation) + ratio_uncertainty_pct(
            resin_g=resin_g,
            hardener_g=hardener_g,
            resin_reading_u_g=reading_u,
            hardener_reading_u_g=reading_u if hardener_reading_u_g is None else hardener_reading_u_g,
            zeroed=zeroed,
            hardener_readings=hardener_readings,
        )

    return searched_limits(
        target, target / (1 + tol / 100), target / (1 - tol / 100), interval_g, lambda a: off(a) <= tol
    )


def searched_limits(
    target: float, low: float, high: float, interval_g: float, within: Callable[[float], bool]
) -> AcceptanceLimits:
    """The first and the last step of the scale that is accepted, among those of the tolerance."""
    step = Decimal(str(interval_g))

    def accepted(steps: int) -> bool:
        poured = float(steps * step)
        return poured >= 0.001 and within(poured)

    below, above = math.floor(Decimal(target) / step), math.ceil(Decimal(target) / step)
    rising = range(math.floor(Decimal(low) / step), below + 1)
    falling = range(above, math.ceil(Decimal(high) / step) + 1)
    first_accepted = bisect_left(rising, True, key=accepted)
    first_refused = bisect_left(falling, True, key=lambda steps: not accepted(steps))
    inside = [part for part in (rising[first_accepted:], falling[:first_refused]) if part]
    return AcceptanceLimits(
        tolerance_low_g=low,
        tolerance_high_g=high,
        accepted_low_g=float(inside[0][0] * step) if inside else None,
        accepted_high_g=float(inside[-1][-1] * step) if inside else None,
    )
