"""The catalyst of peroxide-cured resins, by the table of its data sheet (shop rule 23).

- ``DoseRow``: one line of the table; :func:`dose_at`: the line for the resin's temperature, or none.
- :func:`percent_by_volume`, :func:`measured_u_g`: a catalyst that is measured out in millilitres.
- :func:`dose_tolerance_pct`, :func:`dose_verdict`: the range as a tolerance, and the verdict on what was poured.
- :func:`dose_limits`: readings that are surely within the range.
- :func:`dose_correction`: what brings a pot back into the range.
- :func:`dose_life`: life by temperature and per cent.

There is no general range: outside the table there is no figure, and the supplier is asked. A promoter is stirred in
first and the peroxide after it; the two never touch each other, they can burn or explode. The data sheet, the safety
data sheet and local rules come before any figure here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from service.formulas.clocks import Life, LifePoint, life_min
from service.formulas.ranges import OutOfRange, density, mass, series, within

__all__ = [
    "CatalystLimits",
    "DoseCorrection",
    "DoseRow",
    "PercentPoint",
    "dose_at",
    "dose_correction",
    "dose_life",
    "dose_limits",
    "dose_tolerance_pct",
    "dose_verdict",
    "measured_u_g",
    "percent_by_volume",
]

MOST_PCT = 20.0
"""More catalyst or promoter than that is a slip of the pen."""

MOST_STEPS = 20_000


def _percent(argument: str, value: float) -> float:
    return within(argument, value, 0, MOST_PCT, above=True, unit="%")


def _ordered(lowest_pct: float, target_pct: float, highest_pct: float) -> tuple[float, float, float]:
    low, target, high = (
        _percent("lowest_pct", lowest_pct),
        _percent("target_pct", target_pct),
        _percent("highest_pct", highest_pct),
    )
    if not (low <= target <= high and low < high):
        raise OutOfRange("target_pct", f"{target:g}", f"from {low:g} to {high:g}, and the lowest below the highest")
    return low, target, high


@dataclass(frozen=True, slots=True)
class DoseRow:
    """One line of a catalyst's table.

    Attributes
    ----------
    temperature_from_c : float
        Lowest temperature of the resin for which it holds [°C].
    temperature_to_c : float
        Highest temperature of the resin for which it holds [°C].
    lowest_pct : float
        Least catalyst [% of resin].
    target_pct : float
        Catalyst to aim at [% of resin].
    highest_pct : float
        Most catalyst [% of resin].
    """

    temperature_from_c: float
    temperature_to_c: float
    lowest_pct: float
    target_pct: float
    highest_pct: float

    def __post_init__(self) -> None:
        begins = within("temperature_from_c", self.temperature_from_c, -20, 120, unit="°C")
        within("temperature_to_c", self.temperature_to_c, begins, 120, above=True, unit="°C")
        _ordered(self.lowest_pct, self.target_pct, self.highest_pct)


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


@dataclass(frozen=True, slots=True)
class DoseCorrection:
    """What brings the catalyst back into its range.

    Attributes
    ----------
    add : {'nothing', 'catalyst', 'resin'}
        What to add [text].
    add_g : float
        How much of it, to the target [g].
    most_g : float
        How much at most: catalyst up to the top of the range; resin down to its bottom [g].
    total_g : float
        Resin and catalyst afterwards [g].
    """

    add: Literal["nothing", "catalyst", "resin"]
    add_g: float
    most_g: float
    total_g: float


def dose_at(*, rows: Sequence[DoseRow], temperature_c: float) -> DoseRow | None:
    """The line of a catalyst's table for the temperature of the resin, or none.

    Formula: the line with ``from <= T <= to``; at a temperature that ends one line and begins the next, the next, the
    warmer one. Nothing is interpolated and nothing continued: outside the lines there is no figure.

    Parameters
    ----------
    rows : sequence of DoseRow
        The table [list of DoseRow].
    temperature_c : float
        Temperature of the resin [°C].

    Returns
    -------
    DoseRow or None
        The line; none where the sheet says nothing.

    Raises
    ------
    OutOfRange
        If the table is empty, two lines overlap, or the temperature is outside its range.

    Valid range
    -----------
    1 to 50 lines; temperature -20 to 120 °C.

    Examples
    --------
    >>> table = [DoseRow(15, 20, 1.5, 2.0, 2.5), DoseRow(20, 25, 1.0, 1.5, 2.0)]
    >>> dose_at(rows=table, temperature_c=18).target_pct
    2.0
    >>> dose_at(rows=table, temperature_c=12) is None
    True

    Source
    ------
    Shop rule 23: outside the lines it is asked, with no figure.
    """
    table = sorted(series("rows", rows, least=1, most=50), key=lambda row: row.temperature_from_c)
    for cooler, warmer in pairwise(table):
        if cooler.temperature_to_c > warmer.temperature_from_c:
            raise OutOfRange(
                "rows",
                f"twice there for {warmer.temperature_from_c:g} °C",
                "a table whose lines meet or lie apart",
            )
    temperature = within("temperature_c", temperature_c, -20, 120, unit="°C")
    found = [row for row in table if row.temperature_from_c <= temperature <= row.temperature_to_c]
    return found[-1] if found else None


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
    Shop rules 17 and 23a; JCGM 100:2008 4.3.7 for the step (clause number from memory).
    """
    step = within("step_ml", step_ml, 0, 1000, above=True, unit="ml")
    volume = within("volume_ml", volume_ml, 0.001, 1e6, unit="ml")
    rho = density("density_g_ml", density_g_ml)
    u_rho = within("density_u_g_ml", density_u_g_ml, 0, 1, unit="g/ml")
    return math.hypot(rho * step / math.sqrt(12), volume * u_rho)


