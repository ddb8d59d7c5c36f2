"""Mix ratio of resin and hardener: targets, deviation, tolerance, correction.

a is the resin poured, b the hardener, r the stated ratio b/a by weight.

- :func:`hardener_target_g`, :func:`resin_target_g`, :func:`split_total`: how much to pour.
- :func:`deviation_pct`: how far the poured ratio is from the stated one.
- :func:`tolerance_pct`: a tolerance of any kind as per cent of the ratio.
- :func:`correction`: what brings a mix back to its stated ratio.

Named here too, for those who look for anything about a ratio in one place:
:func:`weight_ratio_from_volume`, :func:`volume_ratio_from_weight`, :func:`ratio_from_phr`, :func:`phr_from_ratio`,
:func:`densities_agree`, :func:`blend_ratio` (ratio_forms.py), :func:`additive_g`, :func:`additive_percent`,
:func:`peroxide_range_g` and :func:`peroxide_range_ml` (additives.py).
"""

from dataclasses import dataclass
from typing import Literal

from service.formulas.additives import (
    PeroxideMass,
    PeroxideVolume,
    additive_g,
    additive_percent,
    peroxide_range_g,
    peroxide_range_ml,
)
from service.formulas.ranges import LEAST_MASS_G, OutOfRange, mass, mix_ratio, tolerance, within
from service.formulas.ratio_forms import (
    RatioCrossCheck,
    blend_ratio,
    densities_agree,
    phr_from_ratio,
    ratio_from_phr,
    volume_ratio_from_weight,
    weight_ratio_from_volume,
)

__all__ = [
    "Correction",
    "Split",
    "correction",
    "deviation_pct",
    "hardener_target_g",
    "resin_target_g",
    "split_total",
    "tolerance_pct",
    # from ratio_forms
    "RatioCrossCheck",
    "blend_ratio",
    "densities_agree",
    "phr_from_ratio",
    "ratio_from_phr",
    "volume_ratio_from_weight",
    "weight_ratio_from_volume",
    # from additives
    "PeroxideMass",
    "PeroxideVolume",
    "additive_g",
    "additive_percent",
    "peroxide_range_g",
    "peroxide_range_ml",
]

TOLERANCE_KINDS = ("percent_of_ratio", "parts", "percent_of_each_mass")


@dataclass(frozen=True, slots=True)
class Split:
    """A total mass shared between resin and hardener.

    Attributes
    ----------
    resin_g : float
        Resin [g].
    hardener_g : float
        Hardener [g].
    """

    resin_g: float
    hardener_g: float


@dataclass(frozen=True, slots=True)
class Correction:
    """What brings a mix to its stated ratio.

    Attributes
    ----------
    add : {'hardener', 'resin', 'nothing'}
        What is short [text].
    add_g : float
        How much of it to add; 0 for nothing [g].
    total_g : float
        Mass of the mix afterwards [g].
    """

    add: Literal["hardener", "resin", "nothing"]
    add_g: float
    total_g: float


def hardener_target_g(*, resin_g: float, ratio: float) -> float:
    """Hardener that belongs to the resin poured.

    Formula: ``b = r*a``.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    float
        Hardener to pour [g].

    Raises
    ------
    OutOfRange
        If the mass or the ratio is outside its range.

    Valid range
    -----------
    Mass 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> hardener_target_g(resin_g=46.0, ratio=0.30)
    13.8

    Source
    ------
    Definition of the ratio, shop rule 15; the 46.0 g example is that of shop rule 19.
    """
    return mass("resin_g", resin_g) * mix_ratio("ratio", ratio)


def resin_target_g(*, hardener_g: float, ratio: float) -> float:
    """Resin that belongs to the hardener at hand.

    Formula: ``a = b/r``.

    Parameters
    ----------
    hardener_g : float
        Hardener, b [g].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    float
        Resin to pour [g].

    Raises
    ------
    OutOfRange
        If the mass or the ratio is outside its range.

    Valid range
    -----------
    Mass 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> resin_target_g(hardener_g=13.8, ratio=0.30)
    46.0

    Source
    ------
    Definition of the ratio, shop rule 15.
    """
    return mass("hardener_g", hardener_g) / mix_ratio("ratio", ratio)


def split_total(*, total_g: float, ratio: float) -> Split:
    """Share a wanted mass of mix between resin and hardener.

    Formula: ``a = m/(1 + r)``, ``b = m*r/(1 + r)``.

    Parameters
    ----------
    total_g : float
        Mix wanted, m [g].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    Split
        Resin and hardener [g]; they add up to the total.

    Raises
    ------
    OutOfRange
        If the mass or the ratio is outside its range.

    Valid range
    -----------
    Mass 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> split_total(total_g=500, ratio=0.25)
    Split(resin_g=400.0, hardener_g=100.0)

    Source
    ------
    Mass balance. The kit of 400 g and 100 g is that of US Army TM 55-1905-223-SDC, paragraph 8-24.
    """
    total = mass("total_g", total_g)
    r = mix_ratio("ratio", ratio)
    return Split(resin_g=total / (1 + r), hardener_g=total * r / (1 + r))


