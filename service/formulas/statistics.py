"""Statistics behind a look at suspects.

- :func:`fisher_exact`: whether a shared factor and a failure go together more often than chance.
- :func:`benjamini_hochberg`: p-values adjusted for the number of factors that were tried.
- :func:`rank_sum`: whether the failed ones have larger values than the good ones, such as the days a can was open.
- :func:`rank_trend`: whether one quantity rises or falls with another.

A small p-value makes a factor a suspect, never a cause.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from service.formulas.ranges import OutOfRange, series, whole_number, within
from service.formulas.ranks import greater, trend

__all__ = ["FisherResult", "RankSum", "RankTrend", "benjamini_hochberg", "fisher_exact", "rank_sum", "rank_trend"]

CONFIDENCE = 0.95
MOST_FAILED = 2000
MOST_GOOD = 100_000
MOST_VALUES = 10_000
LARGEST = 1e12


@dataclass(frozen=True, slots=True)
class FisherResult:
    """Fisher's exact test of a factor against a failure.

    Attributes
    ----------
    p_greater : float
        Chance of at least so many failures among the exposed, were there no link [-].
    p_two_sided : float
        Chance of a table no likelier than this one, were there no link [-].
    odds_ratio_sample : float or None
        Cross product of the table; None where it is infinite or undefined [-].
    odds_ratio_conditional : float or None
        Conditional maximum likelihood estimate; None where it is infinite or undefined [-].
    low : float
        Lower end of the two-sided 95 % confidence interval of the conditional odds ratio [-].
    high : float or None
        Its upper end; None where it is infinite [-].
    """

    p_greater: float
    p_two_sided: float
    odds_ratio_sample: float | None
    odds_ratio_conditional: float | None
    low: float
    high: float | None


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


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def fisher_exact(*, exposed_failed: int, exposed_good: int, other_failed: int, other_good: int) -> FisherResult:
    """Fisher's exact test and odds ratio of a two by two table.

    Formula: hypergeometric distribution at fixed margins; ``OR = (a*d)/(b*c)`` of the sample; the conditional estimate
    and its interval from the noncentral hypergeometric distribution.

    Parameters
    ----------
    exposed_failed : int
        Parts with the factor that failed, a [-].
    exposed_good : int
        Parts with the factor that are good, b [-].
    other_failed : int
        Parts without it that failed, c [-].
    other_good : int
        Parts without it that are good, d [-].

    Returns
    -------
    FisherResult
        p-values, odds ratios and their 95 % interval [-].

    Raises
    ------
    OutOfRange
        If a count is not a whole number in its range, or the table is empty.

    Valid range
    -----------
    Failed 0 to 2000, good 0 to 100 000 on each side, at least one count above 0.

    Examples
    --------
    >>> result = fisher_exact(exposed_failed=3, exposed_good=1, other_failed=1, other_good=3)
    >>> result.p_greater, result.p_two_sided, result.odds_ratio_sample, result.odds_ratio_conditional
    (0.2429, 0.4857, 9.0, 6.408)

    Source
    ------
    Fisher, The Design of Experiments; the table is the tea taster's in the R documentation of fisher.test (Agresti).
    """
    from numpy import array
    from scipy.stats import fisher_exact as scipy_fisher_exact
    from scipy.stats.contingency import odds_ratio

    a = whole_number("exposed_failed", exposed_failed, 0, MOST_FAILED)
    b = whole_number("exposed_good", exposed_good, 0, MOST_GOOD)
    c = whole_number("other_failed", other_failed, 0, MOST_FAILED)
    d = whole_number("other_good", other_good, 0, MOST_GOOD)
    if not any((a, b, c, d)):
        raise OutOfRange("exposed_failed", "0 like every other count", "a whole number above 0, or another count is")
    table = array([[a, b], [c, d]])
    conditional = odds_ratio(table, kind="conditional")
    interval = conditional.confidence_interval(confidence_level=CONFIDENCE)
    return FisherResult(
        p_greater=float(scipy_fisher_exact(table, alternative="greater").pvalue),
        p_two_sided=float(scipy_fisher_exact(table, alternative="two-sided").pvalue),
        odds_ratio_sample=a * d / (b * c) if b * c else None,
        odds_ratio_conditional=_finite(conditional.statistic),
        low=float(interval.low),
        high=_finite(interval.high),
    )


def benjamini_hochberg(*, p_values: Sequence[float]) -> tuple[float, ...]:
    """p-values adjusted for the number that were tried, by false discovery rate.

    Formula: ``min over j >= i of (m/j)*p_(j)``, at most 1, for the i-th smallest of m. Those up to q are the
    discoveries at a false discovery rate of q.

    Parameters
    ----------
    p_values : sequence of float
        One for each factor tried, in any order [list of -].

    Returns
    -------
    tuple of float
        Adjusted p-values in the same order [-].

    Raises
    ------
    OutOfRange
        If there are none or too many, or one is outside 0 to 1.

    Valid range
    -----------
    1 to 100 000 values of 0 to 1, from tests that are independent or go together.

    Examples
    --------
    >>> benjamini_hochberg(p_values=[0.01, 0.04, 0.03])
    (0.03, 0.04, 0.04)

    Source
    ------
    Benjamini and Hochberg, J. R. Statist. Soc. B 57 (1995) 289, section 3.
    """
    from scipy.stats import false_discovery_control

    members = series("p_values", p_values, least=1, most=100_000)
    given = [within(f"p_values[{i}]", value, 0, 1) for i, value in enumerate(members)]
    return tuple(float(value) for value in false_discovery_control(given, method="bh"))


def _values(argument: str, values: Sequence[float], least: int) -> list[float]:
    members = series(argument, values, least=least, most=MOST_VALUES)
    # Thousands of numbers, nearly all of them right: what is wrong with one is said by the rule that all others have.
    return [
        float(value)
        if type(value) in (float, int) and -LARGEST <= value <= LARGEST
        else within(f"{argument}[{place}]", value, -LARGEST, LARGEST)
        for place, value in enumerate(members)
    ]


def rank_sum(*, failed: Sequence[float], good: Sequence[float]) -> RankSum:
    """Test whether the values of the failed ones are larger than those of the good ones.

    Formula: the share of all ways to draw the n failed ones that have a sum of (mean) ranks at least as large, ties
    counted as they are. Where the smaller group is too large for that (n times all values above about 5000), the normal
    distribution with corrections for ties and continuity.

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
    bad, fine = _values("failed", failed, 1), _values("good", good, 1)
    return RankSum(
        p_greater=greater(bad, fine),
        median_failed=float(median(bad)),
        median_good=float(median(fine)),
    )


def rank_trend(*, x: Sequence[float], y: Sequence[float]) -> RankTrend:
    """Test whether y rises or falls with x, whatever the shape of the rise.

    Formula: Kendall's tau-b, ``(concordant - discordant)/sqrt((n0 - ties in x)*(n0 - ties in y))`` with
    ``n0 = n*(n - 1)/2``. With ties the p-value is the share of all ways to deal out the values of y in which the
    surplus of concordant pairs is as large either way; where they are too many, that of the normal distribution.

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
    along, measured = _values("x", x, 3), _values("y", y, 3)
    if len(along) != len(measured):
        raise OutOfRange("y", f"a list of {len(measured)}", f"a list of {len(along)} values, one for each x")
    for name, values in (("x", along), ("y", measured)):
        if len(set(values)) == 1:
            raise OutOfRange(name, "the same value throughout", "a list of different values")
    tau, p = trend(along, measured)
    return RankTrend(tau=tau, p_two_sided=p)
