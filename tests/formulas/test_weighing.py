"""Uncertainty of a weighed ratio and the verdict on it."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import ratio, weighing
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
masses = st.floats(1, 10_000)
readings = st.floats(0.001, 1)


def _u(interval_g: float, repeatability_g: float = 0) -> float:
    return weighing.reading_uncertainty_g(interval_g=interval_g, repeatability_g=repeatability_g)


def _ratio_u(resin_g: float, hardener_g: float, u: float, zeroed: bool = True, **more: int) -> float:
    return weighing.ratio_uncertainty_pct(
        resin_g=resin_g, hardener_g=hardener_g, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed, **more
    )


def test_a_reading_is_known_to_a_rectangle_of_one_step() -> None:
    # JCGM 100:2008 F.2.2.1 (clause from memory): 0.29 d.
    assert _u(1) == pytest.approx(0.288675, abs=5e-7)


def test_step_and_repeatability_add_in_squares() -> None:
    # Shop rule 17, by hand: 0.1²/12 + 0.05² = 0.0033333, the root of which is 0.057735.
    assert _u(0.1, 0.05) == pytest.approx(0.057735, abs=5e-7)
    assert _u(0.1, 0.1 / math.sqrt(12)) == pytest.approx(0.1 / math.sqrt(6))


@pytest.mark.parametrize(
    ("resin_g", "hardener_g", "interval_g", "expected"),
    # Worked with the library uncertainties, net weighings of d/sqrt(6), k = 2.
    [(100, 30, 0.1, 0.284), (100, 30, 1, 2.84), (500, 150, 1, 0.568)],
)
def test_the_ratio_of_two_net_weighings(resin_g: float, hardener_g: float, interval_g: float, expected: float) -> None:
    assert _ratio_u(resin_g, hardener_g, _u(interval_g)) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("total_g", "interval_g", "expected"),
    # Hand calculation with 0.41 d a net weighing: ± 0.5 % needs about 740 g on 1 g and 74 g on 0.1 g; a pot of 100 g
    # on a 1 g scale is known to ± 3.7 %.
    [(740, 1, 0.5), (74, 0.1, 0.5), (100, 1, 3.7)],
)
def test_small_pots_on_coarse_scales(total_g: float, interval_g: float, expected: float) -> None:
    assert _ratio_u(total_g / 1.3, total_g * 0.3 / 1.3, _u(interval_g)) == pytest.approx(expected, abs=0.02)


def test_a_running_total_by_hand() -> None:
    # Shop rule 17 at a = 100, b = 30, u = 1: sqrt(0.01² + (0.01 + 1/30)² + (1/30)²) = 0.055578; times 200.
    assert _ratio_u(100, 30, 1.0, zeroed=False) == pytest.approx(11.1156, abs=1e-3)


@quick
@given(resin_g=masses, hardener_g=masses, u=readings)
def test_a_running_total_is_the_propagation_of_its_three_readings(resin_g: float, hardener_g: float, u: float) -> None:
    # JCGM 100:2008 5.1.2, by small differences of ln(b/a) in each reading: empty, after resin, after hardener.
    def log_ratio(empty: float, after_resin: float, after_hardener: float) -> float:
        return math.log((after_hardener - after_resin) / (after_resin - empty))

    at = [0.0, resin_g, resin_g + hardener_g]
    small = 1e-4 * min(resin_g, hardener_g)
    slopes = []
    for i in range(3):
        up, down = list(at), list(at)
        up[i] += small
        down[i] -= small
        slopes.append((log_ratio(*up) - log_ratio(*down)) / (2 * small))
    assert _ratio_u(resin_g, hardener_g, u, zeroed=False) == pytest.approx(200 * u * math.hypot(*slopes), rel=1e-4)


@quick
@given(resin_g=masses, hardener_g=masses, u=readings, factor=st.floats(0.1, 10), zeroed=st.booleans())
def test_only_the_step_against_the_pot_counts(
    resin_g: float, hardener_g: float, u: float, factor: float, zeroed: bool
) -> None:
    one = _ratio_u(resin_g, hardener_g, u, zeroed)
    assert _ratio_u(resin_g * factor, hardener_g * factor, u * factor, zeroed) == pytest.approx(one)
    assert _ratio_u(resin_g * 2, hardener_g * 2, u, zeroed) == pytest.approx(one / 2)


@quick
@given(resin_g=masses, hardener_g=masses, u=readings)
def test_a_running_total_is_never_better_than_zeroing(resin_g: float, hardener_g: float, u: float) -> None:
    assert _ratio_u(resin_g, hardener_g, u, zeroed=False) > _ratio_u(resin_g, hardener_g, u)


def test_each_further_pour_adds_two_readings() -> None:
    # Hand calculation: resin from two cans, sqrt(2*2/100² + 2/30²) = 0.051208; times 200.
    assert _ratio_u(100, 30, 1.0, resin_readings=2) == pytest.approx(10.2415, abs=1e-3)
    assert _ratio_u(100, 30, 1.0, hardener_readings=2) > _ratio_u(100, 30, 1.0, resin_readings=2)


def test_pours_of_one_component_in_a_running_total_add_nothing() -> None:
    assert _ratio_u(100, 30, 1.0, zeroed=False, resin_readings=3) == _ratio_u(100, 30, 1.0, zeroed=False)


def test_each_component_may_have_its_scale_when_zeroed() -> None:
    # Hand calculation: 200*sqrt(2*1/100² + 2*0.1²/30²) = 2.9814.
    found = weighing.ratio_uncertainty_pct(
        resin_g=100, hardener_g=30, resin_reading_u_g=1, hardener_reading_u_g=0.1, zeroed=True
    )
    assert found == pytest.approx(2.9814, abs=1e-4)


def test_a_running_total_on_two_scales_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^hardener_reading_u_g is 0\.1; .*a running total has one scale"):
        weighing.ratio_uncertainty_pct(
            resin_g=100, hardener_g=30, resin_reading_u_g=1, hardener_reading_u_g=0.1, zeroed=False
        )


@pytest.mark.parametrize("zeroed", [None, 1, 0, "yes"])
def test_zeroed_is_true_or_false_and_nothing_else(zeroed: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^zeroed is "):
        _ratio_u(100, 30, 0.03, zeroed=zeroed)


@pytest.mark.parametrize("count", [0, 51, 1.0, True, "2", pytest.param(10**5000, id="5001 digits")])
def test_a_count_of_pours_is_a_small_whole_number(count: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^resin_readings is .*from 1 to 50"):
        _ratio_u(100, 30, 0.03, resin_readings=count)


@pytest.mark.parametrize("bad", [0, -0.1, 1001, math.nan, math.inf, True, "0.1", None])
def test_what_is_no_interval_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^interval_g is "):
        weighing.reading_uncertainty_g(interval_g=bad, repeatability_g=0)
    with pytest.raises(OutOfRange, match=r"^interval_g is "):
        weighing.minimum_mass_g(interval_g=bad, repeatability_g=0, tolerance_pct=1)


@pytest.mark.parametrize("bad", [-0.1, 1001, math.nan, True, None])
def test_what_is_no_repeatability_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^repeatability_g is "):
        weighing.reading_uncertainty_g(interval_g=0.1, repeatability_g=bad)


@pytest.mark.parametrize(
    ("deviation", "expected"),
    # Shop rule 18 at U = 0.5 and a tolerance of 2.
    [
        (0, "within"),
        (1.5, "within"),
        (-1.5, "within"),
        (1.51, "near the limit"),
        (-2.5, "near the limit"),
        (2.5, "near the limit"),
        (2.51, "outside"),
        (-2.51, "outside"),
        (-100, "outside"),
    ],
)
def test_the_verdict_keeps_a_guard_band(deviation: float, expected: str) -> None:
    assert weighing.verdict(deviation_pct=deviation, uncertainty_pct=0.5, tolerance_pct=2) == expected


def test_a_scale_that_knows_nothing_gives_no_verdict() -> None:
    assert weighing.verdict(deviation_pct=0, uncertainty_pct=5, tolerance_pct=2) == "near the limit"


@quick
@given(deviation=st.floats(-100, 1000), u=st.floats(0, 50), tolerance=st.floats(0.1, 50))
def test_a_finer_scale_never_turns_a_plain_verdict_round(deviation: float, u: float, tolerance: float) -> None:
    coarse = weighing.verdict(deviation_pct=deviation, uncertainty_pct=u, tolerance_pct=tolerance)
    fine = weighing.verdict(deviation_pct=deviation, uncertainty_pct=u / 2, tolerance_pct=tolerance)
    assert fine == coarse or coarse == "near the limit"


@pytest.mark.parametrize("bad", [-100.1, 1e10, math.nan, True, "2", None])
def test_what_is_no_deviation_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^deviation_pct is "):
        weighing.verdict(deviation_pct=bad, uncertainty_pct=0.5, tolerance_pct=2)


@pytest.mark.parametrize("bad", [0, 100, -2, math.nan, True, "2", None])
def test_what_is_no_tolerance_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^tolerance_pct is "):
        weighing.verdict(deviation_pct=0, uncertainty_pct=0.5, tolerance_pct=bad)
    with pytest.raises(OutOfRange, match=r"^tolerance_pct is "):
        weighing.too_coarse(uncertainty_pct=0.5, tolerance_pct=bad)


@pytest.mark.parametrize(("u", "coarse"), [(0.5, False), (1.0, False), (1.001, True), (2.84, True)])
def test_a_scale_may_take_a_third_of_the_tolerance(u: float, coarse: bool) -> None:
    # Shop rule 18.
    assert weighing.too_coarse(uncertainty_pct=u, tolerance_pct=3) is coarse


def test_minimum_weight_of_the_pharmacopoeia() -> None:
    # USP <41>: with s = 0.00015 g and 0.10 % the smallest mass is 0.30000 g.
    found = weighing.minimum_mass_g(interval_g=0.0001, repeatability_g=0.00015, tolerance_pct=0.10)
    assert found == pytest.approx(0.30000, abs=5e-6)


@pytest.mark.parametrize(
    ("interval_g", "tolerance_pct", "expected"),
    # A balance maker's summary of the changes to USP <41>: 820 d; the other columns in proportion.
    [(1, 0.10, 820), (0.1, 0.10, 82), (0.01, 0.10, 8.2), (1, 0.5, 164), (0.1, 1, 8.2)],
)
def test_minimum_weight_does_not_go_below_the_scale_step(
    interval_g: float, tolerance_pct: float, expected: float
) -> None:
    found = weighing.minimum_mass_g(interval_g=interval_g, repeatability_g=0, tolerance_pct=tolerance_pct)
    assert found == pytest.approx(expected)


@pytest.mark.parametrize(("resin_g", "hardener_g"), [(100, 30.6), (100, 29.4), (300, 91.8), (46, 14.076)])
def test_a_deviation_of_exactly_the_tolerance_without_uncertainty_is_within(resin_g: float, hardener_g: float) -> None:
    """Worked in doubles, 2 % comes out as 2.0000000000000018."""
    deviation = ratio.deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=0.3)
    assert weighing.verdict(deviation_pct=deviation, uncertainty_pct=0, tolerance_pct=2) == "within"
    assert weighing.verdict(deviation_pct=deviation * 1.0001, uncertainty_pct=0, tolerance_pct=2) == "outside"
