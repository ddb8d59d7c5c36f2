"""The network that a resin becomes: glass transition and gel point.

- :func:`glass_transition_c`: from the degree of cure, after DiBenedetto.
- :func:`gel_point`: the conversion at which the network spans the part, after Flory and Stockmayer.
"""

import math
from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, within

__all__ = ["GelPoint", "gel_point", "glass_transition_c"]


@dataclass(frozen=True, slots=True)
class GelPoint:
    """Conversions at the gel point.

    Attributes
    ----------
    epoxy_conversion : float
        Share of the epoxy groups that has reacted [-].
    hydrogen_conversion : float
        Share of the amine hydrogens that has reacted [-].
    """

    epoxy_conversion: float
    hydrogen_conversion: float


def glass_transition_c(*, degree_of_cure: float, uncured_c: float, cured_c: float, dibenedetto_lambda: float) -> float:
    """Glass transition temperature at a degree of cure.

    Formula: ``Tg = Tg0 + (Tg1 - Tg0) L a / (1 - (1 - L) a)``.

    Parameters
    ----------
    degree_of_cure : float
        Degree of cure, a [-].
    uncured_c : float
        Glass transition of the unreacted mix, Tg0 [°C].
    cured_c : float
        Glass transition of the fully cured resin, Tg1 [°C].
    dibenedetto_lambda : float
        Fitted parameter, L [-].

    Returns
    -------
    float
        Glass transition temperature [°C].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Degree 0 to 1; temperatures -150 to 500 °C, the cured one the higher; parameter above 0 and at most 1. Only with
    constants fitted for the resin system in hand (shop rule 37).

    Examples
    --------
    >>> glass_transition_c(degree_of_cure=0.9, uncured_c=-7, cured_c=250, dibenedetto_lambda=0.78)
    217.96

    Source
    ------
    DiBenedetto, J. Polym. Sci. B 25 (1987) 1949 (from memory; a program that names him has the same equation, read:
    https://github.com/yvanblanchard/CuringThermoSetWithCalculix), in the form of Pascault and Williams, J. Polym. Sci.
    B 28 (1990) 85, whose abstract names it as fit for epoxies with diamines (read:
    https://preview.concepedia.online/publication/W1981254931).
    """
    degree = within("degree_of_cure", degree_of_cure, 0, 1)
    low = within("uncured_c", uncured_c, -150, 500, unit="°C")
    high = within("cured_c", cured_c, low, 500, above=True, unit="°C")
    shape = within("dibenedetto_lambda", dibenedetto_lambda, 0, 1, above=True)
    return low + (high - low) * shape * degree / (1 - (1 - shape) * degree)


def gel_point(*, epoxy_functionality: float, hydrogen_functionality: float, hydrogens_per_epoxy: float) -> GelPoint:
    """Conversions at which an epoxy and an amine gel.

    Formula: ``a_H a_E (f - 1)(g - 1) = 1`` and ``a_E = r a_H``, so ``a_E = sqrt(r / ((f - 1)(g - 1)))``.

    Parameters
    ----------
    epoxy_functionality : float
        Epoxy groups of a resin molecule, f [-].
    hydrogen_functionality : float
        Active hydrogens of a hardener molecule, g [-].
    hydrogens_per_epoxy : float
        Active hydrogens to epoxy groups in the mix, r [-].

    Returns
    -------
    GelPoint
        Conversion of epoxy groups and of hydrogens [-].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or a mix so far from even that it never gels.

    Valid range
    -----------
    Functionalities 2 to 12, not both 2; r such that neither conversion passes 1. Equal reactivity and no rings: real
    gel points lie somewhat above.

    Examples
    --------
    >>> gel_point(epoxy_functionality=2, hydrogen_functionality=4, hydrogens_per_epoxy=1.0).epoxy_conversion
    0.57735

    Source
    ------
    Flory, Principles of Polymer Chemistry, 1953, ch. IX; Stockmayer, J. Polym. Sci. 9 (1952) 69; both as named,
    and not read, in Tanaka, Stanford and Stepto 2009, whose abstract says that rings raise it (read:
    https://rd.springer.com/chapter/10.1007/978-3-642-00865-8_8).
    """
    epoxy = within("epoxy_functionality", epoxy_functionality, 2, 12)
    hydrogen = within("hydrogen_functionality", hydrogen_functionality, 2, 12)
    branching = (epoxy - 1) * (hydrogen - 1)
    if branching <= 1:
        raise OutOfRange("hydrogen_functionality", f"{hydrogen:g}", "above 2 where the resin has two epoxy groups")
    ratio = within("hydrogens_per_epoxy", hydrogens_per_epoxy, 1 / branching, branching)
    # At either end of the range all of the scarcer groups have reacted; rounding must not carry it past 1.
    return GelPoint(min(1.0, math.sqrt(ratio / branching)), min(1.0, 1 / math.sqrt(ratio * branching)))
