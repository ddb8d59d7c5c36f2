"""Fractions, thickness, resin need and masses of a laminate (shop rules 30 and 33).

- :func:`ply_thickness_mm`, :func:`thickness_from_glass_mm`: thickness.
- :func:`resin_need_g`, :func:`uptake_g`, :func:`gel_coat_g`: what to mix.
- from ``fibre_fractions``: :func:`fibre_volume_fraction`, :func:`fibre_mass_fraction`, :func:`fractions_with_voids`.
- from ``kits``: :func:`kit_mass`, :func:`kit_check`, :func:`after_trim`.

A fibre fraction always says whether it is by mass or by volume.
"""

import math
from collections.abc import Sequence

from service.formulas.fibre_fractions import (
    VolumeFractions,
    fibre_mass_fraction,
    fibre_volume_fraction,
    fractions_with_voids,
)
from service.formulas.kits import AfterTrim, KitCheck, KitMass, PieceMass, after_trim, kit_check, kit_mass
from service.formulas.ranges import OutOfRange, within

__all__ = [
    "AfterTrim",
    "KitCheck",
    "KitMass",
    "PieceMass",
    "VolumeFractions",
    "after_trim",
    "fibre_mass_fraction",
    "fibre_volume_fraction",
    "fractions_with_voids",
    "gel_coat_g",
    "kit_check",
    "kit_mass",
    "ply_thickness_mm",
    "resin_need_g",
    "thickness_from_glass_mm",
    "uptake_g",
]


def _fraction(argument: str, value: float) -> float:
    return within(argument, value, 0, 1, above=True, below=True)


def _density(argument: str, value: float) -> float:
    return within(argument, value, 0.01, 25, unit="g/cm³")


def ply_thickness_mm(*, areal_weight_g_m2: float, fibre_density_g_cm3: float, fibre_volume_fraction: float) -> float:
    """Thickness of a cured ply.

    Formula: ``t = A_w / (1000 rho_f V_f)``.

    Parameters
    ----------
    areal_weight_g_m2 : float
        Dry areal weight, A_w [g/m²].
    fibre_density_g_cm3 : float
        Density of the fibre, rho_f [g/cm³].
    fibre_volume_fraction : float
        Fibre fraction by volume, V_f [-].

    Returns
    -------
    float
        Thickness [mm].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Areal weight 1 to 20,000 g/m²; density 0.01 to 25 g/cm³; fraction above 0 and below 1.

    Examples
    --------
    >>> ply_thickness_mm(areal_weight_g_m2=200, fibre_density_g_cm3=1.78, fibre_volume_fraction=0.50)
    0.2247

    Source
    ------
    Fibre volume per area over its share.
    """
    weight = within("areal_weight_g_m2", areal_weight_g_m2, 1, 20_000, unit="g/m²")
    density = _density("fibre_density_g_cm3", fibre_density_g_cm3)
    return weight / (1000 * density * _fraction("fibre_volume_fraction", fibre_volume_fraction))


def thickness_from_glass_mm(*, glass_kg_m2: float, glass_mass_fraction: float) -> float:
    """Thickness of a glass and polyester laminate from its glass, the small craft formula.

    Formula: ``t = (w/3.072)(2.56/psi - 1.36)``: glass of 2.56 and resin of 1.20 g/cm³, no voids.

    Parameters
    ----------
    glass_kg_m2 : float
        Dry glass, w [kg/m²].
    glass_mass_fraction : float
        Glass content by mass, psi [-].

    Returns
    -------
    float
        Thickness [mm].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Glass 0.01 to 100 kg/m²; content by mass 0.05 to below 1.

    Examples
    --------
    >>> thickness_from_glass_mm(glass_kg_m2=0.300, glass_mass_fraction=0.30)
    0.7005

    Source
    ------
    ISO 12215-5:2008, Annex C, equation C.1 (from memory; no public text of the annex was found; a program that
    names the equation has the same three numbers).
    """
    glass = within("glass_kg_m2", glass_kg_m2, 0.01, 100, unit="kg/m²")
    return glass / 3.072 * (2.56 / within("glass_mass_fraction", glass_mass_fraction, 0.05, 1, below=True) - 1.36)


