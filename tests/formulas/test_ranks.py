"""Rank tests with ties, counted by hand: where they are exact, and from where on the normal distribution is taken."""

import pytest
from scipy.stats import kendalltau, mannwhitneyu

from service.formulas.ranks import MOST_STATES, either_way, greater, trend


def test_a_rank_sum_is_counted_while_its_steps_are_few_enough_and_not_one_more() -> None:
    # 2² · (2 + 3)² steps; the two lowest of five are one draw of ten, either way two.
    assert either_way([1, 2], [3, 4, 5], most_steps=100) == pytest.approx(0.2)
    assert either_way([1, 2], [3, 4, 5], most_steps=99) == pytest.approx(0.149, abs=0.001)


@pytest.mark.parametrize(("x", "y"), [([1, 1, 2], [1, 2, 3]), ([1, 2, 3], [1, 1, 2]), ([3, 2, 1], [2, 1, 1])])
def test_a_trend_with_ties_on_one_side_alone_is_counted_too(x: list[float], y: list[float]) -> None:
    # Of three orders two are as strong: the odd one out is first or last.
    assert trend(x, y)[1] == pytest.approx(2 / 3)


def test_a_trend_without_ties_and_one_of_too_many_orders_are_scipy_s() -> None:
    assert trend([1, 2, 3, 4], [1, 2, 4, 3])[1] == kendalltau([1, 2, 3, 4], [1, 2, 4, 3]).pvalue
    # Five pairs are few enough: 3⁵ states of 10 each.
    few = [number // 2 for number in range(10)], [number % 5 for number in range(10)]
    assert trend(*few)[1] != pytest.approx(kendalltau(*few).pvalue, abs=1e-3)
    pairs = 30
    x = [number // 2 for number in range(2 * pairs)]
    y = [(7 * number) % pairs for number in x]
    assert 3**pairs * len(x) > MOST_STATES
    assert trend(x, y)[1] == kendalltau(x, y).pvalue


def test_many_ranks_with_many_ties_are_those_of_the_normal_distribution() -> None:
    # Too many to count: scipy's mannwhitneyu by the normal distribution, ties and continuity minded, is the measure.
    failed = [float(n % 7) for n in range(60)]
    good = [float(n % 9) for n in range(400)]
    above, below = (
        mannwhitneyu(failed, good, alternative=side, method="asymptotic").pvalue for side in ("greater", "less")
    )
    assert greater(failed, good) > 0.5 > greater(good, failed)
    assert greater(failed, good) == pytest.approx(above, rel=1e-9)
    assert either_way(failed, good) == pytest.approx(2 * min(above, below), rel=1e-9)


def test_two_sides_are_never_more_than_certain() -> None:
    assert either_way([1.0, 1.0], [1.0, 1.0, 1.0]) == 1.0


def test_the_sides_stay_apart_where_more_failed_than_held() -> None:
    assert greater([3, 4, 5], [1, 2]) == pytest.approx(0.1)
    assert greater([1, 2, 3], [4, 5]) == pytest.approx(1)
    assert either_way([1, 2, 3], [4, 5]) == either_way([3, 4, 5], [1, 2]) == pytest.approx(0.2)
