"""Whether failures, or what was measured, go with a number such as the days that a can had been open.

- :func:`rank_sum`: whether the failed ones have larger values than the good ones.
- :func:`rank_trend`: whether one quantity rises or falls with another.

A small p-value makes a number a suspect, never a cause.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas._bounds import series
from service.formulas.ranges import OutOfRange, within

__all__ = ["RankSum", "RankTrend", "rank_sum", "rank_trend"]

MOST_VALUES = 10_000
LARGEST = 1e12


@dataclass(frozen=True, slots=True)
class RankSum:
    """Two groups compared by the ranks of their values.

    Attributes
    ----------
    p_greater : float
        Chance that the failed ones have values so large among all, were there no link [-].
    median_failed : float
        Median of the failed ones [unit of the values].
    median_good : float
        Median of the good ones [unit of the values].
    """

    p_greater: float
    median_failed: float
    median_good: float


@dataclass(frozen=True, slots=True)
class RankTrend:
    """How far one quantity rises with another.

    Attributes
    ----------
    tau : float
        Kendall's rank correlation, 1 for always rising, -1 for always falling [-].
    p_two_sided : float
        Chance of so strong a trend either way, were there no link [-].
    """

    tau: float
    p_two_sided: float


def _values(argument: str, values: Sequence[float], least: int) -> list[float]:
    members = series(argument, values, least=least, most=MOST_VALUES)
    return [within(f"{argument}[{place}]", value, -LARGEST, LARGEST) for place, value in enumerate(members)]


def rank_sum(*, failed: Sequence[float], good: Sequence[float]) -> RankSum:
    """Test whether the values of the failed ones are larger than those of the good ones.

    Formula: Mann-Whitney ``U = R - n*(n + 1)/2`` from the rank sum R of the n failed ones; exact for up to eight values
    on one side without ties, else by the normal distribution with corrections for ties and continuity.

    Parameters
    ----------
    failed : sequence of float
        Values of the failed ones, in any unit [list of -].
    good : sequence of float
        Values of the good ones, in the same unit [list of -].

    Returns
    -------
    RankSum
        p-value and medians [-].

    Raises
    ------
    OutOfRange
        If a group is empty or a value is not a number in its range.

    Valid range
    -----------
    1 to 10 000 values on each side, each from -1e12 to 1e12.

    Examples
    --------
    >>> rank_sum(failed=[201, 208, 215], good=[5, 40, 190])
    RankSum(p_greater=0.05, median_failed=208.0, median_good=40.0)

    Source
    ------
    Mann and Whitney, Ann. Math. Statist. 18 (1947) 50 (from memory); the example by hand: one of 20 orders.
    """
    from scipy.stats import mannwhitneyu

    bad, fine = _values("failed", failed, 1), _values("good", good, 1)
    return RankSum(
        p_greater=float(mannwhitneyu(bad, fine, alternative="greater").pvalue),
        median_failed=float(statistics.median(bad)),
        median_good=float(statistics.median(fine)),
    )


def rank_trend(*, x: Sequence[float], y: Sequence[float]) -> RankTrend:
    """Test whether y rises or falls with x, whatever the shape of the rise.

    Formula: Kendall's tau-b, ``(concordant - discordant)/sqrt((n0 - ties in x)*(n0 - ties in y))`` with
    ``n0 = n*(n - 1)/2``.

    Parameters
    ----------
    x : sequence of float
        What it may go with, such as days open [list of -].
    y : sequence of float
        What was measured, one for each x [list of -].

    Returns
    -------
    RankTrend
        tau and its p-value [-].

    Raises
    ------
    OutOfRange
        If the lists differ in length, are too short, or all values of one are the same.

    Valid range
    -----------
    3 to 10 000 pairs, each value from -1e12 to 1e12.

    Examples
    --------
    >>> trend = rank_trend(x=[10, 90, 185, 215], y=[84, 83, 60, 31])
    >>> trend.tau, trend.p_two_sided
    (-1.0, 0.0833)

    Source
    ------
    Kendall, Biometrika 30 (1938) 81 (from memory); the example by hand: two of 24 orders are so extreme.
    """
    from scipy.stats import kendalltau

    along, measured = _values("x", x, 3), _values("y", y, 3)
    if len(along) != len(measured):
        raise OutOfRange("y", f"a list of {len(measured)}", f"a list of {len(along)} values, one for each x")
    for name, values in (("x", along), ("y", measured)):
        if len(set(values)) == 1:
            raise OutOfRange(name, "the same value throughout", "a list of different values")
    found = kendalltau(along, measured)
    return RankTrend(tau=float(found.statistic), p_two_sided=float(found.pvalue))
