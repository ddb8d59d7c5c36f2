"""Statistics behind a look at suspects, and behind the charts.

- :func:`fisher_exact`: whether a shared factor and a failure go together more often than chance.
- :func:`benjamini_hochberg`: p-values adjusted for the number of factors that were tried.

Named here too, from control_charts.py: :func:`individuals_chart`, :func:`ewma_chart` and :func:`capability`.

A small p-value makes a factor a suspect, never a cause.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.formulas._bounds import series, whole_number
from service.formulas.control_charts import (
    Capability,
    EwmaChart,
    IndividualsChart,
    capability,
    ewma_chart,
    individuals_chart,
)
from service.formulas.ranges import OutOfRange, within

__all__ = [
    "FisherResult",
    "benjamini_hochberg",
    "fisher_exact",
    # from control_charts
    "Capability",
    "EwmaChart",
    "IndividualsChart",
    "capability",
    "ewma_chart",
    "individuals_chart",
]

CONFIDENCE = 0.95
MOST_FAILED = 1000
MOST_GOOD = 100_000


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
    Failed 0 to 1000, good 0 to 100 000 on each side, at least one count above 0.

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
