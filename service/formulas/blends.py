"""Two hardeners of one system in one cup (shop rule 21).

- :func:`second_hardener_g`: how much of the second, once the first is in.
- :func:`blend_deviation_pct`: how far the cup is from its ratio, whatever the fraction.
- :func:`second_hardener_limits`: from where to where the second may be poured.
- :func:`blend_fraction_uncertainty_pct`: what the scales know of the fraction, which is judged apart.

The ratio of a blend itself is in ratio_forms.py. A blend is mixed only where the supplier allows it, and only the
supplier's own table of the blend says how long it lives.
"""

import math
from collections.abc import Sequence

from service.formulas.acceptance import AcceptanceLimits, searched_limits
from service.formulas.pot_weighings import Weighing, weighed_ratio_uncertainty_pct
from service.formulas.ranges import OutOfRange, mass, mix_ratio, series, tolerance, within
from service.formulas.weighing import COVERAGE_FACTOR, reading_uncertainty_g

__all__ = ["blend_deviation_pct", "blend_fraction_uncertainty_pct", "second_hardener_g", "second_hardener_limits"]


def second_hardener_g(*, resin_g: float, first_hardener_g: float, first_ratio: float, second_ratio: float) -> float:
    """Second hardener that belongs to the resin that the first one leaves.

    Formula: ``b2 = r2*(a - b1/r1)``.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    first_hardener_g : float
        First hardener poured, b1; 0 for none [g].
    first_ratio : float
        Stated ratio of the first hardener, r1 [-].
    second_ratio : float
        Stated ratio of the second hardener, r2 [-].

    Returns
    -------
    float
        Second hardener; below 0 where the first alone is too much [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Resin 0.001 g to 1e6 g; first hardener 0 to 1e6 g; ratios 0.001 to 10.

    Examples
    --------
    >>> second_hardener_g(resin_g=100, first_hardener_g=15, first_ratio=0.30, second_ratio=0.40)
    20.0

    Source
    ------
    Shop rule 21.
    """
    a = mass("resin_g", resin_g)
    b1 = within("first_hardener_g", first_hardener_g, 0, 1e6, unit="g")
    return mix_ratio("second_ratio", second_ratio) * (a - b1 / mix_ratio("first_ratio", first_ratio))


def blend_deviation_pct(*, resin_g: float, hardeners_g: Sequence[float], ratios: Sequence[float]) -> float:
    """How far a cup with several hardeners is from its ratio, whatever their fractions.

    Formula: ``100*(sum(b_i/r_i)/a - 1)``: the resin that the hardeners together ask for, against the resin there is.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    hardeners_g : sequence of float
        Each hardener poured, b [list of g].
    ratios : sequence of float
        Stated hardener to resin by weight of each, r [list of -].

    Returns
    -------
    float
        Deviation; above zero: more hardener than stated [%].

    Raises
    ------
    OutOfRange
        If a number is outside its range, the lists differ in length, or no hardener was poured.

    Valid range
    -----------
    Resin 0.001 g to 1e6 g; 1 to 10 hardeners of 0 to 1e6 g, in all at least 0.001 g; ratios 0.001 to 10.

    Examples
    --------
    >>> blend_deviation_pct(resin_g=100, hardeners_g=[15, 20.4], ratios=[0.30, 0.40])
    1.0

    Source
    ------
    Shop rule 21.
    """
    a = mass("resin_g", resin_g)
    poured = [within("hardeners_g", b, 0, 1e6, unit="g") for b in series("hardeners_g", hardeners_g, least=1, most=10)]
    stated = [mix_ratio("ratios", r) for r in series("ratios", ratios, least=1, most=10)]
    if len(poured) != len(stated):
        raise OutOfRange("ratios", f"a list of {len(stated)}", f"a list of {len(poured)}, one for each hardener")
    mass("hardeners_g", sum(poured))
    return 100 * (sum(b / r for b, r in zip(poured, stated, strict=True)) / a - 1)


