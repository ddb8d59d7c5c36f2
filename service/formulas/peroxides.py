"""The catalyst of peroxide-cured resins, by the table of its data sheet (shop rule 23); catalysts.py goes on.

- ``DoseRow``: one line of the table; :func:`dose_at`: the line for the resin's temperature, or none.
- :func:`dose_tolerance_pct`, :func:`dose_verdict`: the range as a tolerance, and the verdict on what was poured.
- :func:`dose_correction`: what brings a pot back into the range.

There is no general range: outside the table there is no figure, and the supplier is asked. A promoter is stirred in
first and the peroxide after it; the two never touch each other, they can burn or explode. The data sheet, the safety
data sheet and local rules come before any figure here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from service.formulas.ranges import OutOfRange, mass, series, within

__all__ = [
    "DoseCorrection",
    "DoseRow",
    "dose_at",
    "dose_correction",
    "dose_tolerance_pct",
    "dose_verdict",
]

MOST_PCT = 20.0
"""More catalyst or promoter than that is a slip of the pen."""


def percent_of_resin(argument: str, value: float) -> float:
    return within(argument, value, 0, MOST_PCT, above=True, unit="%")


def ordered(lowest_pct: float, target_pct: float, highest_pct: float) -> tuple[float, float, float]:
    low, target, high = (
        percent_of_resin("lowest_pct", lowest_pct),
        percent_of_resin("target_pct", target_pct),
        percent_of_resin("highest_pct", highest_pct),
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
        ordered(self.lowest_pct, self.target_pct, self.highest_pct)


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
    low, target, high = ordered(lowest_pct, target_pct, highest_pct)
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
    low, _, high = ordered(lowest_pct, lowest_pct, highest_pct)
    band = poured * within("uncertainty_pct", uncertainty_pct, 0, 1e9, unit="%") / 100
    # What a double cannot tell from the limit is at it.
    a_little = 1e-12 * high
    if low <= poured - band + a_little and poured + band <= high + a_little:
        return "within"
    return "outside" if poured + band < low - a_little or poured - band > high + a_little else "near the limit"


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
    low, target, high = ordered(lowest_pct, target_pct, highest_pct)
    base = resin + within("fillers_counted_g", fillers_counted_g, 0, 1e6, unit="g")
    percent = 100 * catalyst / base
    if percent < low:
        add = base * target / 100 - catalyst
        return DoseCorrection("catalyst", add, base * high / 100 - catalyst, resin + catalyst + add)
    if percent > high:
        add = 100 * catalyst / target - base
        return DoseCorrection("resin", add, 100 * catalyst / low - base, resin + catalyst + add)
    return DoseCorrection("nothing", 0.0, 0.0, resin + catalyst)
