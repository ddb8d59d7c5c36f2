"""Equivalents of epoxy resins and amine hardeners.

EEW is the mass of resin that holds one mole of epoxide groups, AHEW the mass of hardener that holds one mole of N-H
hydrogens. Commercial grades are mixtures: the value of the data sheet wins over one from a molar mass.

- :func:`epoxide_equivalent_weight`, :func:`amine_hydrogen_equivalent_weight`: of a pure substance.
- :func:`blend_equivalent_weight`: of a mixture, fillers included.
- :func:`epoxy_number`, :func:`amine_number`: equivalents in 100 g.
- :func:`phr_from_equivalents`: parts of hardener per hundred of resin.
- :func:`stoichiometric_index`, :func:`hardener_for_index_g`: hydrogens to epoxide groups in a mix.
"""

import math
from collections.abc import Sequence

from service.formulas.ranges import OutOfRange, mass, series, whole_number, within

__all__ = [
    "amine_hydrogen_equivalent_weight",
    "amine_number",
    "blend_equivalent_weight",
    "epoxide_equivalent_weight",
    "epoxy_number",
    "hardener_for_index_g",
    "phr_from_equivalents",
    "stoichiometric_index",
]

LEAST_EQUIVALENT_WEIGHT = 10.0
MOST_EQUIVALENT_WEIGHT = 10_000.0


def _equivalent_weight(argument: str, value: float) -> float:
    return within(argument, value, LEAST_EQUIVALENT_WEIGHT, MOST_EQUIVALENT_WEIGHT, unit="g/eq")


def _per_group(argument: str, molar_mass_g_mol: float, groups: int) -> float:
    molar_mass = within("molar_mass_g_mol", molar_mass_g_mol, 10, 100_000, unit="g/mol")
    return molar_mass / whole_number(argument, groups, 1, 1000)


def amine_hydrogen_equivalent_weight(*, molar_mass_g_mol: float, active_hydrogens: int) -> float:
    """Amine hydrogen equivalent weight of a pure amine.

    Formula: ``AHEW = M/f``.

    Parameters
    ----------
    molar_mass_g_mol : float
        Molar mass, M [g/mol].
    active_hydrogens : int
        N-H hydrogens in the molecule, f [-].

    Returns
    -------
    float
        AHEW [g/eq].

    Raises
    ------
    OutOfRange
        If the molar mass or the number of hydrogens is outside its range.

    Valid range
    -----------
    Molar mass 10 to 100 000 g/mol; 1 to 1000 hydrogens.

    Examples
    --------
    >>> amine_hydrogen_equivalent_weight(molar_mass_g_mol=103.166, active_hydrogens=5)
    20.633

    Source
    ------
    Definition. The value is that of diethylenetriamine, CAS 111-40-0, published as 20.6 on a supplier's page.
    """
    return _per_group("active_hydrogens", molar_mass_g_mol, active_hydrogens)


def epoxide_equivalent_weight(*, molar_mass_g_mol: float, epoxide_groups: int) -> float:
    """Epoxide equivalent weight of a pure epoxide.

    Formula: ``EEW = M/f``.

    Parameters
    ----------
    molar_mass_g_mol : float
        Molar mass, M [g/mol].
    epoxide_groups : int
        Epoxide groups in the molecule, f [-].

    Returns
    -------
    float
        EEW [g/eq].

    Raises
    ------
    OutOfRange
        If the molar mass or the number of groups is outside its range.

    Valid range
    -----------
    Molar mass 10 to 100 000 g/mol; 1 to 1000 groups.

    Examples
    --------
    >>> epoxide_equivalent_weight(molar_mass_g_mol=340.413, epoxide_groups=2)
    170.21

    Source
    ------
    Definition. The value is that of the monomer of bisphenol A diglycidyl ether, CAS 1675-54-3, 170 in handbooks (from
    memory).
    """
    return _per_group("epoxide_groups", molar_mass_g_mol, epoxide_groups)


def blend_equivalent_weight(*, masses_g: Sequence[float], equivalent_weights: Sequence[float | None]) -> float:
    """Equivalent weight of a mixture of resins, or of hardeners.

    Formula: ``EW = sum(m_i)/sum(m_i/EW_i)``. Fillers and diluents that do not react count in the mass alone.

    Parameters
    ----------
    masses_g : sequence of float
        Mass of each ingredient, m_i [list of g].
    equivalent_weights : sequence of float or None
        Equivalent weight of each, EW_i, in the same order; None for one that does not react [list of g/eq].

    Returns
    -------
    float
        Equivalent weight of the mixture [g/eq].

    Raises
    ------
    OutOfRange
        If a number is outside its range, the lists differ in length, or nothing in the mixture reacts.

    Valid range
    -----------
    1 to 50 ingredients; masses 0.001 g to 1e6 g; equivalent weights 10 to 10 000 g/eq.

    Examples
    --------
    >>> blend_equivalent_weight(masses_g=[90, 10], equivalent_weights=[190, None])
    211.11

    Source
    ------
    Guide to epoxy calculations (turiya.nl); hand calculation.
    """
    masses = series("masses_g", masses_g, least=1, most=50)
    weights = series("equivalent_weights", equivalent_weights, least=1, most=50)
    if len(masses) != len(weights):
        raise OutOfRange("equivalent_weights", f"a list of {len(weights)}", f"as long as masses_g, {len(masses)}")
    m = [mass(f"masses_g[{i}]", value) for i, value in enumerate(masses)]
    equivalents = math.fsum(
        m[i] / _equivalent_weight(f"equivalent_weights[{i}]", value)
        for i, value in enumerate(weights)
        if value is not None
    )
    if equivalents == 0:
        raise OutOfRange("equivalent_weights", "None throughout", "a number for at least one ingredient")
    return math.fsum(m) / equivalents


