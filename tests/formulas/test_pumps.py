"""Pumps and ratios by volume."""

import pytest

from service.formulas import pumps
from service.formulas.pumps import Shot
from service.formulas.ranges import OutOfRange

GOOD = [Shot(18.0, 4.0), *[Shot(20.0 + d, 6.0 + d / 4) for d in (-0.1, 0.1, 0.0, -0.1, 0.1)]]


def test_the_first_shot_after_standing_is_left_out() -> None:
    found = pumps.pump_check(pairs=GOOD, ratio=0.30, tolerance_pct=3)
    assert (found.pairs, found.resin_g, found.hardener_g) == (5, pytest.approx(20), pytest.approx(6))
    # Hand calculation: s = 0.1 and 0.025, so U = 200/sqrt(5)·sqrt(0.005² + 0.00417²) = 0.582 %.
    assert found.uncertainty_pct == pytest.approx(0.582, abs=1e-3)
    assert found.passed


def test_four_pairs_that_count_are_too_few() -> None:
    with pytest.raises(OutOfRange, match=r"^pairs is a list of 5"):
        pumps.pump_check(pairs=GOOD[:5], ratio=0.30, tolerance_pct=3)


def test_a_pump_passes_only_with_its_spread_within_the_tolerance() -> None:
    # The mean ratio is 2.5 % off; with a spread of 0.58 % it is within 3.2 % and not within 3 %.
    off = [Shot(s.resin_g, s.hardener_g * 1.025) for s in GOOD]
    assert pumps.pump_check(pairs=off, ratio=0.30, tolerance_pct=3.2).passed
    assert not pumps.pump_check(pairs=off, ratio=0.30, tolerance_pct=3.0).passed


def test_a_missed_hardener_stroke_of_ten_moves_the_ratio_by_ten_per_cent() -> None:
    # Shop rule 23a: the total moves by 1.7 % only.
    shots = {"resin_shot_g": 100.0, "hardener_shot_g": 20.0, "ratio": 0.2}
    assert pumps.pumped_deviation_pct(resin_strokes=10, hardener_strokes=10, **shots) == pytest.approx(0)
    assert pumps.pumped_deviation_pct(resin_strokes=10, hardener_strokes=9, **shots) == pytest.approx(-10)
    assert pytest.approx(0.017, abs=5e-4) == 1 - (1000 + 9 * 20) / 1200


def test_the_spread_of_the_mean_and_of_the_pot_both_count() -> None:
    shots = {"resin_shot_g": 20.0, "hardener_shot_g": 6.0, "resin_spread_g": 0.2, "hardener_spread_g": 0.06, "pairs": 5}
    one = pumps.pumped_uncertainty_pct(resin_strokes=1, hardener_strokes=1, **shots)
    many = pumps.pumped_uncertainty_pct(resin_strokes=10_000, hardener_strokes=10_000, **shots)
    # Hand calculation: 2·sqrt(2)·1 %·sqrt(1/5 + 1) = 3.10 %, and with very many strokes 2·sqrt(2)·1 %/sqrt(5) = 1.26 %.
    assert one == pytest.approx(3.098, abs=1e-3)
    assert many == pytest.approx(1.265, abs=1e-3)


def test_a_volume_ratio_weighed_as_if_by_mass_is_fifteen_per_cent_off() -> None:
    found = pumps.volume_deviation_pct(
        resin_g=300, hardener_g=100, resin_density_g_ml=1.15, hardener_density_g_ml=1.0, volume_ratio=1 / 3
    )
    assert found == pytest.approx(15)
