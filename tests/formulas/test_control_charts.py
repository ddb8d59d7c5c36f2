"""Individuals, EWMA and capability."""

import math
import statistics
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas import control_charts
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
series = st.lists(st.floats(-100, 100), min_size=5, max_size=40)

# NIST/SEMATECH e-Handbook 6.3.2.2, flow rate.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# NIST/SEMATECH e-Handbook 6.3.2.4.
EWMA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6]
EWMA += [52.4, 53.6, 52.1]


def test_the_handbooks_individuals_chart() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.2: mean 50.81, moving range 1.8778, limits 45.8159 and 55.8041; no signal.
    found = control_charts.individuals_chart(values=FLOW)
    assert found.mean == pytest.approx(50.81, abs=5e-5)
    assert found.mean_moving_range == pytest.approx(1.8778, abs=5e-5)
    assert (found.lower, found.upper) == (pytest.approx(45.8159, abs=6e-5), pytest.approx(55.8041, abs=6e-5))
    assert found.moving_range_upper == pytest.approx(6.1347, abs=5e-5)
    assert found.signals == ()
    assert found.moving_range_signals == ()


def test_the_constants_are_those_of_two_normal_values() -> None:
    # d2 = 2/sqrt(pi) and D4 = 1 + 3*d3/d2 with d3 = sqrt(2 - 4/pi), to the digits that tables print.
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert pytest.approx(d2, abs=5e-4) == control_charts.D2
    assert pytest.approx(1 + 3 * d3 / d2, abs=1e-3) == control_charts.D4


def test_a_value_far_out_is_a_signal_and_so_are_the_steps_to_it_and_back() -> None:
    found = control_charts.individuals_chart(values=[*FLOW, 70.0, *FLOW])
    assert found.signals == (10,)
    assert found.moving_range_signals == (10, 11)


@quick
@given(values=series, factor=st.floats(0.5, 10), shift=st.floats(-50, 50))
def test_limits_scale_and_shift_with_the_values(values: list[float], factor: float, shift: float) -> None:
    assume(max(values) - min(values) > 0.01)
    one = control_charts.individuals_chart(values=values)
    other = control_charts.individuals_chart(values=[factor * value + shift for value in values])
    assert other.lower == pytest.approx(factor * one.lower + shift, abs=1e-6)
    assert other.upper == pytest.approx(factor * one.upper + shift, abs=1e-6)
    assert one.lower < one.mean < one.upper


