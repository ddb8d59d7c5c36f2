"""Mixing by pump or by volume (shop rule 23a).

- ``Shot``: one pair of shots; ``PumpCheck``, :func:`pump_check`: what weighed pairs say of a pump.
- :func:`pumped_uncertainty_pct`: what the check can know of one pot's ratio.
- :func:`pumped_deviation_pct`: the strokes of a pot against its ratio, A and B counted apart.
- :func:`volume_deviation_pct`: a stated ratio by volume, judged by volume with both densities.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, density, mass, mix_ratio, series, tolerance, whole_number, within
from service.formulas.weighing import COVERAGE_FACTOR

__all__ = [
    "PumpCheck",
    "Shot",
    "pump_check",
    "pumped_deviation_pct",
    "pumped_uncertainty_pct",
    "volume_deviation_pct",
]

FEWEST_PAIRS = 5
"""Pairs of shots that count; the first after standing is weighed besides and left out."""

MOST_PAIRS = 100
MOST_STROKES = 10_000


@dataclass(frozen=True, slots=True)
class Shot:
    """One stroke of each side, weighed apart.

    Attributes
    ----------
    resin_g : float
        What the resin's side gave [g].
    hardener_g : float
        What the hardener's side gave [g].
    """

    resin_g: float
    hardener_g: float


@dataclass(frozen=True, slots=True)
class PumpCheck:
    """What weighed pairs of shots say of a pump.

    Attributes
    ----------
    pairs : int
        Pairs that counted [-].
    resin_g : float
        Mean of the resin's shots [g].
    hardener_g : float
        Mean of the hardener's shots [g].
    resin_spread_g : float
        Standard deviation of the resin's shots [g].
    hardener_spread_g : float
        Standard deviation of the hardener's shots [g].
    deviation_pct : float
        Signed deviation of the ratio of the means [%].
    uncertainty_pct : float
        Expanded uncertainty of it, k = 2 [%].
    passed : bool
        True if deviation and uncertainty together are within the tolerance [-].
    """

    pairs: int
    resin_g: float
    hardener_g: float
    resin_spread_g: float
    hardener_spread_g: float
    deviation_pct: float
    uncertainty_pct: float
    passed: bool


def _mean_and_spread(values: Sequence[float]) -> tuple[float, float]:
    mean = sum(values) / len(values)
    return mean, math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1))


def pump_check(*, pairs: Sequence[Shot], ratio: float, tolerance_pct: float) -> PumpCheck:
    """What weighed pairs of shots say of a pump.

    Formula: the first pair after standing is left out. Means and standard deviations (n - 1) of the others; deviation
    ``100*((b/a)/r - 1)`` of the means; ``U = 200*sqrt(s_a**2/(n*a**2) + s_b**2/(n*b**2))``; passed if
    ``|deviation| + U <= tolerance``.

    Parameters
    ----------
    pairs : sequence of Shot
        The pairs as they were weighed, the first after standing first [list of Shot].
    ratio : float
        Stated hardener to resin by weight, r [-].
    tolerance_pct : float
        Tolerance to either side [% of ratio].

    Returns
    -------
    PumpCheck
        Means, spreads and verdict.

    Raises
    ------
    OutOfRange
        If fewer than five pairs are left to count, or a number is outside its range.

    Valid range
    -----------
    6 to 100 pairs; shots 0.001 g to 1e6 g; ratio 0.001 to 10; tolerance above 0 and below 100 %.

    Examples
    --------
    >>> pairs = [Shot(19.0, 5.0), *[Shot(20.0, 6.0), Shot(20.2, 6.0), Shot(19.8, 6.1)] * 2]
    >>> found = pump_check(pairs=pairs, ratio=0.30, tolerance_pct=5)
    >>> found.pairs, found.resin_g, found.passed
    (6, 20.0, True)

    Source
    ------
    Shop rule 23a; spread of a mean: JCGM 100:2008 4.2, type A, paragraph 3 (contents read:
    http://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/Toc_e.html; the paragraph from
    memory).
    """
    listed = series("pairs", pairs, least=FEWEST_PAIRS + 1, most=MOST_PAIRS)
    counted = listed[1:]
    a, s_a = _mean_and_spread([mass("resin_g", shot.resin_g) for shot in counted])
    b, s_b = _mean_and_spread([mass("hardener_g", shot.hardener_g) for shot in counted])
    mass("resin_g", listed[0].resin_g), mass("hardener_g", listed[0].hardener_g)
    r, tol = mix_ratio("ratio", ratio), tolerance("tolerance_pct", tolerance_pct)
    deviation = 100 * (b / a / r - 1)
    uncertainty = 100 * COVERAGE_FACTOR * math.hypot(s_a / a, s_b / b) / math.sqrt(len(counted))
    return PumpCheck(
        pairs=len(counted),
        resin_g=a,
        hardener_g=b,
        resin_spread_g=s_a,
        hardener_spread_g=s_b,
        deviation_pct=deviation,
        uncertainty_pct=uncertainty,
        passed=abs(deviation) + uncertainty <= tol * (1 + 1e-12),
    )


def pumped_deviation_pct(
    *, resin_strokes: int, hardener_strokes: int, resin_shot_g: float, hardener_shot_g: float, ratio: float
) -> float:
    """How far a pumped pot is from its ratio, the strokes of the two sides counted apart.

    Formula: ``100*((n_b*b)/(n_a*a)/r - 1)``. With 100:20, nine hardener strokes for ten move the total by 1.7 % and
    the ratio by 10 %: the total shows nothing of a missed stroke.

    Parameters
    ----------
    resin_strokes : int
        Strokes of the resin's side, n_a [-].
    hardener_strokes : int
        Strokes of the hardener's side, n_b [-].
    resin_shot_g : float
        Mean shot of the resin's side at the last check, a [g].
    hardener_shot_g : float
        Mean shot of the hardener's side at the last check, b [g].
    ratio : float
        Stated hardener to resin by weight, r [-].

    Returns
    -------
    float
        Deviation; above zero: more hardener than stated [%].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    1 to 10 000 strokes; shots 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> pumped_deviation_pct(
    ...     resin_strokes=10, hardener_strokes=9, resin_shot_g=100, hardener_shot_g=20, ratio=0.2
    ... )
    -10.0

    Source
    ------
    Shop rule 23a.
    """
    a = whole_number("resin_strokes", resin_strokes, 1, MOST_STROKES) * mass("resin_shot_g", resin_shot_g)
    b = whole_number("hardener_strokes", hardener_strokes, 1, MOST_STROKES) * mass("hardener_shot_g", hardener_shot_g)
    return 100 * (b / a / mix_ratio("ratio", ratio) - 1)


def pumped_uncertainty_pct(
    *,
    resin_strokes: int,
    hardener_strokes: int,
    resin_shot_g: float,
    hardener_shot_g: float,
    resin_spread_g: float,
    hardener_spread_g: float,
    pairs: int,
) -> float:
    """Expanded uncertainty (k = 2) of the ratio of a pumped pot.

    Formula: ``(U/200)**2 = (s_a/a)**2*(1/n + 1/N_a) + (s_b/b)**2*(1/n + 1/N_b)``: the spread of the mean at the check,
    and the spread of the pot's own strokes.

    Parameters
    ----------
    resin_strokes : int
        Strokes of the resin's side in the pot, N_a [-].
    hardener_strokes : int
        Strokes of the hardener's side in the pot, N_b [-].
    resin_shot_g : float
        Mean shot of the resin's side at the check, a [g].
    hardener_shot_g : float
        Mean shot of the hardener's side at the check, b [g].
    resin_spread_g : float
        Standard deviation of the resin's shots, s_a [g].
    hardener_spread_g : float
        Standard deviation of the hardener's shots, s_b [g].
    pairs : int
        Pairs that counted at the check, n [-].

    Returns
    -------
    float
        Expanded uncertainty, k = 2 [% of ratio].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    1 to 10 000 strokes; shots 0.001 g to 1e6 g; spreads 0 to 1e6 g; 5 to 100 pairs.

    Examples
    --------
    >>> pumped_uncertainty_pct(
    ...     resin_strokes=10, hardener_strokes=10, resin_shot_g=20, hardener_shot_g=6,
    ...     resin_spread_g=0.2, hardener_spread_g=0.06, pairs=5,
    ... )
    1.55

    Source
    ------
    Shop rule 23a; JCGM 100:2008 5.1, independent input quantities (read:
    https://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/05_e.html).
    """
    n = whole_number("pairs", pairs, FEWEST_PAIRS, MOST_PAIRS)
    sides = (
        (resin_strokes, "resin_strokes", resin_shot_g, resin_spread_g),
        (hardener_strokes, "hardener_strokes", hardener_shot_g, hardener_spread_g),
    )
    variance = 0.0
    for strokes, name, shot, spread in sides:
        count = whole_number(name, strokes, 1, MOST_STROKES)
        relative = within("spread_g", spread, 0, 1e6, unit="g") / mass("shot_g", shot)
        variance += relative**2 * (1 / n + 1 / count)
    return 100 * COVERAGE_FACTOR * math.sqrt(variance)


def volume_deviation_pct(
    *,
    resin_g: float,
    hardener_g: float,
    resin_density_g_ml: float,
    hardener_density_g_ml: float,
    volume_ratio: float,
) -> float:
    """How far a pot is from a ratio that is stated by volume.

    Formula: ``100*((b/rho_b)/(a/rho_a)/r_v - 1)``, with both densities at the temperature of the liquids.

    Parameters
    ----------
    resin_g : float
        Resin, a [g].
    hardener_g : float
        Hardener, b [g].
    resin_density_g_ml : float
        Density of the resin, rho_a [g/ml].
    hardener_density_g_ml : float
        Density of the hardener, rho_b [g/ml].
    volume_ratio : float
        Stated hardener to resin by volume, r_v [-].

    Returns
    -------
    float
        Deviation; above zero: more hardener than stated [%].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; densities 0.5 to 5 g/ml; ratio 0.001 to 10.

    Examples
    --------
    >>> volume_deviation_pct(
    ...     resin_g=345, hardener_g=115, resin_density_g_ml=1.15, hardener_density_g_ml=1.0, volume_ratio=1 / 3
    ... )
    15.0

    Source
    ------
    Shop rule 23a; definition of density. 3:1 by volume weighed as 3:1: hand calculation, 15 % too much hardener.
    """
    a_ml = mass("resin_g", resin_g) / density("resin_density_g_ml", resin_density_g_ml)
    b_ml = mass("hardener_g", hardener_g) / density("hardener_density_g_ml", hardener_density_g_ml)
    if b_ml / a_ml > 1e6:
        raise OutOfRange("hardener_g", f"{hardener_g:g}", "at most a million times the resin")
    return 100 * (b_ml / a_ml / mix_ratio("volume_ratio", volume_ratio) - 1)
