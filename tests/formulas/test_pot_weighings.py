"""One pot on the scale: its targets before, and its ratio from its readings in their order after."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.pot_weighings import Weighing, possible_ratio_error_pct, pot, weighed_ratio_uncertainty_pct
from service.formulas.ranges import OutOfRange
from service.formulas.weighing import ratio_uncertainty_pct

quick = settings(deadline=None, max_examples=50)
grams = st.floats(1, 1e5)


def _pours(*said: tuple[str, str, float, bool]) -> list[Weighing]:
    return [Weighing(component, scale, u, zeroed) for component, scale, u, zeroed in said]  # type: ignore[arg-type]


@quick
@given(a=grams, b=grams, u=st.floats(0.001, 1), zeroed=st.booleans())
def test_one_pour_of_each_component_is_shop_rule_17(a: float, b: float, u: float, zeroed: bool) -> None:
    pours = _pours(("resin", "S1", u, True), ("hardener", "S1", u, zeroed))
    assert weighed_ratio_uncertainty_pct(weighings=pours, resin_g=a, hardener_g=b) == pytest.approx(
        ratio_uncertainty_pct(resin_g=a, hardener_g=b, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed)
    )


@quick
@given(a=grams, b=grams, u=st.floats(0.001, 1), fine=st.floats(0.0001, 0.1))
def test_two_scales_each_count_with_their_own_step(a: float, b: float, u: float, fine: float) -> None:
    pours = _pours(("resin", "S1", u, True), ("hardener", "S2", fine, True))
    assert weighed_ratio_uncertainty_pct(weighings=pours, resin_g=a, hardener_g=b) == pytest.approx(
        ratio_uncertainty_pct(resin_g=a, hardener_g=b, resin_reading_u_g=u, hardener_reading_u_g=fine, zeroed=True)
    )


def test_resin_from_two_cans_zeroed_counts_twice_and_run_on_counts_once() -> None:
    u = 0.0288675
    zeroed = _pours(("resin", "S1", u, True), ("resin", "S1", u, True), ("hardener", "S1", u, True))
    run_on = _pours(("resin", "S1", u, True), ("resin", "S1", u, False), ("hardener", "S1", u, True))
    assert weighed_ratio_uncertainty_pct(weighings=zeroed, resin_g=100, hardener_g=30) == pytest.approx(
        ratio_uncertainty_pct(
            resin_g=100, hardener_g=30, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=True, resin_readings=2
        )
    )
    assert weighed_ratio_uncertainty_pct(weighings=run_on, resin_g=100, hardener_g=30) == pytest.approx(
        ratio_uncertainty_pct(resin_g=100, hardener_g=30, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=True)
    )


def test_a_run_on_hardener_after_two_zeroed_resins_by_hand() -> None:
    # Coefficients: 1/a and -1/a for the first can; 1/a, -(1/a + 1/b) and 1/b for the second can and the hardener.
    u, a, b = 0.03, 100.0, 30.0
    by_hand = 200 * u * math.sqrt(3 / a**2 + (1 / a + 1 / b) ** 2 + 1 / b**2)
    pours = _pours(("resin", "S1", u, True), ("resin", "S1", u, True), ("hardener", "S1", u, False))
    assert weighed_ratio_uncertainty_pct(weighings=pours, resin_g=a, hardener_g=b) == pytest.approx(by_hand)


def test_a_pot_without_hardener_has_no_ratio() -> None:
    with pytest.raises(OutOfRange, match="resin and of hardener"):
        weighed_ratio_uncertainty_pct(
            weighings=_pours(("resin", "S1", 0.03, True), ("resin", "S1", 0.03, True)), resin_g=100, hardener_g=30
        )


@quick
@given(e=st.floats(0.001, 10), a=grams, b=grams)
def test_the_bound_holds_for_a_constant_and_for_a_proportional_error(e: float, a: float, b: float) -> None:
    nominal = 500.0
    bound = possible_ratio_error_pct(error_g=e, nominal_g=nominal, resin_g=a, hardener_g=b)
    constant = 100 * e * (1 / a + 1 / b)
    assert bound >= constant - 1e-9
    only_hardener = possible_ratio_error_pct(error_g=-e, nominal_g=nominal, hardener_g=b)
    assert only_hardener >= 100 * e / nominal - 1e-9
    assert bound >= only_hardener


def test_the_bound_by_hand() -> None:
    # Half a gram of 100 g and of 30 g; of 1000 g an error that grows beyond the nominal counts twice.
    bound = possible_ratio_error_pct(error_g=0.5, nominal_g=500, resin_g=100, hardener_g=30)
    assert bound == pytest.approx(0.5 + 5 / 3)
    assert possible_ratio_error_pct(error_g=-0.5, nominal_g=500, resin_g=1000) == pytest.approx(0.1)


def test_a_failed_scale_on_which_nothing_was_weighed_says_nothing() -> None:
    with pytest.raises(OutOfRange, match="at least one component"):
        possible_ratio_error_pct(error_g=0.3, nominal_g=500)


def test_a_pot_too_small_for_its_scale_says_which_would_do() -> None:
    # Shop rule 18: 100:30 at ± 2 % needs about 555 g in all on a scale of 1 g.
    coarse = pot(total_g=130, ratio=0.3, tolerance=2, interval_g=1)
    assert (coarse.resin_g, coarse.hardener_g) == pytest.approx((100, 30))
    assert (coarse.honest, coarse.accepted_low_g, coarse.accepted_high_g) == (False, None, None)
    assert coarse.smallest_pot_g == pytest.approx(555, abs=1)


def test_a_tolerance_in_parts_is_counted_on_the_ratio() -> None:
    # Shop rule 15: 100:30 ± 2 parts is ± 6.7 %.
    parts = pot(total_g=130, ratio=0.3, tolerance=2, tolerance_kind="parts", interval_g=0.1)
    assert parts.tolerance_pct == pytest.approx(6.67, abs=0.005)


def test_a_pot_that_runs_on_needs_more_mass_than_one_that_is_zeroed() -> None:
    zeroed, running = (pot(resin_g=100, ratio=0.3, tolerance=2, interval_g=0.1, zeroed=z) for z in (True, False))
    assert running.uncertainty_pct > zeroed.uncertainty_pct
    assert running.smallest_pot_g > zeroed.smallest_pot_g
    assert running.reading_if_not_zeroed_g == pytest.approx(130)


@pytest.mark.parametrize("masses", [{}, {"resin_g": 100, "total_g": 130}])
def test_a_pot_is_asked_by_its_resin_or_by_its_total(masses: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match=r"^resin_g"):
        pot(**masses, ratio=0.3, tolerance=2, interval_g=0.1)