def test_the_handbooks_ewma_chart() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.4: z1 to z20 (the first thirteen read, the rest worked apart from this code).
    expected = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05]
    expected += [49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
    found = control_charts.ewma_chart(values=EWMA, target=50, sigma=2.0539)
    assert found.averages == pytest.approx(expected, abs=5.1e-3)
    assert (found.lower, found.upper) == (pytest.approx(47.4115, abs=1e-4), pytest.approx(52.5884, abs=1e-4))
    assert found.signals == ()


def test_a_small_lasting_shift_is_found_by_the_average_and_not_by_single_values() -> None:
    shifted = [50.0] * 5 + [51.5] * 15
    found = control_charts.ewma_chart(values=shifted, target=50, sigma=1.0)
    assert found.signals
    assert found.signals[0] > 5
    assert max(abs(value - 50) for value in shifted) < 3


@quick
@given(values=series)
def test_a_weight_of_one_is_the_values_themselves(values: list[float]) -> None:
    found = control_charts.ewma_chart(values=values, target=0, sigma=1, weight=1, width=3)
    assert found.averages == tuple(values)
    assert (found.lower, found.upper) == (pytest.approx(-3), pytest.approx(3))


@quick
@given(values=series, weight=st.floats(0.05, 1), target=st.floats(-100, 100))
def test_an_average_stays_among_the_target_and_the_values(values: list[float], weight: float, target: float) -> None:
    found = control_charts.ewma_chart(values=values, target=target, sigma=1, weight=weight)
    low, high = min([target, *values]), max([target, *values])
    assert all(low - 1e-9 <= average <= high + 1e-9 for average in found.averages)


def test_the_handbooks_capability() -> None:
    # NIST/SEMATECH e-Handbook 6.1.6 (from memory): limits 8 and 20, mean 16, spread 2: 1.0 and 0.6667.
    found = control_charts.capability(values=[14, 16, 18], lower=8, upper=20)
    assert (found.mean, found.standard_deviation) == (16, pytest.approx(2))
    assert (found.pp, found.ppk) == (pytest.approx(1.0), pytest.approx(0.6667, abs=5e-5))


def test_capability_is_by_the_spread_from_one_value_to_the_next_and_performance_by_that_of_all() -> None:
    # By hand: a level that shifts once. Nine steps of 1 and one of 11 have a mean of 2: sigma 2/1.128. All eleven about
    # their mean have s = 5.53 (mean 5.45).
    values = [0, 1, 0, 1, 0, 11, 10, 11, 10, 11, 10]
    found = control_charts.capability(values=values, lower=-20, upper=30)
    assert found.within_standard_deviation == pytest.approx(2 / 1.128)
    assert found.standard_deviation == pytest.approx(statistics.stdev(values))
    assert found.cpk == pytest.approx((30 - 65 / 11) / (3 * 2 / 1.128))
    assert found.ppk == pytest.approx((30 - 65 / 11) / (3 * statistics.stdev(values)))
    assert found.ppk < found.cpk / 2


def test_the_standard_deviation_of_the_flow_rate() -> None:
    # The handbook's ten values have s = 2.0339 with n - 1.
    assert control_charts.capability(values=FLOW, lower=40, upper=60).standard_deviation == pytest.approx(
        2.0339, abs=5e-5
    )


def test_a_mean_outside_its_limits_has_a_negative_cpk() -> None:
    assert control_charts.capability(values=[21, 22, 23], lower=8, upper=20).cpk < 0


@quick
@given(values=series, lower=st.floats(-200, -101), upper=st.floats(101, 200))
def test_cpk_is_at_most_cp(values: list[float], lower: float, upper: float) -> None:
    assume(max(values) - min(values) > 0.01)
    found = control_charts.capability(values=values, lower=lower, upper=upper)
    assert 0 < found.cpk <= found.cp * (1 + 1e-9)


@pytest.mark.parametrize("bad", [[], [1, 2, 3, 4], [5.0] * 10, "12345", None, 5])
def test_too_few_or_equal_values_make_no_chart(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^values is "):
        control_charts.individuals_chart(values=bad)


@pytest.mark.parametrize("bad", [[1.0], [2.0, 2.0], [2.0, 2.0 + 1e-12]])
def test_too_few_or_equal_values_have_no_capability(bad: list[float]) -> None:
    with pytest.raises(OutOfRange, match=r"^values is "):
        control_charts.capability(values=bad, lower=0, upper=5)


@pytest.mark.parametrize("bad", [math.nan, math.inf, True, "3", None, 1e10])
def test_a_bad_value_is_refused_by_its_place(bad: Any) -> None:
    values = [1.0, 2.0, bad, 4.0, 5.0]
    with pytest.raises(OutOfRange, match=r"^values\[2\] is "):
        control_charts.individuals_chart(values=values)
    with pytest.raises(OutOfRange, match=r"^values\[2\] is "):
        control_charts.ewma_chart(values=values, target=3, sigma=1)
    with pytest.raises(OutOfRange, match=r"^values\[2\] is "):
        control_charts.capability(values=values, lower=0, upper=5)


@pytest.mark.parametrize(
    ("argument", "bad"),
    [("sigma", 0), ("sigma", -1), ("weight", 0), ("weight", 1.01), ("width", 0), ("width", 11), ("target", math.nan)],
)
def test_bad_settings_of_the_average_are_refused_by_name(argument: str, bad: float) -> None:
    facts: dict[str, Any] = {"target": 50, "sigma": 2, "weight": 0.3, "width": 3, argument: bad}
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        control_charts.ewma_chart(values=EWMA, **facts)


def test_limits_of_no_width_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^upper is 8"):
        control_charts.capability(values=[1, 2, 3], lower=8, upper=8)
