"""Ratios by weight, by volume, in parts per hundred, and of blends."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import ratio_forms
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
ratios = st.floats(0.05, 2)
densities = st.floats(0.8, 2)

LB_KG = 0.45359237
US_GAL_L = 3.785411784


def test_equal_volumes_of_the_published_adhesive() -> None:
    # Starting Formulation No. 4013, Epoxy Traffic Marker Adhesive, SC:2044-01: 155.5 lb and 116.5 lb in 13.67 US gal
    # each, 100:100 by volume, 100:74.92 by weight.
    resin = 155.5 * LB_KG / (13.67 * US_GAL_L)
    hardener = 116.5 * LB_KG / (13.67 * US_GAL_L)
    assert (resin, hardener) == (pytest.approx(1.363, abs=5e-4), pytest.approx(1.021, abs=5e-4))
    found = ratio_forms.weight_ratio_from_volume(
        volume_ratio=1.0, resin_density_g_ml=resin, hardener_density_g_ml=hardener
    )
    assert found == pytest.approx(0.7492, abs=5e-5)


def test_three_to_one_by_volume_published_as_three_and_a_half_to_one_by_weight() -> None:
    # A supplier's page on dispensing: 3:1 by volume is 3.5:1 by weight, which needs densities in the ratio 1.167.
    found = ratio_forms.weight_ratio_from_volume(
        volume_ratio=1 / 3, resin_density_g_ml=1.167, hardener_density_g_ml=1.0
    )
    assert 1 / found == pytest.approx(3.5, abs=0.005)


@quick
@given(ratio=ratios, resin=densities, hardener=densities)
def test_volume_and_weight_turn_each_other_round(ratio: float, resin: float, hardener: float) -> None:
    by_volume = ratio_forms.volume_ratio_from_weight(
        weight_ratio=ratio, resin_density_g_ml=resin, hardener_density_g_ml=hardener
    )
    by_weight = ratio_forms.weight_ratio_from_volume(
        volume_ratio=by_volume, resin_density_g_ml=resin, hardener_density_g_ml=hardener
    )
    assert by_weight == pytest.approx(ratio)


@quick
@given(ratio=ratios, density=densities)
def test_equal_densities_change_nothing(ratio: float, density: float) -> None:
    found = ratio_forms.weight_ratio_from_volume(
        volume_ratio=ratio, resin_density_g_ml=density, hardener_density_g_ml=density
    )
    assert found == pytest.approx(ratio)


def test_parts_per_hundred() -> None:
    assert ratio_forms.ratio_from_phr(phr=32) == 0.32
    assert ratio_forms.phr_from_ratio(ratio=0.32) == 32


@quick
@given(phr=st.floats(0.1, 1000))
def test_parts_and_ratio_turn_each_other_round(phr: float) -> None:
    assert ratio_forms.phr_from_ratio(ratio=ratio_forms.ratio_from_phr(phr=phr)) == pytest.approx(phr)


@pytest.mark.parametrize(("limit_pct", "agrees"), [(0.1, False), (3, True)])
def test_a_rounded_data_sheet_agrees_within_its_rounding(limit_pct: float, agrees: bool) -> None:
    # A supplier's page on dispensing states 5:1 by weight and by volume alike. With 1.18 and 1.15 g/ml, by hand, the
    # volumes give 1.15/1.18 - 1 = -2.54 %.
    check = ratio_forms.densities_agree(
        weight_ratio=0.2, volume_ratio=0.2, resin_density_g_ml=1.18, hardener_density_g_ml=1.15, limit_pct=limit_pct
    )
    assert check.deviation_pct == pytest.approx(-2.542, abs=5e-4)
    assert check.agrees is agrees


def test_swapped_densities_are_found() -> None:
    right = {"weight_ratio": 0.7492, "volume_ratio": 1.0, "limit_pct": 2.0}
    assert ratio_forms.densities_agree(**right, resin_density_g_ml=1.363, hardener_density_g_ml=1.021).agrees
    assert not ratio_forms.densities_agree(**right, resin_density_g_ml=1.021, hardener_density_g_ml=1.363).agrees


def test_half_and_half_of_30_and_40() -> None:
    # Shop rule 21: 34.3, not 35.
    found = ratio_forms.blend_ratio(ratios=[0.30, 0.40], mass_fractions=[0.5, 0.5])
    assert 100 * found == pytest.approx(34.3, abs=0.05)


@quick
@given(parts=st.lists(st.tuples(ratios, st.floats(0.01, 1)), min_size=1, max_size=6))
def test_a_blend_lies_between_its_hardeners_and_serves_their_resin(parts: list[tuple[float, float]]) -> None:
    total = math.fsum(mass for _, mass in parts)
    found = ratio_forms.blend_ratio(
        ratios=[ratio for ratio, _ in parts], mass_fractions=[mass / total for _, mass in parts]
    )
    lowest, highest = min(parts)[0], max(parts)[0]
    assert lowest * (1 - 1e-9) <= found <= highest * (1 + 1e-9)
    assert total / found == pytest.approx(math.fsum(mass / ratio for ratio, mass in parts))


@pytest.mark.parametrize(
    ("ratios_given", "fractions", "argument"),
    [
        ([], [], "ratios"),
        ([0.3, 0.4], [1.0], "mass_fractions"),
        ([0.3, 0.4], [0.5, 0.4], "mass_fractions"),
        ([0.3, 0.4], [1.5, -0.5], r"mass_fractions\[0\]"),
        ([0.3, math.nan], [0.5, 0.5], r"ratios\[1\]"),
        ("03", [0.5, 0.5], "ratios"),
        (0.3, [1.0], "ratios"),
        ([0.3] * 11, [1 / 11] * 11, "ratios"),
    ],
)
def test_a_blend_that_does_not_add_up_is_refused(ratios_given: Any, fractions: Any, argument: str) -> None:
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        ratio_forms.blend_ratio(ratios=ratios_given, mass_fractions=fractions)


@pytest.mark.parametrize("bad", [0, -1, 0.4, 5.1, math.nan, math.inf, True, "1.1", None])
def test_what_is_no_density_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^hardener_density_g_ml is .*g/ml"):
        ratio_forms.weight_ratio_from_volume(volume_ratio=0.4, resin_density_g_ml=1.1, hardener_density_g_ml=bad)
    with pytest.raises(OutOfRange, match=r"^resin_density_g_ml is .*g/ml"):
        ratio_forms.volume_ratio_from_weight(weight_ratio=0.4, resin_density_g_ml=bad, hardener_density_g_ml=1.0)


@pytest.mark.parametrize("bad", [0, 0.09, 1001, math.nan, True, "30"])
def test_what_is_no_number_of_parts_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^phr is "):
        ratio_forms.ratio_from_phr(phr=bad)


def test_a_deviation_of_exactly_the_limit_still_counts_as_rounding() -> None:
    # Without rounding in binary: 0.625 by volume of equal densities against 0.5 by weight is 25 % more.
    facts = {"weight_ratio": 0.5, "volume_ratio": 0.625, "resin_density_g_ml": 1, "hardener_density_g_ml": 1}
    assert ratio_forms.densities_agree(**facts, limit_pct=25).agrees
    assert not ratio_forms.densities_agree(**facts, limit_pct=24.999).agrees
