"""Fillers, pigments and the catalyst of peroxide systems."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import additives
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
masses = st.floats(1, 10_000)


@pytest.mark.parametrize(("of", "expected"), [("resin", 5.0), ("mix", 6.5)])
def test_a_percentage_counts_on_what_it_says(of: str, expected: float) -> None:
    # Hand calculation: 5 % of 100 g of resin, or of 130 g of mix.
    assert additives.additive_g(percent=5, of=of, resin_g=100, hardener_g=30) == pytest.approx(expected)


def test_pigment_on_the_resin_needs_no_hardener_yet() -> None:
    assert additives.additive_g(percent=5, of="resin", resin_g=100) == pytest.approx(5)
    with pytest.raises(OutOfRange, match=r"^hardener_g is not given"):
        additives.additive_g(percent=5, of="mix", resin_g=100)


def test_no_additive_is_no_error() -> None:
    assert additives.additive_g(percent=0, of="resin", resin_g=100) == 0
    assert additives.additive_percent(mass_g=0, of="resin", resin_g=100) == 0


@quick
@given(percent=st.floats(0, 300), of=st.sampled_from(["resin", "mix"]), resin_g=masses, hardener_g=masses)
def test_mass_and_percentage_turn_each_other_round(percent: float, of: str, resin_g: float, hardener_g: float) -> None:
    mass_g = additives.additive_g(percent=percent, of=of, resin_g=resin_g, hardener_g=hardener_g)
    found = additives.additive_percent(mass_g=mass_g, of=of, resin_g=resin_g, hardener_g=hardener_g)
    assert found == pytest.approx(percent)


@pytest.mark.parametrize("of", ["", "Resin", "hardener", None])
def test_an_unknown_base_is_refused(of: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^of is .*one of resin, mix"):
        additives.additive_g(percent=5, of=of, resin_g=100, hardener_g=30)


@pytest.mark.parametrize("bad", [-1, 1001, math.nan, math.inf, True, "5", None])
def test_what_is_no_percentage_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^percent is "):
        additives.additive_g(percent=bad, of="resin", resin_g=100)


def test_a_bad_hardener_is_refused_even_where_it_does_not_count() -> None:
    with pytest.raises(OutOfRange, match=r"^hardener_g is "):
        additives.additive_g(percent=5, of="resin", resin_g=100, hardener_g=-1)


def test_the_catalyst_has_a_range_by_mass_and_by_volume() -> None:
    # Shop rule 23, hand calculation: 1 to 2 % of 2.5 kg is 25 to 50 g; at 1.25 g/ml, 20 to 40 ml.
    by_mass = additives.peroxide_range_g(resin_g=2500, low_pct=1, high_pct=2)
    assert (by_mass.low_g, by_mass.high_g) == (25, 50)
    by_volume = additives.peroxide_range_ml(resin_g=2500, low_pct=1, high_pct=2, density_g_ml=1.25)
    assert (by_volume.low_ml, by_volume.high_ml) == (20, 40)


@quick
@given(resin_g=masses, low=st.floats(0.5, 5), width=st.floats(0, 4), factor=st.floats(0.1, 10))
def test_the_range_grows_with_the_resin(resin_g: float, low: float, width: float, factor: float) -> None:
    high = min(5.0, low + width)
    one = additives.peroxide_range_g(resin_g=resin_g, low_pct=low, high_pct=high)
    other = additives.peroxide_range_g(resin_g=resin_g * factor, low_pct=low, high_pct=high)
    assert one.low_g <= one.high_g
    assert (other.low_g, other.high_g) == (pytest.approx(one.low_g * factor), pytest.approx(one.high_g * factor))


@pytest.mark.parametrize(
    ("low", "high", "argument"),
    [(0.4, 2, "low_pct"), (1, 5.1, "high_pct"), (2, 1, "high_pct"), (10, 30, "low_pct"), (math.nan, 2, "low_pct")],
)
def test_a_catalyst_outside_anything_that_resins_take_is_refused(low: float, high: float, argument: str) -> None:
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        additives.peroxide_range_g(resin_g=1000, low_pct=low, high_pct=high)


def test_a_single_percentage_is_a_range_too() -> None:
    found = additives.peroxide_range_g(resin_g=1000, low_pct=2, high_pct=2)
    assert found.low_g == found.high_g == 20
