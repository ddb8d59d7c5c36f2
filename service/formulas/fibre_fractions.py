"""Fibre fractions of a laminate, by mass and by volume (shop rule 30).

- :func:`fibre_volume_fraction`, :func:`fibre_mass_fraction`: one from the other, no voids.
- :func:`fractions_with_voids`: from the measured density of the laminate.
"""

from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, within

__all__ = ["VolumeFractions", "fibre_mass_fraction", "fibre_volume_fraction", "fractions_with_voids"]


@dataclass(frozen=True, slots=True)
class VolumeFractions:
    """What fills the volume of a laminate.

    Attributes
    ----------
    fibre_volume_fraction : float
        Share of fibre [-].
    matrix_volume_fraction : float
        Share of resin [-].
    void_fraction : float
        The rest [-]; slightly below zero when the densities do not quite agree.
    """

    fibre_volume_fraction: float
    matrix_volume_fraction: float
    void_fraction: float


def _fraction(argument: str, value: float) -> float:
    return within(argument, value, 0, 1, above=True, below=True)


def _density(argument: str, value: float) -> float:
    return within(argument, value, 0.01, 25, unit="g/cm³")


def fibre_volume_fraction(
    *, fibre_mass_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float
) -> float:
    """Fibre fraction by volume from that by mass, no voids.

    Formula: ``V_f = (W_f/rho_f) / (W_f/rho_f + (1 - W_f)/rho_m)``.

    Parameters
    ----------
    fibre_mass_fraction : float
        Fibre fraction by mass, W_f [-].
    fibre_density_g_cm3 : float
        Density of the fibre, rho_f [g/cm³].
    matrix_density_g_cm3 : float
        Density of the cured resin, rho_m [g/cm³].

    Returns
    -------
    float
        Fibre fraction by volume [-].

    Raises
    ------
    OutOfRange
        If the fraction is not above 0 and below 1, or a density outside its range.

    Valid range
    -----------
    Fraction above 0 and below 1; densities 0.01 to 25 g/cm³; no voids.

    Examples
    --------
    >>> fibre_volume_fraction(fibre_mass_fraction=0.50, fibre_density_g_cm3=2.54, matrix_density_g_cm3=1.15)
    0.3117

    Source
    ------
    Volumes added up; the void-free case, as method II of ASTM D3171 assumes it (a guide to it read:
    https://tnlab.org/en/d3171-22-standard-test-method-technical-guide/).
    """
    share = _fraction("fibre_mass_fraction", fibre_mass_fraction)
    fibre = share / _density("fibre_density_g_cm3", fibre_density_g_cm3)
    return fibre / (fibre + (1 - share) / _density("matrix_density_g_cm3", matrix_density_g_cm3))


def fibre_mass_fraction(
    *, fibre_volume_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float
) -> float:
    """Fibre fraction by mass from that by volume, no voids.

    Formula: ``W_f = V_f rho_f / (V_f rho_f + (1 - V_f) rho_m)``.

    Parameters
    ----------
    fibre_volume_fraction : float
        Fibre fraction by volume, V_f [-].
    fibre_density_g_cm3 : float
        Density of the fibre, rho_f [g/cm³].
    matrix_density_g_cm3 : float
        Density of the cured resin, rho_m [g/cm³].

    Returns
    -------
    float
        Fibre fraction by mass [-].

    Raises
    ------
    OutOfRange
        If the fraction is not above 0 and below 1, or a density outside its range.

    Valid range
    -----------
    Fraction above 0 and below 1; densities 0.01 to 25 g/cm³; no voids.

    Examples
    --------
    >>> fibre_mass_fraction(fibre_volume_fraction=0.62, fibre_density_g_cm3=1.78, matrix_density_g_cm3=1.2)
    0.708

    Source
    ------
    Masses added up; the void-free case, as method II of ASTM D3171 assumes it (a guide to it read:
    https://tnlab.org/en/d3171-22-standard-test-method-technical-guide/).
    """
    share = _fraction("fibre_volume_fraction", fibre_volume_fraction)
    fibre = share * _density("fibre_density_g_cm3", fibre_density_g_cm3)
    return fibre / (fibre + (1 - share) * _density("matrix_density_g_cm3", matrix_density_g_cm3))


def fractions_with_voids(
    *,
    fibre_mass_fraction: float,
    fibre_density_g_cm3: float,
    matrix_density_g_cm3: float,
    laminate_density_g_cm3: float,
) -> VolumeFractions:
    """Fibre, resin and voids by volume from the measured density of the laminate.

    Formula: ``V_f = W_f rho_c/rho_f``; ``V_m = (1 - W_f) rho_c/rho_m``; ``V_void = 1 - V_f - V_m``.

    Parameters
    ----------
    fibre_mass_fraction : float
        Fibre fraction by mass, measured, W_f [-].
    fibre_density_g_cm3 : float
        Density of the fibre, rho_f [g/cm³].
    matrix_density_g_cm3 : float
        Density of the cured resin, rho_m [g/cm³].
    laminate_density_g_cm3 : float
        Measured density of the laminate, rho_c [g/cm³].

    Returns
    -------
    VolumeFractions
        Shares of fibre, resin and voids [-].

    Raises
    ------
    OutOfRange
        If an argument is outside its range, or the laminate is denser than fibre and resin allow.

    Valid range
    -----------
    Fraction above 0 and below 1; densities 0.01 to 25 g/cm³; voids -0.02 to below 1, the negative ones for the scatter
    of the densities.

    Examples
    --------
    >>> fractions_with_voids(
    ...     fibre_mass_fraction=0.65,
    ...     fibre_density_g_cm3=1.78,
    ...     matrix_density_g_cm3=1.20,
    ...     laminate_density_g_cm3=1.50,
    ... ).void_fraction
    0.0147

    Source
    ------
    ASTM D3171, method I, whose scope was read (https://standards.iteh.ai/catalog/standards/astm/); its equations and
    ISO 14127 from memory, checked by volumes that add up.
    """
    share = _fraction("fibre_mass_fraction", fibre_mass_fraction)
    density = _density("laminate_density_g_cm3", laminate_density_g_cm3)
    fibre = share * density / _density("fibre_density_g_cm3", fibre_density_g_cm3)
    matrix = (1 - share) * density / _density("matrix_density_g_cm3", matrix_density_g_cm3)
    if fibre + matrix > 1.02:
        without_voids = density / (fibre + matrix)
        allowed = f"at most 2 % above the {without_voids:.4g} g/cm³ of fibre and resin without voids"
        raise OutOfRange("laminate_density_g_cm3", f"{density:g}", allowed)
    return VolumeFractions(fibre, matrix, 1 - fibre - matrix)