def resin_need_g(*, fibre_g: float, fibre_mass_fraction: float, loss_fraction: float, uptake_g: float) -> float:
    """Mixed resin that a laminate needs.

    Formula: ``fibre (1 - W_f)/W_f (1 + loss) + uptake``.

    Parameters
    ----------
    fibre_g : float
        Dry fibre [g].
    fibre_mass_fraction : float
        Wanted fibre fraction by mass, W_f [-].
    loss_fraction : float
        What stays in cup, brush and roller, as a share of the resin in the laminate [-].
    uptake_g : float
        What peel ply, core and mesh take up; 0 if there are none [g].

    Returns
    -------
    float
        Resin and hardener together [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Fibre above 0 and at most 1e6 g; fraction above 0 and below 1; loss 0 to 1; uptake 0 to 1e6 g.

    Examples
    --------
    >>> resin_need_g(fibre_g=800, fibre_mass_fraction=0.5, loss_fraction=0.05, uptake_g=60)
    900.0

    Source
    ------
    Shop rule 30.
    """
    fibre = within("fibre_g", fibre_g, 0, 1e6, above=True, unit="g")
    share = _fraction("fibre_mass_fraction", fibre_mass_fraction)
    loss = within("loss_fraction", loss_fraction, 0, 1)
    return fibre * (1 - share) / share * (1 + loss) + within("uptake_g", uptake_g, 0, 1e6, unit="g")


def uptake_g(*, area_m2: float, uptake_g_m2: Sequence[float]) -> float:
    """Resin that peel ply, core and mesh take up.

    Formula: ``area * sum of the uptakes``.

    Parameters
    ----------
    area_m2 : float
        Area that they cover [m²].
    uptake_g_m2 : sequence of float
        Uptake of each of them [list of g/m²].

    Returns
    -------
    float
        Resin taken up [g].

    Raises
    ------
    OutOfRange
        If the area or an uptake is outside its range.

    Valid range
    -----------
    Area above 0 and at most 10,000 m²; at most 100 uptakes of 0 to 20,000 g/m² each.

    Examples
    --------
    >>> uptake_g(area_m2=0.5, uptake_g_m2=[40, 80])
    60.0

    Source
    ------
    Shop rule 30.
    """
    area = _area(area_m2)
    if len(uptake_g_m2) > 100:
        raise OutOfRange("uptake_g_m2", f"a list of {len(uptake_g_m2)}", "a list of at most 100 uptakes")
    return area * math.fsum(
        within(f"uptake_g_m2[{index}]", value, 0, 20_000, unit="g/m²") for index, value in enumerate(uptake_g_m2)
    )


def _area(area_m2: float) -> float:
    return within("area_m2", area_m2, 0, 10_000, above=True, unit="m²")


def gel_coat_g(*, area_m2: float, thickness_mm: float, density_g_cm3: float, loss_fraction: float) -> float:
    """Gel coat that a mould needs.

    Formula: ``1000 * area * thickness * density * (1 + loss)``.

    Parameters
    ----------
    area_m2 : float
        Area of the mould [m²].
    thickness_mm : float
        Wet thickness, from the data sheet [mm].
    density_g_cm3 : float
        Density of the mixed gel coat [g/cm³].
    loss_fraction : float
        What stays in cup, brush or gun, as a share of what is on the mould [-].

    Returns
    -------
    float
        Mixed gel coat [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Area above 0 and at most 10,000 m²; thickness 0.01 to 10 mm; density 0.01 to 25 g/cm³; loss 0 to 1.

    Examples
    --------
    >>> gel_coat_g(area_m2=1.6, thickness_mm=0.52, density_g_cm3=1.2, loss_fraction=0)
    998.4

    Source
    ------
    Volume times density; the losses as in shop rule 30.
    """
    thickness = within("thickness_mm", thickness_mm, 0.01, 10, unit="mm")
    density = _density("density_g_cm3", density_g_cm3)
    return 1000 * _area(area_m2) * thickness * density * (1 + within("loss_fraction", loss_fraction, 0, 1))
