"""Two hardeners of one system in one cup."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import blends
from service.formulas.blends import blend_deviation_pct, second_hardener_limits
from service.formulas.pot_weighings import Weighing, weighed_ratio_uncertainty_pct
from service.formulas.ranges import OutOfRange
from service.formulas.ratio_forms import blend_ratio
from service.formulas.weighing import reading_uncertainty_g

ratios = st.floats(0.1, 1.0)


@settings(deadline=None, max_examples=60)
@given(share=st.floats(0.05, 0.95), first=ratios, second=ratios, resin_g=st.floats(50, 5000))
def test_a_blend_by_its_ratio_is_off_by_nothing(share: float, first: float, second: float, resin_g: float) -> None:
    ratio = blend_ratio(mass_fractions=[share, 1 - share], ratios=[first, second])
    assert min(first, second) - 1e-12 <= ratio <= max(first, second) + 1e-12
    b1, b2 = share * ratio * resin_g, (1 - share) * ratio * resin_g
    again = blends.second_hardener_g(resin_g=resin_g, first_hardener_g=b1, first_ratio=first, second_ratio=second)
    assert again == pytest.approx(b2)
    off = blends.blend_deviation_pct(resin_g=resin_g, hardeners_g=[b1, b2], ratios=[first, second])
    assert off == pytest.approx(0, abs=1e-9)


def test_too_much_of_the_first_leaves_less_than_nothing_for_the_second() -> None:
    found = blends.second_hardener_g(resin_g=100, first_hardener_g=33, first_ratio=0.3, second_ratio=0.4)
    assert found == pytest.approx(-4)


def test_the_total_of_two_hardeners_says_nothing_of_the_ratio() -> None:
    # 34.3 g in all, but 30 g of the strong one: 30/0.3 + 4.3/0.4 asks for 110.75 g of resin.
    found = blends.blend_deviation_pct(resin_g=100, hardeners_g=[30, 4.3], ratios=[0.3, 0.4])
    assert found == pytest.approx(10.75)


def test_the_fraction_has_an_uncertainty_of_its_own() -> None:
    # Hand calculation: 2·0.25·sqrt(2)·sqrt(2)·(0.1/sqrt(12))/5 = 0.577 % of points for 5 and 5 g on 0.1 g.
    u = 0.1 / 12**0.5
    found = blends.blend_fraction_uncertainty_pct(first_g=5, second_g=5, first_reading_u_g=u, second_reading_u_g=u)
    assert found == pytest.approx(0.577, abs=1e-3)


def test_each_hardener_has_its_ratio() -> None:
    with pytest.raises(OutOfRange, match="one for each"):
        blends.blend_deviation_pct(resin_g=100, hardeners_g=[10], ratios=[0.3, 0.4])


WEIGHED = [Weighing("resin", "S1", 0.0288675, True), Weighing("hardener", "S1", 0.0288675, True)]


def _limits(**facts: Any) -> Any:
    given = {
        "resin_g": 350, "first_hardener_g": 60, "first_ratio": 0.30, "second_ratio": 0.40, "tolerance_pct": 2,
        "weighings": WEIGHED, "scale": "S1", "zeroed": True, "interval_g": 0.1, "repeatability_g": 0, **facts,
    }  # fmt: skip
    return second_hardener_limits(**given)


@pytest.mark.parametrize("zeroed", [True, False])
@pytest.mark.parametrize(("first_g", "interval_g"), [(60, 0.1), (75, 0.1), (3, 0.01), (104.2, 0.1)])
def test_the_limits_of_the_last_hardener_are_the_outermost_steps_that_are_surely_within(
    zeroed: bool, first_g: float, interval_g: float
) -> None:
    """By trying every step of the scale."""
    limits = _limits(first_hardener_g=first_g, interval_g=interval_g, zeroed=zeroed)
    u = reading_uncertainty_g(interval_g=interval_g, repeatability_g=0)
    accepted = []
    for step in range(1, round(160 / interval_g)):
        second = round(step * interval_g, 3)
        off = blend_deviation_pct(resin_g=350, hardeners_g=[first_g, second], ratios=[0.30, 0.40])
        weighed = [*WEIGHED, Weighing("hardener", "S1", u, zeroed)]
        known = weighed_ratio_uncertainty_pct(weighings=weighed, resin_g=350, hardener_g=first_g + second)
        if abs(off) + known <= 2:
            accepted.append(second)
    found = (limits.accepted_low_g, limits.accepted_high_g)
    assert found == ((pytest.approx(accepted[0]), pytest.approx(accepted[-1])) if accepted else (None, None))


def test_where_the_first_alone_is_enough_or_too_much_there_is_nothing_to_limit() -> None:
    assert _limits(first_hardener_g=104.9).tolerance_low_g == 0
    with pytest.raises(OutOfRange, match="left by the first hardener"):
        _limits(first_hardener_g=105)


def test_a_scale_too_coarse_for_the_rest_proves_nothing() -> None:
    coarse = _limits(interval_g=10)
    assert (coarse.accepted_low_g, coarse.accepted_high_g) == (None, None)
    assert coarse.tolerance_low_g == pytest.approx(57.2)
