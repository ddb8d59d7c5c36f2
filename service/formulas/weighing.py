"""How well a scale knows a mass and a mix ratio, after JCGM 100 (GUM).

- :func:`reading_uncertainty_g`: standard uncertainty of one reading.
- :func:`minimum_mass_g`: smallest net mass that a scale can weigh to a tolerance.
- :func:`ratio_uncertainty_pct`: expanded uncertainty of a mix ratio, zeroed between pours or in a running total.
- :func:`verdict`: within, near the limit, or outside, with the uncertainty as a guard band.
- :func:`too_coarse`: whether the uncertainty takes too much of the tolerance.

Readability and repeatability are counted. Calibration error, drift and draughts are not: a scale that is out by a
constant factor leaves a ratio weighed on it unchanged, and anything else has to be kept out by the scale's own checks.
"""

import math
from typing import Literal

from service.formulas.ranges import OutOfRange, mass, tolerance, whole_number, within

__all__ = ["minimum_mass_g", "ratio_uncertainty_pct", "reading_uncertainty_g", "too_coarse", "verdict"]

COVERAGE_FACTOR = 2

SMALLEST_REPEATABILITY = 0.41
"""Least standard deviation of a weighing in scale intervals, USP <41>: two readings, 1/sqrt(6), rounded up."""

LARGEST_SHARE_OF_TOLERANCE = 1 / 3
"""Share of the tolerance that the uncertainty may take before the pour, shop rule 18."""

LARGEST_INTERVAL_G = 1000.0
MOST_READINGS = 50


def _interval(argument: str, value: float) -> float:
    return within(argument, value, 1e-6, LARGEST_INTERVAL_G, unit="g")


def _repeatability(argument: str, value: float) -> float:
    return within(argument, value, 0, LARGEST_INTERVAL_G, unit="g")


def reading_uncertainty_g(*, interval_g: float, repeatability_g: float) -> float:
    """Standard uncertainty of one reading of a scale.

    Formula: ``u**2 = d**2/12 + s**2``: the step of the display and the scatter of readings in squares.

    Parameters
    ----------
    interval_g : float
        Scale interval, the step of the display, d [g].
    repeatability_g : float
        Standard deviation of repeated readings of one load, s; 0 where it is not known [g].

    Returns
    -------
    float
        Standard uncertainty, k = 1 [g].

    Raises
    ------
    OutOfRange
        If the interval or the repeatability is outside its range.

    Valid range
    -----------
    Interval 1e-6 g to 1000 g; repeatability 0 to 1000 g.

    Examples
    --------
    >>> reading_uncertainty_g(interval_g=0.1, repeatability_g=0.0)
    0.0289
    >>> reading_uncertainty_g(interval_g=0.1, repeatability_g=0.05)
    0.0577

    Source
    ------
    Shop rule 17; JCGM 100:2008 F.2.2.1, as cited at
    https://rdrr.io/github/claus-e-andersen/clanTools/man/resolution.uncertainty.abs.html.
    """
    d = _interval("interval_g", interval_g)
    return math.hypot(d / math.sqrt(12), _repeatability("repeatability_g", repeatability_g))


def minimum_mass_g(*, interval_g: float, repeatability_g: float, tolerance_pct: float) -> float:
    """Smallest net mass that a scale can weigh to a tolerance.

    Formula: ``m = 2*max(s, 0.41*d)*100/tolerance``.

    Parameters
    ----------
    interval_g : float
        Scale interval, d [g].
    repeatability_g : float
        Standard deviation of at least ten weighings, s; 0 where it is not known [g].
    tolerance_pct : float
        Tolerance of the single mass [%].

    Returns
    -------
    float
        Smallest net mass [g].

    Raises
    ------
    OutOfRange
        If the interval, the repeatability or the tolerance is outside its range.

    Valid range
    -----------
    Interval 1e-6 g to 1000 g; repeatability 0 to 1000 g; tolerance above 0 and below 100 %.

    Examples
    --------
    >>> minimum_mass_g(interval_g=0.0001, repeatability_g=0.00015, tolerance_pct=0.10)
    0.300

    Source
    ------
    USP <41> (2019): 2 s/m at most 0.10 %, and s not below 0.41 d, so that m is 820 d at the least.
    """
    d = _interval("interval_g", interval_g)
    s = max(_repeatability("repeatability_g", repeatability_g), SMALLEST_REPEATABILITY * d)
    return COVERAGE_FACTOR * s * 100 / tolerance("tolerance_pct", tolerance_pct)


