"""A catalyst at the bench: measured out, weighed to its range, and how long the resin lives with it (shop rule 23).

- :func:`percent_by_volume`, :func:`measured_u_g`: a catalyst that is measured out in millilitres.
- :func:`dose_limits`: readings that are surely within the range.
- :func:`dose_life`: life by temperature and per cent.

The table itself is in peroxides.py. The data sheet, the safety data sheet and local rules come before any figure here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas.clocks import Life, LifePoint, life_min
from service.formulas.peroxides import dose_verdict, ordered
from service.formulas.ranges import density, mass, series, within

__all__ = ["CatalystLimits", "PercentPoint", "dose_life", "dose_limits", "measured_u_g", "percent_by_volume"]

MOST_STEPS = 20_000


@dataclass(frozen=True, slots=True)
class PercentPoint:
    """One point of a table of life by per cent of catalyst.

    Attributes
    ----------
    percent : float
        Catalyst [% of resin].
    temperature_c : float
        Temperature of the resin, -20 to 200 [°C].
    life_min : float
        Life, above 0 and at most 1e6 [min].
    """

    percent: float
    temperature_c: float
    life_min: float


@dataclass(frozen=True, slots=True)
class CatalystLimits:
    """Limits of the catalyst for the resin poured.

    Attributes
    ----------
    target_g : float
        Catalyst to aim at [g].
    lowest_g : float
        Least catalyst by the range alone [g].
    highest_g : float
        Most catalyst by the range alone [g].
    accepted_low_g : float or None
        Least reading that is surely within the range; None if there is none [g].
    accepted_high_g : float or None
        Largest reading that is surely within the range; None if there is none [g].
    """

    target_g: float
    lowest_g: float
    highest_g: float
    accepted_low_g: float | None
    accepted_high_g: float | None


def percent_by_volume(*, volume_ml: float, density_g_ml: float, resin_g: float) -> float:
    """Catalyst by mass where it was measured out in millilitres.

    Formula: ``100*V*rho/resin``. Millilitres to a kilogram are not tenths of a per cent: 20 ml/kg of a catalyst of
    1.10 to 1.15 g/ml is 2.2 to 2.3 %, not 2.

    Parameters
    ----------
    volume_ml : float
        Catalyst, V [ml].
    density_g_ml : float
        Density of the catalyst, rho [g/ml].
    resin_g : float
        Resin as delivered [g].

    Returns
    -------
    float
        Catalyst [% of resin].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Volume 0.001 to 1e6 ml; density 0.5 to 5 g/ml; resin 0.001 g to 1e6 g.

    Examples
    --------
    >>> percent_by_volume(volume_ml=20, density_g_ml=1.10, resin_g=1000)
    2.2
    >>> percent_by_volume(volume_ml=20, density_g_ml=1.15, resin_g=1000)
    2.3

    Source
    ------
    Shop rule 23; definition of density. Densities of the example: common practice, no source.
    """
    volume = within("volume_ml", volume_ml, 0.001, 1e6, unit="ml")
    return 100 * volume * density("density_g_ml", density_g_ml) / mass("resin_g", resin_g)


def measured_u_g(*, step_ml: float, volume_ml: float, density_g_ml: float, density_u_g_ml: float = 0.0) -> float:
    """Standard uncertainty of a mass that was measured out in a graduated cup or dropper.

    Formula: ``u**2 = (rho*d/sqrt(12))**2 + (V*u_rho)**2`` with d the step of the measure: a volume is read to the
    nearest line.

    Parameters
    ----------
    step_ml : float
        Step of the measure, d [ml].
    volume_ml : float
        Volume that was measured, V [ml].
    density_g_ml : float
        Density of the liquid at its temperature, rho [g/ml].
    density_u_g_ml : float, optional
        Standard uncertainty of the density, u_rho [g/ml].

    Returns
    -------
    float
        Standard uncertainty of the mass [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Step above 0 and at most 1000 ml; volume 0.001 to 1e6 ml; density 0.5 to 5 g/ml, its uncertainty 0 to 1 g/ml.

    Examples
    --------
    >>> measured_u_g(step_ml=1, volume_ml=20, density_g_ml=1.15)
    0.332

    Source
    ------
    Shop rules 17 and 23a; JCGM 100:2008 4.3, type B, paragraph 7 for the step (contents read:
    http://www.iso.org/sites/JCGM/GUM/JCGM100/C045315e-html/C045315e_FILES/MAIN_C045315e/Toc_e.html; the paragraph from
    memory).
    """
    step = within("step_ml", step_ml, 0, 1000, above=True, unit="ml")
    volume = within("volume_ml", volume_ml, 0.001, 1e6, unit="ml")
    rho = density("density_g_ml", density_g_ml)
    u_rho = within("density_u_g_ml", density_u_g_ml, 0, 1, unit="g/ml")
    return math.hypot(rho * step / math.sqrt(12), volume * u_rho)


def dose_limits(
    *,
    base_g: float,
    lowest_pct: float,
    target_pct: float,
    highest_pct: float,
    base_u_g: float,
    reading_u_g: float,
    step_g: float,
) -> CatalystLimits:
    """Readings of the catalyst that are surely within its range, rounded inward to the step of scale or measure.

    Formula: every step b with ``lowest <= p - U`` and ``p + U <= highest``, ``p = 100*b/base`` and
    ``U = 2*p*sqrt(u_base**2/base**2 + u_b**2/b**2)``.

    Parameters
    ----------
    base_g : float
        Resin as delivered, with its fillers where the data sheet counts them [g].
    lowest_pct : float
        Least catalyst [% of resin].
    target_pct : float
        Catalyst to aim at [% of resin].
    highest_pct : float
        Most catalyst [% of resin].
    base_u_g : float
        Standard uncertainty of the resin's mass, u_base [g].
    reading_u_g : float
        Standard uncertainty of the catalyst's mass, u_b [g].
    step_g : float
        Step of the scale, or of the measure in grams of catalyst [g].

    Returns
    -------
    CatalystLimits
        Target, range and acceptance [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Base 0.001 g to 1e6 g; percentages above 0 and at most 20 %; uncertainties 0 to 1000 g; step 1e-6 to 1000 g.

    Examples
    --------
    >>> limits = dose_limits(
    ...     base_g=1000, lowest_pct=1, target_pct=1.5, highest_pct=2, base_u_g=0.04, reading_u_g=0.04, step_g=0.1
    ... )
    >>> limits.target_g, limits.accepted_low_g, limits.accepted_high_g
    (15.0, 10.1, 19.9)

    Source
    ------
    Shop rules 19 and 23.
    """
    base = mass("base_g", base_g)
    low, target, high = ordered(lowest_pct, target_pct, highest_pct)
    u_base = within("base_u_g", base_u_g, 0, 1000, unit="g")
    u = within("reading_u_g", reading_u_g, 0, 1000, unit="g")
    step = within("step_g", step_g, 1e-6, 1000, unit="g")

    def accepted(steps: int) -> bool:
        catalyst = steps * step
        percent = 100 * catalyst / base
        uncertainty = 200 * math.hypot(u_base / base, u / catalyst)
        return dose_verdict(percent=percent, uncertainty_pct=uncertainty, lowest_pct=low, highest_pct=high) == "within"

    # The band grows with the catalyst, but slower than it: the accepted steps are one run, sought from either end.
    first, last = math.ceil(base * low / 100 / step - 1e-9), math.floor(base * high / 100 / step + 1e-9)
    lowest_step = highest_step = None
    if last >= 1 and last - first <= MOST_STEPS:
        lowest_step = next((n for n in range(max(1, first), last + 1) if accepted(n)), None)
        highest_step = next((n for n in range(last, max(1, first) - 1, -1) if accepted(n)), None)
    digits = max(0, 3 - math.floor(math.log10(step)))
    return CatalystLimits(
        target_g=base * target / 100,
        lowest_g=base * low / 100,
        highest_g=base * high / 100,
        accepted_low_g=None if lowest_step is None else round(lowest_step * step, digits),
        accepted_high_g=None if highest_step is None else round(highest_step * step, digits),
    )


def dose_life(*, points: Sequence[PercentPoint], percent: float, temperature_c: float) -> Life:
    """Life of a catalysed resin, by its temperature and its per cent of catalyst.

    Formula: ``ln(life)`` is linear in temperature between the points of one percentage, and linear in ``ln(percent)``
    between the percentages. Hotter, or with more catalyst, than the table there is no figure, only the life at the
    nearest edge that it stays below; cooler or with less, the life at the nearest edge, never a longer one.

    Parameters
    ----------
    points : sequence of PercentPoint
        The table [%, °C, min].
    percent : float
        Catalyst poured [% of resin].
    temperature_c : float
        Temperature of the resin [°C].

    Returns
    -------
    Life
        Minutes, or what they stay below, with what the figure is worth [min].

    Raises
    ------
    OutOfRange
        If the table is empty, names a point twice, or gives the hotter or more catalysed resin the longer life; if a
        number is outside its range.

    Valid range
    -----------
    1 to 400 points; percentage above 0 and at most 100 %; temperature -20 to 200 °C.

    Examples
    --------
    >>> table = [PercentPoint(1, 20, 40), PercentPoint(2, 20, 20)]
    >>> dose_life(points=table, percent=1.5, temperature_c=20).minutes
    26.7

    Source
    ------
    Shop rules 23 and 26, with the per cent of catalyst in the place of the mass. Linear in ln(percent): common
    practice, no source.
    """
    poured = within("percent", percent, 0, 100, above=True, unit="%")
    rows = [LifePoint(p.percent, p.temperature_c, p.life_min) for p in series("points", points, least=1, most=400)]
    found = life_min(points=rows, mass_g=poured, temperature_c=temperature_c)
    most, hottest = max(p.percent for p in points), max(p.temperature_c for p in points)
    at = f"at {temperature_c:g} °C with {poured:.3g} % of catalyst"
    if found.minutes is None:
        more = [f"{poured:.3g} % is more than the table ({most:g} %)"] if poured > most else []
        hot = [f"{temperature_c:g} °C is hotter than the table ({hottest:g} °C)"] if temperature_c > hottest else []
        why = " and ".join([*hot, *more]) or "hotter than the table for that much catalyst"
        return Life(None, found.bound, found.shorter_than_min, f"Shorter than {found.shorter_than_min:.1f} min: {why}.")
    edge = "" if found.bound == "exact" else ", held at the edge of the table"
    return Life(found.minutes, found.bound, None, f"{found.minutes:.1f} min {at}{edge}.")
