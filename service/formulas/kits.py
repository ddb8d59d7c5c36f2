"""Weigh the kit before the resin, and the part after the trim.

- ``PieceMass``: one piece of a kit; :func:`kit_mass`: what the kit should weigh, and how surely.
- :func:`kit_check`: a weighed kit against it: is a piece missing, or one too many?
- :func:`after_trim`: what the weighed part says of its resin, and what the account cannot explain.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas.ranges import OutOfRange, within

__all__ = ["AfterTrim", "KitCheck", "KitMass", "PieceMass", "after_trim", "kit_check", "kit_mass"]

COVERAGE_FACTOR = 2


@dataclass(frozen=True, slots=True)
class PieceMass:
    """One piece of a kit.

    Attributes
    ----------
    area_m2 : float
        Area as cut, above 0 and at most 1000 [m²].
    areal_weight_g_m2 : float
        Areal weight, measured on the roll where it is known, 1 to 20,000 [g/m²].
    areal_weight_spread_pct : float
        Standard deviation of the mass of such a piece, cut and weave together, 0 to 50 [%].
    """

    area_m2: float
    areal_weight_g_m2: float
    areal_weight_spread_pct: float

    def __post_init__(self) -> None:
        within("area_m2", self.area_m2, 0, 1000, above=True, unit="m²")
        within("areal_weight_g_m2", self.areal_weight_g_m2, 1, 20_000, unit="g/m²")
        within("areal_weight_spread_pct", self.areal_weight_spread_pct, 0, 50, unit="%")


@dataclass(frozen=True, slots=True)
class KitMass:
    """What a kit should weigh.

    Attributes
    ----------
    expected_g : float
        Sum of the pieces [g].
    spread_g : float
        Spread to either side, k = 2 [g].
    lightest_g : float
        The lightest piece [g].
    """

    expected_g: float
    spread_g: float
    lightest_g: float


@dataclass(frozen=True, slots=True)
class KitCheck:
    """A weighed kit against what it should weigh.

    Attributes
    ----------
    difference_g : float
        Weighed less expected [g].
    doubtful : bool
        Whether a piece may be missing or too many [-].
    sees_one_piece : bool
        Whether this kit's spread lets a missing lightest piece be seen at all [-].
    sentence : str
        The same in words [text].
    """

    difference_g: float
    doubtful: bool
    sees_one_piece: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class AfterTrim:
    """What a weighed part says of its laminate.

    Attributes
    ----------
    resin_g : float
        Resin in part and trim together [g].
    resin_mass_fraction : float
        Share of resin in the laminate's mass [-].
    fibre_mass_fraction : float
        Share of fibre in the laminate's mass [-].
    fibre_volume_fraction : float
        Share of fibre in the laminate's volume, no voids [-].
    thickness_mm : float or None
        Mean thickness, no voids, where the area is given [mm].
    unexplained_g : float or None
        Resin applied less resin found, where it is known what was applied [g].
    unexplained_pct : float or None
        The same as a share of what was applied [%].
    """

    resin_g: float
    resin_mass_fraction: float
    fibre_mass_fraction: float
    fibre_volume_fraction: float
    thickness_mm: float | None
    unexplained_g: float | None
    unexplained_pct: float | None


def kit_mass(*, pieces: Sequence[PieceMass], shared_spread_pct: float = 0.0) -> KitMass:
    """What a kit should weigh, and its spread.

    Formula: ``expected = sum(m_i)``, ``spread = 2 sqrt(sum((m_i s_i)²) + (c sum(m_i))²)``, with ``m_i`` the area times
    the areal weight.

    Parameters
    ----------
    pieces : sequence of PieceMass
        All pieces of the kit; a piece that is cut four times stands four times [m², g/m², %].
    shared_spread_pct : float
        Standard deviation that all pieces share, c: an unweighed roll may be heavy or light as a whole; 0 where the
        areal weight of the roll was measured [%].

    Returns
    -------
    KitMass
        Expected mass, spread with k = 2, lightest piece [g].

    Raises
    ------
    OutOfRange
        If there is no piece, or a number is outside its range.

    Valid range
    -----------
    1 to 2000 pieces; shared spread 0 to 50 %.

    Examples
    --------
    >>> kit_mass(pieces=[PieceMass(0.5, 200, 5.8)] * 8)
    KitMass(expected_g=800.0, spread_g=32.8, lightest_g=100.0)

    Source
    ------
    Independent pieces added in squares, JCGM 100:2008 5.1.2 (read:
    https://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/05_e.html).
    """
    if not 1 <= len(pieces) <= 2000:
        raise OutOfRange("pieces", f"a list of {len(pieces)}", "a list of 1 to 2000 pieces")
    shared = within("shared_spread_pct", shared_spread_pct, 0, 50, unit="%") / 100
    masses = [piece.area_m2 * piece.areal_weight_g_m2 for piece in pieces]
    own = [mass * piece.areal_weight_spread_pct / 100 for mass, piece in zip(masses, pieces, strict=True)]
    expected = math.fsum(masses)
    return KitMass(expected, COVERAGE_FACTOR * math.hypot(*own, shared * expected), min(masses))


def kit_check(*, kit: KitMass, measured_g: float) -> KitCheck:
    """Whether a weighed kit may lack a piece or hold one too many.

    Formula: doubtful if ``|measured - expected|`` is above the spread and above half of the lightest piece.

    Parameters
    ----------
    kit : KitMass
        What the kit should weigh [g].
    measured_g : float
        What it weighs, without its bag [g].

    Returns
    -------
    KitCheck
        Difference and verdict [g].

    Raises
    ------
    OutOfRange
        If the measured mass is not above 0 and at most 1e7 g.

    Valid range
    -----------
    Mass above 0 and at most 1e7 g.

    Examples
    --------
    >>> kit = kit_mass(pieces=[PieceMass(0.5, 200, 5.8)] * 8)
    >>> kit_check(kit=kit, measured_g=704).sentence
    'The kit is 96.0 g lighter than expected: count the pieces before resin is mixed.'

    Source
    ------
    Common practice, no source.
    """
    difference = within("measured_g", measured_g, 0, 1e7, above=True, unit="g") - kit.expected_g
    doubtful = abs(difference) > max(kit.spread_g, kit.lightest_g / 2)
    sees_one = kit.spread_g < kit.lightest_g / 2
    if doubtful:
        way = "lighter" if difference < 0 else "heavier"
        sentence = f"The kit is {abs(difference):.1f} g {way} than expected: count the pieces before resin is mixed."
    else:
        sentence = f"The kit weighs what it should, within {max(kit.spread_g, kit.lightest_g / 2):.1f} g."
    if not sees_one:
        sentence += " By weight alone a missing small piece would not be seen: count them."
    return KitCheck(difference, doubtful, sees_one, sentence)


def after_trim(
    *,
    part_g: float,
    trim_g: float,
    fibre_g: float,
    other_g: float,
    fibre_density_g_cm3: float,
    matrix_density_g_cm3: float,
    resin_applied_g: float | None = None,
    area_m2: float | None = None,
) -> AfterTrim:
    """What a weighed part says of its resin, and how far the account of the resin closes.

    Formula: ``resin = part + trim - fibre - other``; ``W_f = fibre/(fibre + resin)``; unexplained = applied - resin.
    The trim is taken to hold resin and fibre in the same shares as the part.

    Parameters
    ----------
    part_g : float
        The part after trim [g].
    trim_g : float
        What was trimmed off, weighed; 0 with the fibre counted for the trimmed part only [g].
    fibre_g : float
        Dry fibre in part and trim together [g].
    other_g : float
        Gel coat, core and inserts in part and trim together; 0 if there are none [g].
    fibre_density_g_cm3 : float
        Density of the fibre [g/cm³].
    matrix_density_g_cm3 : float
        Density of the cured resin [g/cm³].
    resin_applied_g : float or None
        Mixed resin applied to the part, if it is known [g].
    area_m2 : float or None
        Area of part and trim together, if the mean thickness is wanted [m²].

    Returns
    -------
    AfterTrim
        Resin, fractions, thickness and what the account cannot explain [g, -, mm].

    Raises
    ------
    OutOfRange
        If a number is outside its range, or part and trim weigh no more than fibre and the rest.

    Valid range
    -----------
    Masses above 0 (trim and other from 0) and at most 1e6 g; densities 0.01 to 25 g/cm³; area above 0 and at most
    10,000 m²; no voids.

    Examples
    --------
    >>> after_trim(
    ...     part_g=1300,
    ...     trim_g=260,
    ...     fibre_g=800,
    ...     other_g=0,
    ...     fibre_density_g_cm3=1.78,
    ...     matrix_density_g_cm3=1.15,
    ...     resin_applied_g=800,
    ... ).unexplained_pct
    5.0

    Source
    ------
    Balance of masses; volumes added up.
    """
    part = within("part_g", part_g, 0, 1e6, above=True, unit="g")
    trim = within("trim_g", trim_g, 0, 1e6, unit="g")
    fibre = within("fibre_g", fibre_g, 0, 1e6, above=True, unit="g")
    other = within("other_g", other_g, 0, 1e6, unit="g")
    fibre_volume = fibre / within("fibre_density_g_cm3", fibre_density_g_cm3, 0.01, 25, unit="g/cm³")
    matrix_density = within("matrix_density_g_cm3", matrix_density_g_cm3, 0.01, 25, unit="g/cm³")
    resin = part + trim - fibre - other
    if resin <= 0:
        allowed = f"with its trim above the {fibre + other:g} g of fibre and the rest, or something was weighed wrong"
        raise OutOfRange("part_g", f"{part:g} with {trim:g} g of trim", allowed)
    resin_volume = resin / matrix_density
    thickness = unexplained = unexplained_pct = None
    if area_m2 is not None:
        area = within("area_m2", area_m2, 0, 10_000, above=True, unit="m²")
        thickness = (fibre_volume + resin_volume) / area / 1000
    if resin_applied_g is not None:
        applied = within("resin_applied_g", resin_applied_g, 0, 1e6, above=True, unit="g")
        unexplained, unexplained_pct = applied - resin, 100 * (applied - resin) / applied
    return AfterTrim(
        resin_g=resin,
        resin_mass_fraction=resin / (resin + fibre),
        fibre_mass_fraction=fibre / (resin + fibre),
        fibre_volume_fraction=fibre_volume / (fibre_volume + resin_volume),
        thickness_mm=thickness,
        unexplained_g=unexplained,
        unexplained_pct=unexplained_pct,
    )
