"""Fisher's exact test, the adjustment for many factors, and ranks: whether failures go with a number."""

import itertools
import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas import statistics
from service.formulas.ranges import OutOfRange
from service.formulas.statistics import rank_sum, rank_trend

quick = settings(deadline=None, max_examples=50)
counts = st.integers(0, 25)

# Benjamini and Hochberg, J. R. Statist. Soc. B 57 (1995) 289, section 3.
P_VALUES = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528]
P_VALUES += [0.7590, 1.0000]


def _fisher(a: int, b: int, c: int, d: int) -> statistics.FisherResult:
    return statistics.fisher_exact(exposed_failed=a, exposed_good=b, other_failed=c, other_good=d)


def test_the_tea_taster() -> None:
    # R documentation of fisher.test (Agresti): one-sided p 0.2429 = 17/70. The two-sided 34/70 by hand; conditional
    # odds ratio 6.40832 as R prints it (from memory); interval worked apart from this code.
    found = _fisher(3, 1, 1, 3)
    assert found.p_greater == pytest.approx(17 / 70)
    assert found.p_two_sided == pytest.approx(34 / 70)
    assert found.odds_ratio_sample == 9
    assert found.odds_ratio_conditional == pytest.approx(6.40832, abs=1e-4)
    assert (found.low, found.high) == (pytest.approx(0.211736, abs=1e-4), pytest.approx(626.244, rel=0.01))


def test_the_convictions_of_twins() -> None:
    # R documentation of fisher.test, Fisher's twins (1962): p = 0.0005367, odds ratio 0.04693661, 95 % interval
    # 0.003325764 to 0.363182271 (from memory); R finds the ends by a coarse search.
    found = _fisher(2, 15, 10, 3)
    assert found.p_two_sided == pytest.approx(0.0005367, abs=5e-8)
    assert found.odds_ratio_conditional == pytest.approx(0.04693661, abs=1e-6)
    assert (found.low, found.high) == (pytest.approx(0.003325764, rel=5e-3), pytest.approx(0.363182271, rel=5e-3))


@quick
@given(a=counts, b=counts, c=counts, d=counts)
def test_all_p_values_agree_with_the_library_of_statistics(a: int, b: int, c: int, d: int) -> None:
    import scipy.stats

    assume(a + b + c + d > 0)
    found = _fisher(a, b, c, d)
    for alternative, p in (("greater", found.p_greater), ("two-sided", found.p_two_sided)):
        expected = scipy.stats.fisher_exact([[a, b], [c, d]], alternative=alternative)[1]
        assert p == pytest.approx(expected, rel=1e-6, abs=1e-12)


