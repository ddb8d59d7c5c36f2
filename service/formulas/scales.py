"""Which scale can judge which pot, before the pour.

- :func:`smallest_honest_pot_g`, :func:`capable_scales`.

Named here too, from acceptance.py, for the pour itself: :func:`acceptance_limits`, :func:`resin_limits`; and from
weighing.py: :func:`reading_uncertainty_g`, :func:`ratio_uncertainty_pct`, :func:`verdict`,
:func:`too_coarse` and :func:`minimum_mass_g`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas.acceptance import AcceptanceLimits, acceptance_limits, resin_limits
from service.formulas.ranges import series, tolerance, within
from service.formulas.ratio import split_total
from service.formulas.weighing import (
    LARGEST_SHARE_OF_TOLERANCE,
    minimum_mass_g,
    ratio_uncertainty_pct,
    reading_uncertainty_g,
    too_coarse,
    verdict,
)

__all__ = [
    "ScaleAbility",
    "ScaleFacts",
    "capable_scales",
    "smallest_honest_pot_g",
    # from acceptance
    "AcceptanceLimits",
    "acceptance_limits",
    "resin_limits",
    # from weighing
    "minimum_mass_g",
    "ratio_uncertainty_pct",
    "reading_uncertainty_g",
    "too_coarse",
    "verdict",
]


@dataclass(frozen=True, slots=True)
class ScaleFacts:
    """What the shop knows of a scale.

    Attributes
    ----------
    name : str
        Name in the shop [text].
    interval_g : float
        Scale interval, the step of the display [g].
    repeatability_g : float
        Standard deviation of repeated readings; 0 where it is not known [g].
    maximum_g : float
        Largest load [g].
    """

    name: str
    interval_g: float
    repeatability_g: float
    maximum_g: float


@dataclass(frozen=True, slots=True)
class ScaleAbility:
    """What a scale can say of one pot.

    Attributes
    ----------
    name : str
        Name in the shop [text].
    uncertainty_pct : float
        Expanded uncertainty of the ratio, k = 2 [% of ratio].
    honest : bool
        True if the scale takes the load and is fine enough [-].
    smallest_pot_g : float
        Smallest pot that this scale can judge [g].
    reason : str
        The sentence to show [text].
    """

    name: str
    uncertainty_pct: float
    honest: bool
    smallest_pot_g: float
    reason: str


def smallest_honest_pot_g(
    *, ratio: float, tolerance_pct: float, resin_reading_u_g: float, hardener_reading_u_g: float, zeroed: bool
) -> float:
    """Smallest pot whose ratio the scale knows to a third of the tolerance.

    Formula: U of :func:`ratio_uncertainty_pct` falls as 1/m at a fixed ratio, so ``m = 3*m0*U(m0)/tol`` for any m0.

    Parameters
    ----------
    ratio : float
        Stated hardener to resin by weight [-].
    tolerance_pct : float
        Tolerance to either side, tol [% of ratio].
    resin_reading_u_g : float
        Standard uncertainty of one reading of the resin's scale [g].
    hardener_reading_u_g : float
        Standard uncertainty of one reading of the hardener's scale [g].
    zeroed : bool
        True if the scale is zeroed before each pour; False for a running total [-].

    Returns
    -------
    float
        Resin and hardener together [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or a running total has two scales.

    Valid range
    -----------
    Ratio 0.001 to 10; tolerance above 0 and below 100 %; uncertainty of a reading above 0 and at most 1000 g.

    Examples
    --------
    >>> smallest_honest_pot_g(
    ...     ratio=0.30, tolerance_pct=2, resin_reading_u_g=0.0288675, hardener_reading_u_g=0.0288675, zeroed=True
    ... )
    55.4

    Source
    ------
    Shop rule 18.
    """
    tol = tolerance("tolerance_pct", tolerance_pct)
    total_g = 1000.0
    pot = split_total(total_g=total_g, ratio=ratio)
    uncertainty = ratio_uncertainty_pct(
        resin_g=pot.resin_g,
        hardener_g=pot.hardener_g,
        resin_reading_u_g=resin_reading_u_g,
        hardener_reading_u_g=hardener_reading_u_g,
        zeroed=zeroed,
    )
    return total_g * uncertainty / (tol * LARGEST_SHARE_OF_TOLERANCE)


def capable_scales(
    *, total_g: float, ratio: float, tolerance_pct: float, scales: Sequence[ScaleFacts], zeroed: bool = True
) -> tuple[ScaleAbility, ...]:
    """What each scale of the shop can say of one pot, both components weighed on it.

    Formula: :func:`ratio_uncertainty_pct` and :func:`too_coarse` for each scale; the pot may not be over its maximum.

    Parameters
    ----------
    total_g : float
        Resin and hardener together [g].
    ratio : float
        Stated hardener to resin by weight [-].
    tolerance_pct : float
        Tolerance to either side [% of ratio].
    scales : sequence of ScaleFacts
        The scales [list of ScaleFacts].
    zeroed : bool, optional
        True if the scale is zeroed before each pour; False for a running total [-].

    Returns
    -------
    tuple of ScaleAbility
        One for each scale, in the order given.

    Raises
    ------
    OutOfRange
        If an argument or a scale's fact is outside its range.

    Valid range
    -----------
    Total 0.001 g to 1e6 g, each component at least 0.001 g; ratio 0.001 to 10; tolerance above 0 and below 100 %; at
    most 1000 scales, their maximum above 0 and at most 1e7 g. The mass of the cup is not counted.

    Examples
    --------
    >>> bench = ScaleFacts(name="bench", interval_g=1, repeatability_g=0, maximum_g=6000)
    >>> capable_scales(total_g=130, ratio=0.30, tolerance_pct=2, scales=[bench])[0].reason
    'Too coarse for this pot: take a finer scale, or a pot of at least 555 g.'

    Source
    ------
    Shop rules 17 and 18.
    """
    pot = split_total(total_g=total_g, ratio=ratio)
    abilities = []
    for scale in series("scales", scales, least=0, most=1000):
        maximum = within("maximum_g", scale.maximum_g, 0, 1e7, above=True, unit="g")
        u = reading_uncertainty_g(interval_g=scale.interval_g, repeatability_g=scale.repeatability_g)
        uncertainty = ratio_uncertainty_pct(
            resin_g=pot.resin_g, hardener_g=pot.hardener_g, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed
        )
        smallest = smallest_honest_pot_g(
            ratio=ratio, tolerance_pct=tolerance_pct, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed
        )
        coarse = too_coarse(uncertainty_pct=uncertainty, tolerance_pct=tolerance_pct)
        if total_g > maximum:
            reason = f"Takes {maximum:.10g} g at most."
        elif coarse and smallest > maximum:
            reason = "Too coarse for this ratio at any pot that it takes: take a finer scale."
        elif coarse:
            reason = f"Too coarse for this pot: take a finer scale, or a pot of at least {math.ceil(smallest)} g."
        else:
            reason = f"Knows the ratio of this pot to ± {uncertainty:.2g} %."
        abilities.append(
            ScaleAbility(
                name=scale.name,
                uncertainty_pct=uncertainty,
                honest=not coarse and total_g <= maximum,
                smallest_pot_g=smallest,
                reason=reason,
            )
        )
    return tuple(abilities)