def ratio_uncertainty_pct(
    *,
    resin_g: float,
    hardener_g: float,
    resin_reading_u_g: float,
    hardener_reading_u_g: float,
    zeroed: bool,
    resin_readings: int = 1,
    hardener_readings: int = 1,
) -> float:
    """Expanded uncertainty (k = 2) of a weighed mix ratio.

    Formula, zeroed before each pour: ``(U/200)**2 = n_a*2*u_a**2/a**2 + n_b*2*u_b**2/b**2``, for each pour is the
    difference of two readings. Formula, running total on one scale: ``(U/200)**2 = u**2*(1/a**2 + (1/a + 1/b)**2 +
    1/b**2)``, for the reading between the pours ends the resin and begins the hardener. In a running total more pours
    of one component after each other add nothing: only its first and its last reading count.

    Parameters
    ----------
    resin_g : float
        Resin poured, a [g].
    hardener_g : float
        Hardener poured, b [g].
    resin_reading_u_g : float
        Standard uncertainty of one reading of the resin's scale, u_a [g].
    hardener_reading_u_g : float
        Standard uncertainty of one reading of the hardener's scale, u_b [g].
    zeroed : bool
        True if the scale was zeroed (or an emptied cup weighed back) for each pour; False for a running total [-].
    resin_readings : int, optional
        Net weighings that make up the resin, n_a [-].
    hardener_readings : int, optional
        Net weighings that make up the hardener, n_b [-].

    Returns
    -------
    float
        Expanded uncertainty, k = 2 [% of ratio].

    Raises
    ------
    OutOfRange
        If a mass, an uncertainty or a count is outside its range, ``zeroed`` is not true or false, or a running total
        has two scales.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g; uncertainty of a reading above 0 and at most 1000 g; 1 to 50 weighings a component. The
    formula is linear in the relative errors: above some 30 % it says "far too coarse" rather than how much.

    Examples
    --------
    >>> ratio_uncertainty_pct(
    ...     resin_g=100, hardener_g=30, resin_reading_u_g=0.0288675, hardener_reading_u_g=0.0288675, zeroed=True
    ... )
    0.284

    Source
    ------
    Shop rule 17; JCGM 100:2008 5.1, uncorrelated inputs, paragraph 6 for a quotient (contents read:
    http://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/Toc_e.html; the paragraph from
    memory).
    """
    a = mass("resin_g", resin_g)
    b = mass("hardener_g", hardener_g)
    u_a = within("resin_reading_u_g", resin_reading_u_g, 0, LARGEST_INTERVAL_G, above=True, unit="g")
    u_b = within("hardener_reading_u_g", hardener_reading_u_g, 0, LARGEST_INTERVAL_G, above=True, unit="g")
    n_a = whole_number("resin_readings", resin_readings, 1, MOST_READINGS)
    n_b = whole_number("hardener_readings", hardener_readings, 1, MOST_READINGS)
    if zeroed is True:
        relative = math.hypot(math.sqrt(2 * n_a) * u_a / a, math.sqrt(2 * n_b) * u_b / b)
    elif zeroed is False:
        if u_a != u_b:
            raise OutOfRange("hardener_reading_u_g", f"{u_b:g}", f"{u_a:g} g too: a running total has one scale")
        relative = u_a * math.hypot(1 / a, 1 / a + 1 / b, 1 / b)
    else:
        raise OutOfRange("zeroed", repr(zeroed)[:40], "true or false")
    return 100 * COVERAGE_FACTOR * relative


def verdict(
    *, deviation_pct: float, uncertainty_pct: float, tolerance_pct: float
) -> Literal["within", "near the limit", "outside"]:
    """Judge a deviation with the scale's uncertainty as a guard band.

    Formula: within if ``|dev| + U <= tol``; outside if ``|dev| - U > tol``; else near the limit.

    Parameters
    ----------
    deviation_pct : float
        Signed deviation of the ratio [%].
    uncertainty_pct : float
        Expanded uncertainty of the ratio, k = 2, U [% of ratio].
    tolerance_pct : float
        Tolerance to either side [% of ratio].

    Returns
    -------
    {'within', 'near the limit', 'outside'}
        The verdict.

    Raises
    ------
    OutOfRange
        If a number is outside its range.

    Valid range
    -----------
    Deviation -100 to 1e9 %; uncertainty 0 to 1e9 %; tolerance above 0 and below 100 %.

    Examples
    --------
    >>> verdict(deviation_pct=2.1, uncertainty_pct=0.28, tolerance_pct=2.0)
    'near the limit'

    Source
    ------
    Shop rule 18.
    """
    off = abs(within("deviation_pct", deviation_pct, -100, 1e9, unit="%"))
    band = within("uncertainty_pct", uncertainty_pct, 0, 1e9, unit="%")
    limit = tolerance("tolerance_pct", tolerance_pct)
    # What a double cannot tell from the limit is at it.
    if off + band <= limit * (1 + 1e-12):
        return "within"
    return "outside" if off - band > limit * (1 + 1e-12) else "near the limit"


def too_coarse(*, uncertainty_pct: float, tolerance_pct: float) -> bool:
    """Whether a scale is too coarse for a pot.

    Formula: ``U > tol/3``.

    Parameters
    ----------
    uncertainty_pct : float
        Expanded uncertainty of the ratio, k = 2, U [% of ratio].
    tolerance_pct : float
        Tolerance to either side [% of ratio].

    Returns
    -------
    bool
        True for "finer scale or larger pot".

    Raises
    ------
    OutOfRange
        If a number is outside its range.

    Valid range
    -----------
    Uncertainty 0 to 1e9 %; tolerance above 0 and below 100 %.

    Examples
    --------
    >>> too_coarse(uncertainty_pct=2.84, tolerance_pct=2.0)
    True

    Source
    ------
    Shop rule 18.
    """
    band = within("uncertainty_pct", uncertainty_pct, 0, 1e9, unit="%")
    return band > tolerance("tolerance_pct", tolerance_pct) * LARGEST_SHARE_OF_TOLERANCE