def deviation_pct(*, resin_g: float, hardener_g: float, ratio: float) -> float:
    """Signed deviation of the poured ratio from the stated one.

    Formula: ``((b/a)/r - 1)*100``.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    hardener_g : float
        Hardener poured, b [g].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    float
        Deviation [%]; above zero means more hardener than stated.

    Raises
    ------
    OutOfRange
        If a mass or the ratio is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> deviation_pct(resin_g=100, hardener_g=30.6, ratio=0.30)
    2.0

    Source
    ------
    Shop rule 16.
    """
    a = mass("resin_g", resin_g)
    b = mass("hardener_g", hardener_g)
    return (b / a / mix_ratio("ratio", ratio) - 1) * 100


def tolerance_pct(*, kind: str, value: float, ratio: float) -> float:
    """Bring a tolerance of any kind to per cent of the ratio.

    Formula: ``percent_of_ratio``: t; ``parts`` (of hardener to 100 of resin): ``t/r``; ``percent_of_each_mass``, with
    ``p = t/100``: ``200*p/(1 + p)``.

    Where each mass may be out by p, the ratio lies between ``(1 - p)/(1 + p)`` and ``(1 + p)/(1 - p)`` of the stated
    one. The lower end is the nearer, so it is used on both sides: every pot inside it has a size at which both masses
    are within p. The wider upper end would let a mass out of its tolerance pass on the side of too little hardener.

    Parameters
    ----------
    kind : {'percent_of_ratio', 'parts', 'percent_of_each_mass'}
        What the tolerance is counted in [text].
    value : float
        The tolerance as stated, without its sign, t [% or parts per 100].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    float
        Tolerance to either side [% of ratio].

    Raises
    ------
    OutOfRange
        If the kind is unknown, the ratio outside its range, or the tolerance reaches 100 % of the ratio.

    Valid range
    -----------
    Result above 0 and below 100 %; ratio 0.001 to 10.

    Examples
    --------
    >>> tolerance_pct(kind="parts", value=2, ratio=0.30)
    6.67
    >>> tolerance_pct(kind="percent_of_each_mass", value=0.5, ratio=0.40)
    0.995

    Source
    ------
    Shop rule 15. Each mass to 0.5 %: a published light-aircraft maintenance manual, 51-20-00 p. 201.
    """
    r = mix_ratio("ratio", ratio)
    if kind == "percent_of_ratio":
        return tolerance("value", value)
    if kind == "parts":
        return within("value", value, 0, 100 * r, above=True, below=True, unit="parts") / r
    if kind == "percent_of_each_mass":
        p = tolerance("value", value) / 100
        return 200 * p / (1 + p)
    raise OutOfRange("kind", repr(kind)[:40], f"one of {', '.join(TOLERANCE_KINDS)}")


def correction(*, resin_g: float, hardener_g: float, ratio: float) -> Correction:
    """What to add so that a mix has its stated ratio.

    Formula: ``b < r*a``: add ``r*a - b`` of hardener; ``b > r*a``: add ``b/r - a`` of resin, and the mix weighs
    ``(b/r)*(1 + r)``. An addition below half a milligram counts as nothing: no account keeps it.

    This is arithmetic alone. Whether a mix may still be corrected (nothing applied, no filler in, early in its pot
    life, not too large with the addition) is a matter of the data sheet and the shop.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    hardener_g : float
        Hardener poured, b [g].
    ratio : float
        Stated b/a by weight, r [-].

    Returns
    -------
    Correction
        What to add, how much [g], and the mass afterwards [g].

    Raises
    ------
    OutOfRange
        If a mass or the ratio is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; ratio 0.001 to 10.

    Examples
    --------
    >>> correction(resin_g=100, hardener_g=33, ratio=0.30)
    Correction(add='resin', add_g=10.0, total_g=143.0)

    Source
    ------
    Shop rule 20; mass balance.
    """
    a = mass("resin_g", resin_g)
    b = mass("hardener_g", hardener_g)
    r = mix_ratio("ratio", ratio)
    if r * a - b >= LEAST_MASS_G / 2:
        return Correction(add="hardener", add_g=r * a - b, total_g=a * (1 + r))
    if b / r - a >= LEAST_MASS_G / 2:
        return Correction(add="resin", add_g=b / r - a, total_g=b / r * (1 + r))
    return Correction(add="nothing", add_g=0.0, total_g=a + b)