@quick
@given(p_values=st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_the_adjustment_agrees_with_the_library_of_statistics(p_values: list[float]) -> None:
    import scipy.stats

    expected = scipy.stats.false_discovery_control(p_values, method="bh")
    assert statistics.benjamini_hochberg(p_values=p_values) == pytest.approx(expected)


def test_a_perfect_taster() -> None:
    # Fisher, The Design of Experiments (from memory): 1 of 70.
    found = _fisher(4, 0, 0, 4)
    assert found.p_greater == pytest.approx(1 / 70)
    assert found.odds_ratio_sample is None
    assert found.odds_ratio_conditional is None
    assert found.high is None
    assert found.low > 0


def test_four_failures_that_share_a_lot() -> None:
    # Hand calculation: all 4 failures and 6 of 36 good parts share it: C(10,4)/C(40,4) = 210/91390 = 0.0023.
    assert _fisher(4, 6, 0, 30).p_greater == pytest.approx(210 / 91390)


def test_the_aspirin_trial() -> None:
    # Agresti, Categorical Data Analysis (from memory): sample odds ratio 1.832, interval 1.440 to 2.331 by another
    # method, so to 2 % here.
    found = _fisher(189, 10845, 104, 10933)
    assert found.odds_ratio_sample == pytest.approx(1.832, abs=5e-4)
    assert (found.low, found.high) == (pytest.approx(1.440, rel=0.02), pytest.approx(2.331, rel=0.02))


@pytest.mark.long
@quick
@given(a=counts, b=counts, c=counts, d=counts)
def test_the_one_sided_value_is_the_tail_of_the_hypergeometric(a: int, b: int, c: int, d: int) -> None:
    assume(a + b + c + d > 0)
    tail = range(a, min(a + b, a + c) + 1)
    ways = sum(math.comb(a + b, k) * math.comb(c + d, a + c - k) for k in tail)
    assert _fisher(a, b, c, d).p_greater == pytest.approx(ways / math.comb(a + b + c + d, a + c))


@pytest.mark.long
@quick
@given(a=counts, b=counts, c=counts, d=counts)
def test_every_number_is_a_plain_finite_one_or_none(a: int, b: int, c: int, d: int) -> None:
    assume(a + b + c + d > 0)
    found = _fisher(a, b, c, d)
    assert 0 <= found.p_two_sided <= 1 + 1e-9
    for value in (found.odds_ratio_sample, found.odds_ratio_conditional, found.low, found.high):
        assert value is None or (type(value) is float and math.isfinite(value))
    if found.odds_ratio_conditional is not None and found.high is not None:
        assert found.low <= found.odds_ratio_conditional <= found.high


@pytest.mark.long
@quick
@given(a=counts, b=counts, c=counts, d=counts)
def test_the_two_sides_are_alike(a: int, b: int, c: int, d: int) -> None:
    assume(a + b + c + d > 0)
    assert _fisher(a, b, c, d).p_two_sided == pytest.approx(_fisher(c, d, a, b).p_two_sided)


def test_an_empty_table_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^exposed_failed is 0 like every other count"):
        _fisher(0, 0, 0, 0)


@pytest.mark.parametrize("bad", [-1, 2001, 1.0, True, "4", None, math.nan, pytest.param(10**5000, id="5001 digits")])
def test_what_is_no_count_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^other_failed is .*from 0 to 2000"):
        _fisher(1, 1, bad, 1)


def test_the_paper_of_1995_rejects_four() -> None:
    # Section 3: four of fifteen at a rate of 0.05; adjusted values worked with statsmodels.
    adjusted = statistics.benjamini_hochberg(p_values=P_VALUES)
    assert sum(value <= 0.05 for value in adjusted) == 4
    expected = [0.0015, 0.0030, 0.0095, 0.03562, 0.0603, 0.06386, 0.06386, 0.0645, 0.0765, 0.486, 0.58118, 0.71487]
    assert adjusted == pytest.approx([*expected, 0.75323, 0.81321, 1.0], abs=1e-5)


@quick
@given(p_values=st.lists(st.floats(0, 1), min_size=1, max_size=30), seed=st.randoms(use_true_random=False))
def test_the_order_of_the_factors_does_not_matter(p_values: list[float], seed: Any) -> None:
    order = list(range(len(p_values)))
    seed.shuffle(order)
    adjusted = statistics.benjamini_hochberg(p_values=p_values)
    shuffled = statistics.benjamini_hochberg(p_values=[p_values[i] for i in order])
    assert shuffled == pytest.approx([adjusted[i] for i in order])


@quick
@given(p_values=st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_an_adjusted_value_is_never_smaller_and_never_over_one(p_values: list[float]) -> None:
    adjusted = statistics.benjamini_hochberg(p_values=p_values)
    assert all(p <= q * (1 + 1e-12) and q <= 1 for p, q in zip(p_values, adjusted, strict=True))


def test_one_factor_alone_is_not_adjusted() -> None:
    assert statistics.benjamini_hochberg(p_values=[0.03]) == (0.03,)


@pytest.mark.parametrize(
    ("bad", "argument"),
    [([], "p_values"), ("0.5", "p_values"), ([0.5, 1.1], r"p_values\[1\]"), ([math.nan], r"p_values\[0\]")],
)
def test_what_is_no_p_value_is_refused(bad: Any, argument: str) -> None:
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        statistics.benjamini_hochberg(p_values=bad)


def test_all_failed_ones_above_all_good_ones_is_one_order_of_so_many() -> None:
    """By hand: 6 failed above 4 good is one of C(10, 4) = 210 orders."""
    found = rank_sum(failed=[200, 201, 202, 203, 204, 205], good=[1, 2, 3, 4])
    assert found.p_greater == pytest.approx(1 / 210)
    assert (found.median_failed, found.median_good) == (202.5, 2.5)


def test_the_other_way_round_is_no_suspicion() -> None:
    assert rank_sum(failed=[1, 2, 3], good=[4, 5, 6]).p_greater == 1.0


def test_a_trend_by_hand() -> None:
    """Five pairs with two neighbours swapped: 9 of 10 pairs concordant, tau = (9 - 1)/10."""
    assert rank_trend(x=[1, 2, 3, 4, 5], y=[1, 2, 4, 3, 5]).tau == pytest.approx(0.8)


def test_ties_are_taken_out_of_both_sides() -> None:
    """By hand: of 3 pairs one is tied in x and two are concordant, tau-b = 2/sqrt((3 - 1)*3)."""
    assert rank_trend(x=[1, 1, 2], y=[1, 2, 3]).tau == pytest.approx(2 / 6**0.5)


@pytest.mark.parametrize(
    ("x", "y", "named"),
    [
        ([1, 2], [1, 2], "x"),
        ([1, 2, 3], [1, 2], "y"),
        ([1, 2, 3], [1, 2, 3, 4], "y"),
        ([5, 5, 5], [1, 2, 3], "x"),
        ([1, 2, float("nan")], [1, 2, 3], "x"),
        ([1, 2, 3], [1, 2, 1e13], "y"),
    ],
)
def test_what_has_no_trend_is_refused(x: list[float], y: list[float], named: str) -> None:
    with pytest.raises(OutOfRange, match=rf"^{named}"):
        rank_trend(x=x, y=y)


@pytest.mark.parametrize(("failed", "good"), [([], [1]), ([1], []), ([1], [float("inf")])])
def test_an_empty_side_or_no_number_is_refused(failed: list[float], good: list[float]) -> None:
    with pytest.raises(OutOfRange):
        rank_sum(failed=failed, good=good)


_DAYS = st.lists(st.integers(0, 400), min_size=3, max_size=12, unique=True)


@settings(deadline=None, max_examples=50)
@given(_DAYS)
def test_a_trend_turned_round_only_changes_its_sign(days: list[int]) -> None:
    values = [float(d * d) for d in days]
    up, down = rank_trend(x=days, y=values), rank_trend(x=days, y=[-v for v in values])
    assert up.tau == pytest.approx(1)
    assert down.tau == pytest.approx(-1)
    assert up.p_two_sided == pytest.approx(down.p_two_sided)


@settings(deadline=None, max_examples=50)
@given(_DAYS, _DAYS)
def test_only_the_order_counts(failed: list[int], good: list[int]) -> None:
    plain, stretched = (
        rank_sum(failed=failed, good=good),
        rank_sum(failed=[3 * d + 7 for d in failed], good=[3 * d + 7 for d in good]),
    )
    assert plain.p_greater == pytest.approx(stretched.p_greater)
    assert 0 < plain.p_greater <= 1


# By hand: the one of ten; both of C(8, 2) = 28 pairs; two of C(6, 3) = 20 ways to deal out three and three.
def test_ties_are_counted_and_not_approximated() -> None:
    assert rank_sum(failed=[212], good=[30] * 9).p_greater == pytest.approx(1 / 10)
    assert rank_sum(failed=[7, 7], good=[1] * 6).p_greater == pytest.approx(1 / 28)
    assert rank_sum(failed=[7] * 6, good=[1, 1]).p_greater == pytest.approx(1 / 28)
    halves = [1, 1, 1, 2, 2, 2]
    assert rank_trend(x=halves, y=halves).p_two_sided == pytest.approx(2 / 20)


_FEW = st.lists(st.integers(0, 3), min_size=1, max_size=4)


@quick
@given(failed=_FEW, good=_FEW)
def test_a_rank_sum_is_that_of_all_ways_to_draw(failed: list[int], good: list[int]) -> None:
    together = [*failed, *good]
    ranks = [sum(b < a for b in together) + sum(b == a for b in together) / 2 for a in together]
    observed = sum(ranks[: len(failed)])
    drawn = [sum(way) for way in itertools.combinations(ranks, len(failed))]
    share = sum(one >= observed - 1e-9 for one in drawn) / len(drawn)
    assert rank_sum(failed=failed, good=good).p_greater == pytest.approx(share)


@quick
@given(pairs=st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2)), min_size=3, max_size=6))
def test_a_trend_with_ties_is_that_of_all_ways_to_deal(pairs: list[tuple[int, int]]) -> None:
    x, y = [a for a, _ in pairs], [b for _, b in pairs]
    assume(len(set(x)) > 1 and len(set(y)) > 1)

    def surplus(dealt: tuple[int, ...]) -> int:
        both = itertools.combinations(zip(x, dealt, strict=True), 2)
        return sum(((a > b) - (a < b)) * ((c > d) - (c < d)) for (a, c), (b, d) in both)

    ways = [abs(surplus(way)) for way in itertools.permutations(y)]
    share = sum(one >= abs(surplus(tuple(y))) for one in ways) / len(ways)
    if len(set(x)) < len(x) or len(set(y)) < len(y):
        assert rank_trend(x=x, y=y).p_two_sided == pytest.approx(share)


def test_many_values_are_answered_too() -> None:
    assert 0.4 < rank_sum(failed=list(range(300)), good=list(range(300))).p_greater < 0.6
    assert rank_sum(failed=[10_000], good=list(range(9_999))).p_greater == pytest.approx(1 / 10_000)
