"""Ranks: whether failures and measurements go with a number."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.ranges import OutOfRange
from service.formulas.trends import rank_sum, rank_trend


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