def second_hardener_limits(
    *,
    resin_g: float,
    first_hardener_g: float,
    first_ratio: float,
    second_ratio: float,
    tolerance_pct: float,
    weighings: Sequence[Weighing],
    scale: str,
    zeroed: bool,
    interval_g: float,
    repeatability_g: float,
) -> AcceptanceLimits:
    """Readings of the second hardener with which the cup is surely within the tolerance, on steps of the scale.

    Formula: every step b2 with ``|(b1/r1 + b2/r2)/a - 1|*100 + U <= tol``, U by all weighings with this one as the
    last; by the tolerance alone from ``r2*(a*(1 - tol/100) - b1/r1)`` to ``r2*(a*(1 + tol/100) - b1/r1)``.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    first_hardener_g : float
        First hardener poured, b1 [g].
    first_ratio : float
        Stated ratio of the first hardener, r1 [-].
    second_ratio : float
        Stated ratio of the second hardener, r2 [-].
    tolerance_pct : float
        Tolerance to either side, tol [% of ratio].
    weighings : sequence of Weighing
        The pours so far, in the order in which they were weighed [list of g].
    scale : str
        The scale of the second hardener, as the weighings name it [text].
    zeroed : bool
        True if it is zeroed before; False if it runs on [-].
    interval_g : float
        Scale interval of that scale [g].
    repeatability_g : float
        Standard deviation of its repeated readings; 0 where it is not known [g].

    Returns
    -------
    AcceptanceLimits
        Limits of tolerance and of acceptance of the second hardener [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or the first hardener alone is too much.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; ratios 0.001 to 10; tolerance above 0 and below 100 %; interval 1e-6 g to 1000 g;
    repeatability 0 to 1000 g; 1 to 199 weighings.

    Examples
    --------
    >>> poured = [Weighing("resin", "S1", 0.0288675, True), Weighing("hardener", "S1", 0.0288675, True)]
    >>> limits = second_hardener_limits(
    ...     resin_g=350, first_hardener_g=60, first_ratio=0.30, second_ratio=0.40, tolerance_pct=2,
    ...     weighings=poured, scale="S1", zeroed=True, interval_g=0.1, repeatability_g=0,
    ... )
    >>> limits.tolerance_low_g, limits.accepted_low_g, limits.accepted_high_g, limits.tolerance_high_g
    (57.2, 57.4, 62.6, 62.8)

    Source
    ------
    Shop rules 19 and 21.
    """
    a, b1 = mass("resin_g", resin_g), mass("first_hardener_g", first_hardener_g)
    r1, r2, tol = mix_ratio("first_ratio", first_ratio), mix_ratio("second_ratio", second_ratio), tolerance_pct
    tolerance("tolerance_pct", tol)
    target = mass("resin_g left by the first hardener", r2 * (a - b1 / r1))
    low, high = (r2 * (a * (1 + way * tol / 100) - b1 / r1) for way in (-1, 1))
    reading_u = reading_uncertainty_g(interval_g=interval_g, repeatability_g=repeatability_g)
    with_it = [*weighings, Weighing("hardener", scale, reading_u, zeroed)]

    def within_tolerance(b2: float) -> bool:
        deviation = blend_deviation_pct(resin_g=a, hardeners_g=[b1, b2], ratios=[r1, r2])
        return abs(deviation) + weighed_ratio_uncertainty_pct(weighings=with_it, resin_g=a, hardener_g=b1 + b2) <= tol

    return searched_limits(target, max(low, 0.0), high, interval_g, within_tolerance)


def blend_fraction_uncertainty_pct(
    *, first_g: float, second_g: float, first_reading_u_g: float, second_reading_u_g: float
) -> float:
    """Expanded uncertainty (k = 2) of the fraction of the first of two hardeners.

    Formula: ``w = b1/(b1 + b2)``, so ``U = 2*100*w*(1 - w)*sqrt(2*u1**2/b1**2 + 2*u2**2/b2**2)``, each pour the
    difference of two readings.

    Parameters
    ----------
    first_g : float
        First hardener poured, b1 [g].
    second_g : float
        Second hardener poured, b2 [g].
    first_reading_u_g : float
        Standard uncertainty of one reading of the first, u1 [g].
    second_reading_u_g : float
        Standard uncertainty of one reading of the second, u2 [g].

    Returns
    -------
    float
        Expanded uncertainty of the fraction, in points of per cent [%].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; uncertainties above 0 and at most 1000 g.

    Examples
    --------
    >>> blend_fraction_uncertainty_pct(
    ...     first_g=50, second_g=50, first_reading_u_g=0.0288675, second_reading_u_g=0.0288675
    ... )
    0.0577

    Source
    ------
    Shop rules 17 and 21; JCGM 100:2008 5.1, independent input quantities (read:
    https://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/05_e.html).
    """
    b1, b2 = mass("first_g", first_g), mass("second_g", second_g)
    u1 = within("first_reading_u_g", first_reading_u_g, 0, 1000, above=True, unit="g")
    u2 = within("second_reading_u_g", second_reading_u_g, 0, 1000, above=True, unit="g")
    share = b1 / (b1 + b2)
    return 100 * COVERAGE_FACTOR * share * (1 - share) * math.sqrt(2) * math.hypot(u1 / b1, u2 / b2)
