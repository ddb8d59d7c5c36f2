"""Exact units, and the refusal of what is none."""

import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import units
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
numbers = st.decimals(min_value="0.001", max_value="100000", places=3)

# From the definitions: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 US gal = 231 in³, 1 imp gal = 4.54609 l
# (NIST SP 811, appendix B, and HB 44, appendix C, from memory).
INCH_MM = Fraction(254, 10)
LB_G = Fraction(45359237, 100000)
YD2_M2 = (36 * INCH_MM / 1000) ** 2
FT2_M2 = YD2_M2 / 9
US_GAL_ML = 231 * INCH_MM**3 / 1000
IMP_GAL_ML = Fraction(454609, 100)


def _close(found: Decimal, exact: Fraction) -> bool:
    """Equal to 28 significant digits, which is how many an endless decimal keeps."""
    return abs(Fraction(found) / exact - 1) < Fraction(1, 10**27)


@pytest.mark.parametrize(
    ("unit", "to", "exact"),
    [
        ("oz", "g", LB_G / 16),
        ("lb", "g", LB_G),
        ("kg", "mg", Fraction(10**6)),
        ("yd²", "m²", YD2_M2),
        ("ft²", "m²", FT2_M2),
        ("in²", "mm²", INCH_MM**2),
        ("cm²", "mm²", Fraction(100)),
        ("oz/yd²", "g/m²", LB_G / 16 / YD2_M2),
        ("oz/ft²", "g/m²", LB_G / 16 / FT2_M2),
        ("kg/m²", "g/m²", Fraction(1000)),
        ("US fl oz", "ml", US_GAL_ML / 128),
        ("imp fl oz", "ml", IMP_GAL_ML / 160),
        ("US gal", "l", US_GAL_ML / 1000),
        ("imp gal", "l", IMP_GAL_ML / 1000),
        ("mil", "µm", INCH_MM),
        ("in", "cm", INCH_MM / 10),
        ("ft", "mm", 12 * INCH_MM),
        ("yd", "m", 36 * INCH_MM / 1000),
        ("lb/US gal", "kg/m³", LB_G / US_GAL_ML * 1000),
        ("lb/ft³", "kg/m³", LB_G / (12 * INCH_MM) ** 3 * 10**6),
        ("g/ml", "kg/m³", Fraction(1000)),
        ("kg/l", "g/ml", Fraction(1)),
        ("d", "s", Fraction(86400)),
        ("h", "min", Fraction(60)),
        ("bar", "kPa", Fraction(100)),
        ("mbar", "hPa", Fraction(1)),
        ("hPa", "Pa", Fraction(100)),
    ],
)
def test_factors_follow_from_the_definitions(unit: str, to: str, exact: Fraction) -> None:
    assert _close(units.convert(value=1, unit=unit, to=to), exact)


@pytest.mark.parametrize(
    ("unit", "to", "printed"),
    # NIST SP 811, appendix B (from memory), at the digits that it prints.
    [("psi", "kPa", "6.894757"), ("inHg", "kPa", "3.386389"), ("mmHg", "Pa", "133.3224")],
)
def test_pressures_as_printed(unit: str, to: str, printed: str) -> None:
    found = units.convert(value=1, unit=unit, to=to)
    assert round(found, -Decimal(printed).as_tuple().exponent) == Decimal(printed)  # type: ignore[operator]


def test_the_thirty_four_millibar_of_a_drop_test() -> None:
    assert round(units.convert(value=1, unit="inHg", to="mbar"), 1) == Decimal("33.9")


@pytest.mark.parametrize(
    ("ounces", "printed"),
    # Tables of weights and measures (cci.one) for 2.3, 5.8, 6 and 9 (read); the rest from the definitions.
    [
        ("2.3", "77.98"),
        ("4", "135.62"),
        ("5.8", "196.65"),
        ("6", "203.43"),
        ("7.5", "254.29"),
        ("9", "305.15"),
        ("10", "339.06"),
        ("17", "576.40"),
        ("18", "610.30"),
        ("24", "813.74"),
    ],
)
def test_cloth_in_ounces_a_square_yard(ounces: str, printed: str) -> None:
    assert round(units.convert(value=ounces, unit="oz/yd²", to="g/m²"), 2) == Decimal(printed)


def test_mat_in_ounces_a_square_foot_is_nine_times_as_heavy() -> None:
    assert round(units.convert(value=1, unit="oz/ft²", to="g/m²")) == 305
    assert round(units.convert(value="1.5", unit="oz/ft²", to="g/m²")) == 458
    assert units.convert(value=1, unit="oz/ft²", to="oz/yd²") == 9


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # (F - 32)/1.8, to two digits.
    [
        (0, "-17.78"),
        (40, "4.44"),
        (66, "18.89"),
        (75, "23.89"),
        (77, "25.00"),
        (80, "26.67"),
        (90, "32.22"),
        (131, "55.00"),
        (140, "60.00"),
        (250, "121.11"),
        (350, "176.67"),
        (-40, "-40.00"),
    ],
)
def test_fahrenheit(fahrenheit: int, celsius: str) -> None:
    assert round(units.convert(value=fahrenheit, unit="°F", to="°C"), 2) == Decimal(celsius)