def dose_tolerance_pct(*, lowest_pct: float, target_pct: float, highest_pct: float) -> float:
    """The range of a catalyst as a tolerance to either side, for the choice of a scale or measure.

    Formula: ``100*(highest - lowest)/(2*target)``, half the range.

    Parameters
    ----------
    lowest_pct : float
        Least catalyst [% of resin].
    target_pct : float
        Catalyst to aim at [% of resin].
    highest_pct : float
        Most catalyst [% of resin].

    Returns
    -------
    float
        Tolerance [% of the target].

    Raises
    ------
    OutOfRange
        If a number is outside its range, or the target is not from the lowest to the highest.

    Valid range
    -----------
    Percentages above 0 and at most 20 %.

    Examples
    --------
    >>> dose_tolerance_pct(lowest_pct=1.0, target_pct=1.5, highest_pct=2.0)
    33.3

    Source
    ------
    Shop rule 18 on the range of rule 23. Half the range: common practice, no source.
    """
    low, target, high = _ordered(lowest_pct, target_pct, highest_pct)
    return min(99.9, 100 * (high - low) / (2 * target))


def dose_verdict(
    *, percent: float, uncertainty_pct: float, lowest_pct: float, highest_pct: float
) -> Literal["within", "near the limit", "outside"]:
    """Judge the catalyst poured, with what the scale or measure can know of it as a guard band.

    Formula, with ``U = percent*uncertainty/100``: within if ``lowest <= percent - U`` and ``percent + U <= highest``;
    outside if ``percent + U < lowest`` or ``percent - U > highest``; else near the limit.

    Parameters
    ----------
    percent : float
        Catalyst poured [% of resin].
    uncertainty_pct : float
        Expanded uncertainty of it, k = 2 [% of what was poured].
    lowest_pct : float
        Least catalyst [% of resin].
    highest_pct : float
        Most catalyst [% of resin].

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
    Percentage poured 0 to 1e6 %; limits above 0 and at most 20 %, the lowest below the highest; uncertainty 0 to
    1e9 %.

    Examples
    --------
    >>> dose_verdict(percent=1.95, uncertainty_pct=5, lowest_pct=1.0, highest_pct=2.0)
    'near the limit'

    Source
    ------
    Shop rules 18 and 23.
    """
    poured = within("percent", percent, 0, 1e6, unit="%")
    low, _, high = _ordered(lowest_pct, lowest_pct, highest_pct)
    band = poured * within("uncertainty_pct", uncertainty_pct, 0, 1e9, unit="%") / 100
    # What a double cannot tell from the limit is at it.
    a_little = 1e-12 * high
    if low <= poured - band + a_little and poured + band <= high + a_little:
        return "within"
    return "outside" if poured + band < low - a_little or poured - band > high + a_little else "near the limit"


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
    low, target, high = _ordered(lowest_pct, target_pct, highest_pct)
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


def dose_correction(
    *,
    resin_g: float,
    catalyst_g: float,
    lowest_pct: float,
    target_pct: float,
    highest_pct: float,
    fillers_counted_g: float = 0.0,
) -> DoseCorrection:
    """What brings a pot back into the range of its catalyst.

    Formula: below the range add catalyst, ``target*base/100 - b``, and never past the top, ``highest*base/100 - b``;
    over it add resin, ``100*b/target - base``, and never past the bottom, ``100*b/lowest - base``. Within it: nothing.

    Parameters
    ----------
    resin_g : float
        Resin poured [g].
    catalyst_g : float
        Catalyst poured, b [g].
    lowest_pct : float
        Least catalyst [% of resin].
    target_pct : float
        Catalyst to aim at [% of resin].
    highest_pct : float
        Most catalyst [% of resin].
    fillers_counted_g : float, optional
        Fillers, where the data sheet counts the catalyst on them too; base = resin + fillers [g].

    Returns
    -------
    DoseCorrection
        What to add [g].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Masses 0.001 g to 1e6 g, fillers from 0; percentages above 0 and at most 20 %.

    Examples
    --------
    >>> dose_correction(resin_g=1000, catalyst_g=8, lowest_pct=1, target_pct=1.5, highest_pct=2).add_g
    7.0
    >>> dose_correction(resin_g=1000, catalyst_g=30, lowest_pct=1, target_pct=1.5, highest_pct=2).add
    'resin'

    Source
    ------
    Shop rule 23: balance of masses.
    """
    resin, catalyst = mass("resin_g", resin_g), mass("catalyst_g", catalyst_g)
    low, target, high = _ordered(lowest_pct, target_pct, highest_pct)
    base = resin + within("fillers_counted_g", fillers_counted_g, 0, 1e6, unit="g")
    percent = 100 * catalyst / base
    if percent < low:
        add = base * target / 100 - catalyst
        return DoseCorrection("catalyst", add, base * high / 100 - catalyst, resin + catalyst + add)
    if percent > high:
        add = 100 * catalyst / target - base
        return DoseCorrection("resin", add, 100 * catalyst / low - base, resin + catalyst + add)
    return DoseCorrection("nothing", 0.0, 0.0, resin + catalyst)


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
