"""Dew point, the margin of a surface above it, and the limits of the air."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import climate
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
airs = st.floats(0, 45)
humidities = st.floats(10, 100)


@pytest.mark.parametrize(
    ("temperature_c", "expected"),
    # WMO-No. 8 (2008) constants; the column was worked apart from this code.
    [(0, 6.112), (10, 12.260), (20, 23.326), (25, 31.601), (30, 42.337), (40, 73.675)],
)
def test_saturation_pressure(temperature_c: float, expected: float) -> None:
    assert climate.saturation_pressure_hpa(temperature_c=temperature_c) == pytest.approx(expected, abs=5e-4)


def _sonntag_hpa(temperature_c: float) -> float:
    t = temperature_c + 273.15
    exponent = -6096.9385 / t + 21.2409642 - 0.02711193 * t + 1.673952e-5 * t**2 + 2.433502 * math.log(t)
    return math.exp(exponent) / 100


@pytest.mark.parametrize("temperature_c", [0, 10, 20, 25, 30, 40])
def test_the_short_formula_is_within_a_third_of_a_per_cent_of_the_long_one(temperature_c: float) -> None:
    # Sonntag's full form, as in atmlab's e_eq_water (after Sonntag 1994).
    found = climate.saturation_pressure_hpa(temperature_c=temperature_c)
    assert found == pytest.approx(_sonntag_hpa(temperature_c), rel=3.5e-3)


@pytest.mark.parametrize(
    ("air_c", "humidity", "printed"),
    # A published German dew-point table (Taupunkttabelle), and at 55 % a coating supplier's glossary; its tolerance
    # of 0.1 °C is that of the print.
    [
        (10, 60, 2.5),
        (18, 60, 10.1),
        (20, 50, 9.3),
        (20, 60, 12.0),
        (20, 70, 14.4),
        (20, 80, 16.5),
        (23, 50, 12.0),
        (25, 50, 13.8),
        (30, 70, 23.9),
        (30, 55, 20.0),
    ],
)
def test_dew_points_of_a_printed_table(air_c: float, humidity: float, printed: float) -> None:
    found = climate.dew_point_c(air_c=air_c, relative_humidity_pct=humidity)
    assert found == pytest.approx(printed, abs=0.1)


@pytest.mark.parametrize(
    ("air_c", "humidity", "surface_c"),
    # A published dew-point table with the 3 °C rule: 20 °C and 70 % asks for 17.4 °C, 10 °C and 90 % for 11.4 °C.
    [(20, 70, 17.4), (10, 90, 11.4)],
)
def test_the_printed_surface_keeps_three_kelvin(air_c: float, humidity: float, surface_c: float) -> None:
    found = climate.dew_point_margin_k(surface_c=surface_c, air_c=air_c, relative_humidity_pct=humidity)
    assert found == pytest.approx(3, abs=0.06)


@pytest.mark.parametrize(("air_c", "expected"), [(15, 82.3), (20, 82.9), (25, 83.5)])
def test_the_highest_humidity_for_three_kelvin(air_c: float, expected: float) -> None:
    # Worked apart from this code, with the WMO constants.
    found = climate.highest_humidity_pct(air_c=air_c, surface_c=air_c, margin_k=3)
    assert found == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(("humidity", "printed"), [(100, 17.28), (60, 10.37)])
def test_water_in_a_cubic_metre_at_20_degrees(humidity: float, printed: float) -> None:
    # A resin supplier's glossary (read); within the 0.3 % of the short formula.
    found = climate.absolute_humidity_g_m3(air_c=20, relative_humidity_pct=humidity)
    assert found == pytest.approx(printed, rel=3e-3)


@quick
@given(air_c=airs, humidity=humidities)
def test_the_dew_point_is_the_temperature_at_which_the_vapour_saturates(air_c: float, humidity: float) -> None:
    dew = climate.dew_point_c(air_c=air_c, relative_humidity_pct=humidity)
    assert dew <= air_c + 1e-9
    vapour = climate.saturation_pressure_hpa(temperature_c=air_c) * humidity / 100
    assert climate.saturation_pressure_hpa(temperature_c=dew) == pytest.approx(vapour)


@quick
@given(air_c=airs, humidity=st.floats(10, 90), more=st.floats(0.1, 10))
def test_moister_air_has_a_higher_dew_point(air_c: float, humidity: float, more: float) -> None:
    drier = climate.dew_point_c(air_c=air_c, relative_humidity_pct=humidity)
    assert climate.dew_point_c(air_c=air_c, relative_humidity_pct=humidity + more) > drier


@quick
@given(air_c=st.floats(5, 45), below=st.floats(0, 10), margin_k=st.floats(0.1, 10))
def test_at_the_highest_humidity_the_margin_is_just_kept(air_c: float, below: float, margin_k: float) -> None:
    surface_c = air_c - below
    humidity = climate.highest_humidity_pct(air_c=air_c, surface_c=surface_c, margin_k=margin_k)
    found = climate.dew_point_margin_k(surface_c=surface_c, air_c=air_c, relative_humidity_pct=humidity)
    assert found == pytest.approx(margin_k, abs=1e-6)


def test_a_warm_mould_keeps_its_margin_in_any_air() -> None:
    assert climate.highest_humidity_pct(air_c=18, surface_c=40, margin_k=3) == 100


def test_the_caution_says_how_far_and_what_to_do() -> None:
    # 18 °C and 70 %: dew point 12.4 °C (WMO constants, worked by hand).
    found = climate.amine_blush_caution(surface_c=14, air_c=18, relative_humidity_pct=70, least_margin_k=3)
    assert found.caution
    assert found.dew_point_c == pytest.approx(12.4, abs=0.05)
    assert found.margin_k == pytest.approx(1.6, abs=0.05)
    assert "12.4 °C" in found.sentence
    assert "Warm it or dry the air" in found.sentence
    close = climate.amine_blush_caution(surface_c=13, air_c=18, relative_humidity_pct=70, least_margin_k=3)
    assert close.sentence.startswith("The surface is 0.5 K above the dew point"), "half a kelvin is not wet yet"


def test_a_wet_surface_is_called_wet() -> None:
    found = climate.amine_blush_caution(surface_c=12, air_c=18, relative_humidity_pct=70, least_margin_k=3)
    assert found.caution
    assert found.margin_k < 0
    assert found.sentence.startswith("Water condenses on the surface")


def test_a_dry_surface_needs_no_caution() -> None:
    found = climate.amine_blush_caution(surface_c=18, air_c=18, relative_humidity_pct=50, least_margin_k=3)
    assert not found.caution
    assert "asked for" not in found.sentence


def test_a_margin_just_short_never_reads_as_kept() -> None:
    dew = climate.dew_point_c(air_c=20, relative_humidity_pct=60)
    short = climate.amine_blush_caution(surface_c=dew + 2.97, air_c=20, relative_humidity_pct=60, least_margin_k=3)
    assert short.caution
    assert "2.9 K above" in short.sentence
    kept = climate.amine_blush_caution(surface_c=dew + 3.001, air_c=20, relative_humidity_pct=60, least_margin_k=3)
    assert not kept.caution


def test_air_at_its_limits_is_within_them() -> None:
    limits = {"lowest_c": 16, "highest_c": 25, "highest_humidity_pct": 70}
    assert climate.within_limits(air_c=16, relative_humidity_pct=70, **limits) == ()
    assert climate.within_limits(air_c=25, relative_humidity_pct=30, **limits) == ()


def test_every_limit_that_is_not_kept_has_its_sentence() -> None:
    limits = {"lowest_c": 16, "highest_c": 25, "highest_humidity_pct": 70}
    cold_and_damp = climate.within_limits(air_c=15.96, relative_humidity_pct=70.04, **limits)
    assert cold_and_damp == (
        "The air is at 15.96 °C; at least 16 °C is asked for.",
        "The humidity is 70.04 %; at most 70 % is asked for.",
    )
    hot = climate.within_limits(air_c=25.5, relative_humidity_pct=40, **limits)
    assert hot == ("The air is at 25.5 °C; at most 25 °C is asked for.",)


def test_limits_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^highest_c is 16"):
        climate.within_limits(air_c=20, relative_humidity_pct=50, lowest_c=25, highest_c=16, highest_humidity_pct=70)


@pytest.mark.parametrize("bad", [0, -1, 100.1, math.nan, math.inf, True, "60", None])
def test_what_is_no_humidity_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^relative_humidity_pct is .*100 %"):
        climate.dew_point_c(air_c=20, relative_humidity_pct=bad)
    with pytest.raises(OutOfRange, match=r"^relative_humidity_pct is "):
        climate.absolute_humidity_g_m3(air_c=20, relative_humidity_pct=bad)


@pytest.mark.parametrize("bad", [-45.1, 60.1, 293.15, math.nan, True, "20", None])
def test_what_is_no_air_temperature_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^air_c is .*°C"):
        climate.dew_point_c(air_c=bad, relative_humidity_pct=60)
    with pytest.raises(OutOfRange, match=r"^temperature_c is "):
        climate.saturation_pressure_hpa(temperature_c=bad)


def test_air_too_dry_for_the_formula_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^relative_humidity_pct is 0\.1; .*20 °C"):
        climate.dew_point_c(air_c=20, relative_humidity_pct=0.1)
    with pytest.raises(OutOfRange, match=r"^relative_humidity_pct is 4\.94066e-324; "):
        climate.dew_point_c(air_c=20, relative_humidity_pct=5e-324)  # a hundredth of it is no number above zero


def test_saturated_air_has_its_own_temperature_as_dew_point_to_the_end_of_the_range() -> None:
    for air_c in (-45, 0, 60):
        assert climate.dew_point_c(air_c=air_c, relative_humidity_pct=100) == pytest.approx(air_c)


@pytest.mark.parametrize("bad", [-0.1, 20.1, math.nan, True, None])
def test_what_is_no_margin_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^least_margin_k is "):
        climate.amine_blush_caution(surface_c=18, air_c=18, relative_humidity_pct=50, least_margin_k=bad)
    with pytest.raises(OutOfRange, match=r"^margin_k is "):
        climate.highest_humidity_pct(air_c=18, surface_c=18, margin_k=bad)


def test_exactly_the_margin_that_is_asked_for_is_enough_and_none_at_all_is_wet() -> None:
    air = {"air_c": 20.0, "relative_humidity_pct": 60.0}
    margin = climate.dew_point_margin_k(surface_c=18.0, **air)
    assert climate.amine_blush_caution(surface_c=18.0, least_margin_k=margin, **air).sentence.endswith("°C.")
    wet = climate.amine_blush_caution(surface_c=climate.dew_point_c(**air), least_margin_k=3, **air)
    assert wet.sentence.startswith("Water condenses")
