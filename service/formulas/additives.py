"""What goes into a mix besides resin and hardener, and the catalyst of peroxide systems.

- :func:`additive_g`, :func:`additive_percent`: filler or pigment, counted on the resin or on the mix.
- :func:`peroxide_range_g`, :func:`peroxide_range_ml`: the range of catalyst for polyester and vinylester resins.

A promoter is stirred in first and the peroxide after it. The two never touch each other: together they can burn or
explode. The data sheet's range for the temperature of the shop comes before any figure here.
"""

from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, density, mass, within

__all__ = [
    "PeroxideMass",
    "PeroxideVolume",
    "additive_g",
    "additive_percent",
    "peroxide_range_g",
    "peroxide_range_ml",
]

LOWEST_CATALYST_PCT = 0.5
HIGHEST_CATALYST_PCT = 5.0


@dataclass(frozen=True, slots=True)
class PeroxideMass:
    """The range of catalyst by mass.

    Attributes
    ----------
    low_g : float
        Least catalyst [g].
    high_g : float
        Most catalyst [g].
    """

    low_g: float
    high_g: float


@dataclass(frozen=True, slots=True)
class PeroxideVolume:
    """The range of catalyst by volume.

    Attributes
    ----------
    low_ml : float
        Least catalyst [ml].
    high_ml : float
        Most catalyst [ml].
    """

    low_ml: float
    high_ml: float


def _additive_base_g(of: str, resin_g: float, hardener_g: float | None) -> float:
    resin = mass("resin_g", resin_g)
    if of == "resin":
        if hardener_g is not None:
            mass("hardener_g", hardener_g)
        return resin
    if of == "mix":
        if hardener_g is None:
            raise OutOfRange("hardener_g", "not given", "a mass where the additive is counted on the mix")
        return resin + mass("hardener_g", hardener_g)
    raise OutOfRange("of", repr(of)[:40], "one of resin, mix")


def additive_g(*, percent: float, of: str, resin_g: float, hardener_g: float | None = None) -> float:
    """Filler or pigment that a stated percentage asks for.

    Formula: ``percent/100`` of the resin, or of resin and hardener together. The additive itself is not part of what
    the percentage is counted on.

    Parameters
    ----------
    percent : float
        Additive as stated [%].
    of : {'resin', 'mix'}
        What the percentage is counted on [text].
    resin_g : float
        Resin [g].
    hardener_g : float, optional
        Hardener; needed where the percentage is counted on the mix [g].

    Returns
    -------
    float
        Additive [g].

    Raises
    ------
    OutOfRange
        If a number is outside its range, ``of`` is unknown, or the hardener is missing.

    Valid range
    -----------
    0 to 1000 %; masses 0.001 g to 1e6 g.

    Examples
    --------
    >>> additive_g(percent=5, of="mix", resin_g=100, hardener_g=30)
    6.5

    Source
    ------
    Definition; common practice, no source. Judged apart from the ratio: shop rule 15.
    """
    share = within("percent", percent, 0, 1000, unit="%") / 100
    return share * _additive_base_g(of, resin_g, hardener_g)


def additive_percent(*, mass_g: float, of: str, resin_g: float, hardener_g: float | None = None) -> float:
    """Percentage of filler or pigment that was poured.

    Formula: ``100*m`` divided by the resin, or by resin and hardener together.

    Parameters
    ----------
    mass_g : float
        Additive poured, m; 0 for none [g].
    of : {'resin', 'mix'}
        What the percentage is counted on [text].
    resin_g : float
        Resin [g].
    hardener_g : float, optional
        Hardener; needed where the percentage is counted on the mix [g].

    Returns
    -------
    float
        Additive [%].

    Raises
    ------
    OutOfRange
        If a mass is outside its range, ``of`` is unknown, or the hardener is missing.

    Valid range
    -----------
    Additive 0 to 1e6 g; other masses 0.001 g to 1e6 g.

    Examples
    --------
    >>> additive_percent(mass_g=6.5, of="mix", resin_g=100, hardener_g=30)
    5.0

    Source
    ------
    Definition; common practice, no source.
    """
    return 100 * within("mass_g", mass_g, 0, 1e6, unit="g") / _additive_base_g(of, resin_g, hardener_g)


def peroxide_range_g(*, resin_g: float, low_pct: float, high_pct: float) -> PeroxideMass:
    """Catalyst by mass for a peroxide system.

    Formula: ``resin_g*pct/100`` at both ends of the range that the data sheet gives for the shop's temperature.

    Parameters
    ----------
    resin_g : float
        Resin, promoter already stirred in [g].
    low_pct : float
        Least catalyst on the resin [%].
    high_pct : float
        Most catalyst on the resin [%].

    Returns
    -------
    PeroxideMass
        Least and most catalyst [g].

    Raises
    ------
    OutOfRange
        If the resin or a percentage is outside its range, or the upper percentage is below the lower.

    Valid range
    -----------
    Resin 0.001 g to 1e6 g; percentages 0.5 to 5 %. Data sheets mostly stay within 1 to 3 %.

    Examples
    --------
    >>> peroxide_range_g(resin_g=2500, low_pct=1.0, high_pct=2.0)
    PeroxideMass(low_g=25.0, high_g=50.0)

    Source
    ------
    Shop rule 23; common practice, no source.
    """
    resin = mass("resin_g", resin_g)
    low = within("low_pct", low_pct, LOWEST_CATALYST_PCT, HIGHEST_CATALYST_PCT, unit="%")
    high = within("high_pct", high_pct, low, HIGHEST_CATALYST_PCT, unit="%")
    return PeroxideMass(low_g=resin * low / 100, high_g=resin * high / 100)


def peroxide_range_ml(*, resin_g: float, low_pct: float, high_pct: float, density_g_ml: float) -> PeroxideVolume:
    """Catalyst by volume for a peroxide system.

    Formula: ``resin_g*pct/100/rho``. The percentages are by mass; a data sheet that counts millilitres per kilogram
    of resin states another number.

    Parameters
    ----------
    resin_g : float
        Resin, promoter already stirred in [g].
    low_pct : float
        Least catalyst on the resin, by mass [%].
    high_pct : float
        Most catalyst on the resin, by mass [%].
    density_g_ml : float
        Density of the catalyst, rho [g/ml].

    Returns
    -------
    PeroxideVolume
        Least and most catalyst [ml].

    Raises
    ------
    OutOfRange
        If the resin, a percentage or the density is outside its range, or the upper percentage is below the lower.

    Valid range
    -----------
    Resin 0.001 g to 1e6 g; percentages 0.5 to 5 %; density 0.5 to 5 g/ml.

    Examples
    --------
    >>> peroxide_range_ml(resin_g=2500, low_pct=1.0, high_pct=2.0, density_g_ml=1.25)
    PeroxideVolume(low_ml=20.0, high_ml=40.0)

    Source
    ------
    Shop rule 23; definition of density.
    """
    rho = density("density_g_ml", density_g_ml)
    by_mass = peroxide_range_g(resin_g=resin_g, low_pct=low_pct, high_pct=high_pct)
    return PeroxideVolume(low_ml=by_mass.low_g / rho, high_ml=by_mass.high_g / rho)
