"""Two hardeners of one system in one cup (shop rule 21).

- :func:`second_hardener_g`: how much of the second, once the first is in.
- :func:`blend_deviation_pct`: how far the cup is from its ratio, whatever the fraction.
- :func:`blend_fraction_uncertainty_pct`: what the scales know of the fraction, which is judged apart.

The ratio of a blend itself is in ratio_forms.py. A blend is mixed only where the supplier allows it, and only the
supplier's own table of the blend says how long it lives.
"""

import math
from collections.abc import Sequence

from service.formulas.ranges import OutOfRange, mass, mix_ratio, series, within
from service.formulas.weighing import COVERAGE_FACTOR

__all__ = ["blend_deviation_pct", "blend_fraction_uncertainty_pct", "second_hardener_g"]


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
    Shop rules 17 and 21; JCGM 100:2008 5.1 (clause number from memory).
    """
    b1, b2 = mass("first_g", first_g), mass("second_g", second_g)
    u1 = within("first_reading_u_g", first_reading_u_g, 0, 1000, above=True, unit="g")
    u2 = within("second_reading_u_g", second_reading_u_g, 0, 1000, above=True, unit="g")
    share = b1 / (b1 + b2)
    return 100 * COVERAGE_FACTOR * share * (1 - share) * math.sqrt(2) * math.hypot(u1 / b1, u2 / b2)