def epoxy_number(*, eew: float) -> float:
    """Epoxide groups in 100 g of resin.

    Formula: ``100/EEW``.

    Parameters
    ----------
    eew : float
        Epoxide equivalent weight [g/eq].

    Returns
    -------
    float
        Epoxy number [eq/100 g].

    Raises
    ------
    OutOfRange
        If the equivalent weight is outside its range.

    Valid range
    -----------
    10 to 10 000 g/eq.

    Examples
    --------
    >>> epoxy_number(eew=190)
    0.5263

    Source
    ------
    Guide to epoxy calculations (turiya.nl).
    """
    return 100 / _equivalent_weight("eew", eew)


def amine_number(*, ahew: float) -> float:
    """N-H hydrogens in 100 g of hardener.

    Formula: ``100/AHEW``. It is not the amine value in mg KOH/g, which counts nitrogen, tertiary amines included.

    Parameters
    ----------
    ahew : float
        Amine hydrogen equivalent weight [g/eq].

    Returns
    -------
    float
        Amine number [eq/100 g].

    Raises
    ------
    OutOfRange
        If the equivalent weight is outside its range.

    Valid range
    -----------
    10 to 10 000 g/eq.

    Examples
    --------
    >>> amine_number(ahew=24.4)
    4.098

    Source
    ------
    Guide to epoxy calculations (turiya.nl).
    """
    return 100 / _equivalent_weight("ahew", ahew)


def phr_from_equivalents(*, ahew: float, eew: float) -> float:
    """Parts of hardener per hundred of resin, a hydrogen to each epoxide group.

    Formula: ``phr = 100*AHEW/EEW``. A data sheet's own ratio wins: suppliers move it on purpose.

    Parameters
    ----------
    ahew : float
        Amine hydrogen equivalent weight of the hardener [g/eq].
    eew : float
        Epoxide equivalent weight of the resin [g/eq].

    Returns
    -------
    float
        Parts of hardener per hundred of resin by weight [parts per 100].

    Raises
    ------
    OutOfRange
        If an equivalent weight is outside its range.

    Valid range
    -----------
    10 to 10 000 g/eq.

    Examples
    --------
    >>> phr_from_equivalents(ahew=20.6, eew=200)
    10.3

    Source
    ------
    Adhesives in Civil Engineering, chapter on epoxides (kraska.biz): 10.3 parts for this pair.
    """
    return 100 * _equivalent_weight("ahew", ahew) / _equivalent_weight("eew", eew)


def stoichiometric_index(*, resin_g: float, eew: float, hardener_g: float, ahew: float) -> float:
    """Hydrogens to epoxide groups in a mix.

    Formula: ``(b/AHEW)/(a/EEW)``.

    Parameters
    ----------
    resin_g : float
        Resin, a [g].
    eew : float
        Epoxide equivalent weight of the resin [g/eq].
    hardener_g : float
        Hardener, b [g].
    ahew : float
        Amine hydrogen equivalent weight of the hardener [g/eq].

    Returns
    -------
    float
        Index; 1 is a hydrogen to each epoxide group, above 1 is more hardener [-].

    Raises
    ------
    OutOfRange
        If a mass or an equivalent weight is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; equivalent weights 10 to 10 000 g/eq.

    Examples
    --------
    >>> stoichiometric_index(resin_g=100, eew=200, hardener_g=10.3, ahew=20.6)
    1.0

    Source
    ------
    Definition; hand calculation.
    """
    hydrogens = mass("hardener_g", hardener_g) / _equivalent_weight("ahew", ahew)
    return hydrogens / (mass("resin_g", resin_g) / _equivalent_weight("eew", eew))


def hardener_for_index_g(*, resin_g: float, eew: float, ahew: float, index: float) -> float:
    """Hardener that gives a mix a wanted index.

    Formula: ``b = index*AHEW*a/EEW``.

    Parameters
    ----------
    resin_g : float
        Resin, a [g].
    eew : float
        Epoxide equivalent weight of the resin [g/eq].
    ahew : float
        Amine hydrogen equivalent weight of the hardener [g/eq].
    index : float
        Hydrogens to epoxide groups [-].

    Returns
    -------
    float
        Hardener [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Mass 0.001 g to 1e6 g; equivalent weights 10 to 10 000 g/eq; index 0.1 to 10.

    Examples
    --------
    >>> hardener_for_index_g(resin_g=100, eew=200, ahew=20.6, index=0.9)
    9.27

    Source
    ------
    The index turned round; hand calculation.
    """
    wanted = within("index", index, 0.1, 10)
    return wanted * mass("resin_g", resin_g) * _equivalent_weight("ahew", ahew) / _equivalent_weight("eew", eew)