def test_a_temperature_is_exact_where_it_has_an_end() -> None:
    assert units.convert(value=77, unit="°F", to="°C") == 25
    assert units.convert(value="296.15", unit="K", to="°C") == 23


@pytest.mark.parametrize(("value", "unit"), [("-273.16", "°C"), ("-459.68", "°F"), ("-0.01", "K")])
def test_nothing_is_colder_than_absolute_zero(value: str, unit: str) -> None:
    with pytest.raises(OutOfRange, match=r"^value is .*absolute zero"):
        units.convert(value=value, unit=unit, to="°C")
    assert units.convert(value="-273.15", unit="°C", to="K") == 0


@pytest.mark.parametrize("value", ["0.1", 0.1, Decimal("0.1")])
def test_a_tenth_is_a_tenth_however_it_comes(value: Any) -> None:
    assert units.convert(value=value, unit="kg", to="g") == 100
    assert units.convert(value=value, unit="g", to="mg") == 100


@quick
@given(value=numbers, data=st.data())
def test_there_and_back_changes_nothing(value: Decimal, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(sorted(units.UNITS)))
    to = data.draw(st.sampled_from([name for name, kind in units.UNITS.items() if kind == units.UNITS[unit]]))
    back = units.convert(value=units.convert(value=value, unit=unit, to=to), unit=to, to=unit)
    assert abs(back - value) <= value * Decimal("1e-24") + Decimal("1e-22")


@quick
@given(value=numbers, factor=st.integers(1, 1000), data=st.data())
def test_twice_as_much_is_twice_as_much(value: Decimal, factor: int, data: st.DataObject) -> None:
    unit = data.draw(st.sampled_from(sorted(name for name, kind in units.UNITS.items() if kind != "temperature")))
    to = data.draw(st.sampled_from([name for name, kind in units.UNITS.items() if kind == units.UNITS[unit]]))
    one = units.convert(value=value, unit=unit, to=to)
    assert units.convert(value=value * factor, unit=unit, to=to) == pytest.approx(one * factor, rel=Decimal("1e-26"))


@quick
@given(milligrams=st.integers(0, 10**9))
def test_every_whole_milligram_survives_a_float_in_grams(milligrams: int) -> None:
    assert units.convert(value=milligrams / 1000, unit="g", to="mg") == milligrams


@pytest.mark.parametrize(
    ("unit", "to", "sentence"),
    [
        ("oz", "g/m²", r"^to is 'g/m²', a unit of areal weight; it must be a unit of mass: mg, g, kg, oz, lb"),
        ("ml", "g", r"^to is 'g', a unit of mass"),
        ("mm", "mm²", r"^to is 'mm²', a unit of area"),
        ("stone", "g", r"^unit is 'stone'; it must be one of mg, g,"),
        ("G", "g", r"^unit is 'G'"),
        ("", "g", r"^unit is ''"),
        (None, "g", r"^unit is None"),
        (["g"], "g", r"^unit is \['g'\]"),
        ("g", "tonne", r"^to is 'tonne'; it must be one of mg, g, kg, oz, lb"),
        ("gram * 5", "g", r"^unit is 'gram \* 5'"),
    ],
)
def test_an_unknown_unit_or_another_kind_is_refused_by_name(unit: Any, to: Any, sentence: str) -> None:
    with pytest.raises(OutOfRange, match=sentence):
        units.convert(value=1, unit=unit, to=to)


def test_ounces_alone_are_no_areal_weight() -> None:
    with pytest.raises(OutOfRange, match=r"^to is 'g/m²', a unit of areal weight; it must be a unit of mass"):
        units.convert(value=6, unit="oz", to="g/m²")


@pytest.mark.parametrize(
    "bad",
    [
        math.nan, math.inf, -math.inf, True, None, "", "abc", "1,5", " 1", "1_000", "NaN", "Infinity", "٣", "0x10",
        "1e999999999", "1" * 90, 1e13, 1e-13, [1], Decimal("NaN"), Decimal("sNaN"), Decimal("1e-999999"),
        Decimal("1." + "1" * 45), pytest.param(10**5000, id="5001 digits"),
    ],
)  # fmt: skip
def test_what_is_no_number_of_a_sensible_size_is_refused(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^value is .*up to 40 digits"):
        units.convert(value=bad, unit="g", to="kg")


@pytest.mark.parametrize("unit", ["g", "m", "m²", "ml", "g/m²", "kPa", "s"])
def test_below_zero_there_are_only_temperatures(unit: str) -> None:
    with pytest.raises(OutOfRange, match=r"^value is -1 .*at least 0"):
        units.convert(value=-1, unit=unit, to=unit)


def test_a_whole_result_is_written_without_an_exponent() -> None:
    assert str(units.convert(value=1000, unit="kg", to="g")) == "1000000"
    assert str(units.convert(value="-0", unit="g", to="g")) == "0"
