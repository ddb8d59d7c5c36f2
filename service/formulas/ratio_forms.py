"""The same mix ratio by weight, by volume and in parts per hundred of resin; the ratio of a blend.

- :func:`weight_ratio_from_volume`, :func:`volume_ratio_from_weight`: between volume and weight, by the densities.
- :func:`ratio_from_phr`, :func:`phr_from_ratio`: between parts per hundred of resin and a plain ratio.
- :func:`densities_agree`: whether a data sheet's two ratios and two densities fit together.
- :func:`blend_ratio`: the ratio of a blend of hardeners.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, density, mix_ratio, series, tolerance, within

__all__ = [
    "RatioCrossCheck",
    "blend_ratio",
    "densities_agree",
    "phr_from_ratio",
    "ratio_from_phr",
    "volume_ratio_from_weight",
    "weight_ratio_from_volume",
]


@dataclass(frozen=True, slots=True)
class RatioCrossCheck:
    """Whether a data sheet agrees with itself.

    Attributes
    ----------
    deviation_pct : float
        Ratio by weight worked out from the volumes, against the one stated [%].
    agrees : bool
        True if the deviation is no larger than the limit [-].
    """

    deviation_pct: float
    agrees: bool


def weight_ratio_from_volume(*, volume_ratio: float, resin_density_g_ml: float, hardener_density_g_ml: float) -> float:
    """Ratio by weight of a ratio by volume.

    Formula: ``m_b/m_a = (V_b/V_a)*(rho_b/rho_a)``.

    Parameters
    ----------
    volume_ratio : float
        Hardener to resin by volume, V_b/V_a [-].
    resin_density_g_ml : float
        Density of the resin, rho_a [g/ml].
    hardener_density_g_ml : float
        Density of the hardener, rho_b [g/ml].

    Returns
    -------
    float
        Hardener to resin by weight [-].

    Raises
    ------
    OutOfRange
        If the ratio or a density is outside its range.

    Valid range
    -----------
    Ratio 0.001 to 10; densities 0.5 to 5 g/ml, both at the same temperature.

    Examples
    --------
    >>> weight_ratio_from_volume(volume_ratio=1.0, resin_density_g_ml=1.363, hardener_density_g_ml=1.021)
    0.749

    Source
    ------
    Definition of density. Example: Starting Formulation No. 4013, Epoxy Traffic Marker Adhesive, SC:2044-01.
    """
    ratio = mix_ratio("volume_ratio", volume_ratio)
    resin = density("resin_density_g_ml", resin_density_g_ml)
    return ratio * density("hardener_density_g_ml", hardener_density_g_ml) / resin


def volume_ratio_from_weight(*, weight_ratio: float, resin_density_g_ml: float, hardener_density_g_ml: float) -> float:
    """Ratio by volume of a ratio by weight.

    Formula: ``V_b/V_a = (m_b/m_a)*(rho_a/rho_b)``.

    Parameters
    ----------
    weight_ratio : float
        Hardener to resin by weight, m_b/m_a [-].
    resin_density_g_ml : float
        Density of the resin, rho_a [g/ml].
    hardener_density_g_ml : float
        Density of the hardener, rho_b [g/ml].

    Returns
    -------
    float
        Hardener to resin by volume [-].

    Raises
    ------
    OutOfRange
        If the ratio or a density is outside its range.

    Valid range
    -----------
    Ratio 0.001 to 10; densities 0.5 to 5 g/ml, both at the same temperature.

    Examples
    --------
    >>> volume_ratio_from_weight(weight_ratio=0.7492, resin_density_g_ml=1.363, hardener_density_g_ml=1.021)
    1.000

    Source
    ------
    Definition of density. Example: Starting Formulation No. 4013, Epoxy Traffic Marker Adhesive, SC:2044-01.
    """
    ratio = mix_ratio("weight_ratio", weight_ratio)
    resin = density("resin_density_g_ml", resin_density_g_ml)
    return ratio * resin / density("hardener_density_g_ml", hardener_density_g_ml)


def ratio_from_phr(*, phr: float) -> float:
    """Plain ratio of a number of parts of hardener per hundred of resin.

    Formula: ``r = phr/100``.

    Parameters
    ----------
    phr : float
        Parts of hardener per hundred of resin by weight [parts per 100].

    Returns
    -------
    float
        Hardener to resin by weight [-].

    Raises
    ------
    OutOfRange
        If the number of parts is outside its range.

    Valid range
    -----------
    0.1 to 1000 parts.

    Examples
    --------
    >>> ratio_from_phr(phr=32)
    0.32

    Source
    ------
    Definition; common practice, no source.
    """
    return within("phr", phr, 0.1, 1000, unit="parts per 100") / 100


def phr_from_ratio(*, ratio: float) -> float:
    """Parts of hardener per hundred of resin of a plain ratio.

    Formula: ``phr = 100*r``.

    Parameters
    ----------
    ratio : float
        Hardener to resin by weight [-].

    Returns
    -------
    float
        Parts of hardener per hundred of resin by weight [parts per 100].

    Raises
    ------
    OutOfRange
        If the ratio is outside its range.

    Valid range
    -----------
    Ratio 0.001 to 10.

    Examples
    --------
    >>> phr_from_ratio(ratio=0.32)
    32.0

    Source
    ------
    Definition; common practice, no source.
    """
    return 100 * mix_ratio("ratio", ratio)


def densities_agree(
    *,
    weight_ratio: float,
    volume_ratio: float,
    resin_density_g_ml: float,
    hardener_density_g_ml: float,
    limit_pct: float,
) -> RatioCrossCheck:
    """Whether the ratios by weight and by volume of a data sheet fit its densities.

    Formula: ``((V_b/V_a)*(rho_b/rho_a)/r - 1)*100``, and its size against the limit.

    Parameters
    ----------
    weight_ratio : float
        Stated hardener to resin by weight, r [-].
    volume_ratio : float
        Stated hardener to resin by volume, V_b/V_a [-].
    resin_density_g_ml : float
        Density of the resin, rho_a [g/ml].
    hardener_density_g_ml : float
        Density of the hardener, rho_b [g/ml].
    limit_pct : float
        Largest deviation that counts as rounding [%].

    Returns
    -------
    RatioCrossCheck
        The deviation [%] and whether it keeps the limit.

    Raises
    ------
    OutOfRange
        If a ratio, a density or the limit is outside its range.

    Valid range
    -----------
    Ratios 0.001 to 10; densities 0.5 to 5 g/ml; limit above 0 and below 100 %.

    Examples
    --------
    >>> check = densities_agree(
    ...     weight_ratio=0.30, volume_ratio=0.40, resin_density_g_ml=1.15, hardener_density_g_ml=0.95, limit_pct=5
    ... )
    >>> check.deviation_pct, check.agrees
    (10.1, False)

    Source
    ------
    Definition of density; the check itself is common practice, no source.
    """
    stated = mix_ratio("weight_ratio", weight_ratio)
    limit = tolerance("limit_pct", limit_pct)
    worked_out = weight_ratio_from_volume(
        volume_ratio=volume_ratio,
        resin_density_g_ml=resin_density_g_ml,
        hardener_density_g_ml=hardener_density_g_ml,
    )
    deviation = (worked_out / stated - 1) * 100
    return RatioCrossCheck(deviation_pct=deviation, agrees=abs(deviation) <= limit)


def blend_ratio(*, ratios: Sequence[float], mass_fractions: Sequence[float]) -> float:
    """Mix ratio of a blend of hardeners for one resin.

    Formula: ``r = 1/sum(w_i/r_i)``. A gram of hardener i serves 1/r_i grams of resin, so the shares of resin add up,
    not the ratios. The pot life of a blend does not follow from it: that comes from the supplier's own table.

    Parameters
    ----------
    ratios : sequence of float
        Stated b/a by weight of each hardener, r_i [list of -].
    mass_fractions : sequence of float
        Share by mass of each hardener in the blend, w_i, in the same order [list of -].

    Returns
    -------
    float
        Ratio of the blend by weight [-].

    Raises
    ------
    OutOfRange
        If a ratio is outside its range, the lists differ in length, or the shares do not add up to 1.

    Valid range
    -----------
    1 to 10 hardeners; ratios 0.001 to 10; shares 0 to 1 that add up to 1 within 0.000001.

    Examples
    --------
    >>> blend_ratio(ratios=[0.30, 0.40], mass_fractions=[0.5, 0.5])
    0.343

    Source
    ------
    Shop rule 21.
    """
    given = series("ratios", ratios, least=1, most=10)
    shares = series("mass_fractions", mass_fractions, least=1, most=10)
    if len(given) != len(shares):
        raise OutOfRange("mass_fractions", f"a list of {len(shares)}", f"as long as ratios, which has {len(given)}")
    r = [mix_ratio(f"ratios[{i}]", value) for i, value in enumerate(given)]
    w = [within(f"mass_fractions[{i}]", value, 0, 1) for i, value in enumerate(shares)]
    if abs(math.fsum(w) - 1) > 1e-6:
        raise OutOfRange("mass_fractions", f"adding up to {math.fsum(w):g}", "shares that add up to 1")
    return 1 / math.fsum(wi / ri for wi, ri in zip(w, r, strict=True))
