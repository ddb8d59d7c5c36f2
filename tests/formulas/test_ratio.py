"""Targets, deviation, tolerance, correction of a mix."""

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas import ratio
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
masses = st.floats(1, 10_000)
ratios = st.floats(0.05, 2)

NOT_A_MASS = [0, -1, 0.0009, 1_000_001, math.nan, math.inf, True, "100", None, 10**400]


def test_the_hardener_follows_the_resin() -> None:
    # Shop rule 19: 46.0 g of resin at 100:30.
    assert ratio.hardener_target_g(resin_g=46.0, ratio=0.30) == pytest.approx(13.8)


def test_the_resin_follows_the_hardener() -> None:
    # US Army TM 55-1905-223-SDC, paragraph 8-24: 400 g of resin to 100 g of hardener.
    assert ratio.resin_target_g(hardener_g=100, ratio=0.25) == 400


def test_a_total_is_shared_by_the_ratio() -> None:
    # The same kit: 500 g mixed at 4:1.
    assert ratio.split_total(total_g=500, ratio=0.25) == ratio.Split(resin_g=400, hardener_g=100)


def test_the_published_light_aircraft_pot_of_100_g_of_resin() -> None:
    # A published light-aircraft maintenance manual, 51-20-00 p. 201: 100 g of resin is the usual pot.
    pot = ratio.split_total(total_g=140, ratio=0.40)
    assert (pot.resin_g, pot.hardener_g) == (pytest.approx(100), pytest.approx(40))


@pytest.mark.parametrize(
    ("resin_g", "hardener_g", "expected"),
    [(100, 30, 0.0), (100, 30.6, 2.0), (100, 29.4, -2.0), (46.0, 13.8, 0.0), (200, 30, -50.0)],
)
def test_the_deviation_is_signed_towards_the_hardener(resin_g: float, hardener_g: float, expected: float) -> None:
    # Shop rule 16; hand calculation.
    found = ratio.deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=0.30)
    assert found == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("kind", "value", "stated", "expected"),
    [
        ("percent_of_ratio", 2, 0.30, 2.0),
        # Shop rule 15: 100:30 ± 2 parts is ± 6.7 %.
        ("parts", 2, 0.30, 6.67),
        ("parts", 2, 1.0, 2.0),
        # Hand calculation: (1 - 0.005)/(1 + 0.005) - 1 = -0.99502 %.
        ("percent_of_each_mass", 0.5, 0.40, 0.99502),
    ],
)
def test_a_tolerance_of_each_kind_becomes_per_cent_of_ratio(
    kind: str, value: float, stated: float, expected: float
) -> None:
    assert ratio.tolerance_pct(kind=kind, value=value, ratio=stated) == pytest.approx(expected, abs=0.005)


@quick
@given(each_pct=st.floats(0.1, 20), share=st.floats(-1, 1), stated=ratios, resin_g=masses)
def test_a_pot_inside_the_tolerance_of_each_mass_has_a_size_at_which_both_masses_keep_it(
    each_pct: float, share: float, stated: float, resin_g: float
) -> None:
    tolerance = ratio.tolerance_pct(kind="percent_of_each_mass", value=each_pct, ratio=stated)
    hardener_g = stated * resin_g * (1 + share * tolerance / 100)
    # The size whose two errors are equal and opposite: a = A(1 - x), b = rA(1 + x).
    nominal_g = (resin_g + hardener_g / stated) / 2
    errors_pct = (100 * abs(resin_g / nominal_g - 1), 100 * abs(hardener_g / (stated * nominal_g) - 1))
    assert max(errors_pct) <= each_pct * (1 + 1e-9)


@quick
@given(each_pct=st.floats(0.1, 20), excess=st.floats(0.001, 5), stated=ratios, nominal_shift=st.floats(-0.3, 0.3))
def test_a_pot_short_of_hardener_past_it_has_no_such_size(
    each_pct: float, excess: float, stated: float, nominal_shift: float
) -> None:
    tolerance = ratio.tolerance_pct(kind="percent_of_each_mass", value=each_pct, ratio=stated)
    resin_g = 100.0
    hardener_g = stated * resin_g * (1 - tolerance * (1 + excess) / 100)
    assume(hardener_g > 0)
    nominal_g = resin_g * (1 + nominal_shift)
    errors_pct = (100 * abs(resin_g / nominal_g - 1), 100 * abs(hardener_g / (stated * nominal_g) - 1))
    assert max(errors_pct) > each_pct


@pytest.mark.parametrize("kind", ["", "percent", "PARTS", None, 3])
def test_a_tolerance_without_a_known_kind_is_refused(kind: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^kind is .*percent_of_ratio, parts, percent_of_each_mass"):
        ratio.tolerance_pct(kind=kind, value=2, ratio=0.30)


@pytest.mark.parametrize(
    ("kind", "value"),
    [("percent_of_ratio", 100), ("parts", 30), ("percent_of_each_mass", 100), ("parts", 0), ("parts", -2)],
)
def test_a_tolerance_of_nothing_or_of_the_whole_ratio_is_refused(kind: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=r"^value is"):
        ratio.tolerance_pct(kind=kind, value=value, ratio=0.30)


def test_too_little_hardener_is_corrected_by_hardener() -> None:
    # Shop rule 20, hand calculation: 100 g takes 30 g, 27 g are in.
    found = ratio.correction(resin_g=100, hardener_g=27, ratio=0.30)
    assert (found.add, found.add_g, found.total_g) == ("hardener", pytest.approx(3), pytest.approx(130))


def test_too_much_hardener_is_corrected_by_resin() -> None:
    # Shop rule 20, hand calculation: 33 g serve 110 g; the mix becomes (33/0.3)*1.3 = 143 g.
    found = ratio.correction(resin_g=100, hardener_g=33, ratio=0.30)
    assert (found.add, found.add_g, found.total_g) == ("resin", pytest.approx(10), pytest.approx(143))


@pytest.mark.parametrize(("hardener_g", "add"), [(30, "nothing"), (30 - 4e-4, "nothing"), (30 - 6e-4, "hardener")])
def test_what_the_account_cannot_keep_needs_no_correction(hardener_g: float, add: str) -> None:
    found = ratio.correction(resin_g=100, hardener_g=hardener_g, ratio=0.30)
    assert (found.add, found.add_g > 0) == (add, add != "nothing")


@quick
@given(resin_g=masses, hardener_g=masses, stated=ratios)
def test_a_corrected_mix_has_its_ratio_and_nothing_is_taken_out(
    resin_g: float, hardener_g: float, stated: float
) -> None:
    found = ratio.correction(resin_g=resin_g, hardener_g=hardener_g, ratio=stated)
    after = {"resin": resin_g, "hardener": hardener_g}
    assert found.add_g >= 0
    if found.add != "nothing":
        after[found.add] += found.add_g
        assert after["hardener"] / after["resin"] == pytest.approx(stated, rel=1e-9)
    assert sum(after.values()) == pytest.approx(found.total_g)


@quick
@given(total_g=st.floats(10, 10_000), stated=ratios)
def test_a_split_adds_up_and_deviates_by_nothing(total_g: float, stated: float) -> None:
    pot = ratio.split_total(total_g=total_g, ratio=stated)
    assert pot.resin_g + pot.hardener_g == pytest.approx(total_g)
    deviation = ratio.deviation_pct(resin_g=pot.resin_g, hardener_g=pot.hardener_g, ratio=stated)
    assert deviation == pytest.approx(0, abs=1e-9)


@quick
@given(resin_g=masses, stated=ratios)
def test_targets_turn_each_other_round(resin_g: float, stated: float) -> None:
    hardener_g = ratio.hardener_target_g(resin_g=resin_g, ratio=stated)
    assert ratio.resin_target_g(hardener_g=hardener_g, ratio=stated) == pytest.approx(resin_g)


@quick
@given(resin_g=masses, hardener_g=masses, stated=ratios, factor=st.floats(0.1, 10))
def test_the_deviation_depends_on_no_pot_size(resin_g: float, hardener_g: float, stated: float, factor: float) -> None:
    one = ratio.deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=stated)
    other = ratio.deviation_pct(resin_g=resin_g * factor, hardener_g=hardener_g * factor, ratio=stated)
    assert one == pytest.approx(other, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("bad", NOT_A_MASS)
def test_what_is_no_mass_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^resin_g is .*0\.001.*g"):
        ratio.hardener_target_g(resin_g=bad, ratio=0.3)
    with pytest.raises(OutOfRange, match=r"^hardener_g is "):
        ratio.deviation_pct(resin_g=100, hardener_g=bad, ratio=0.3)
    with pytest.raises(OutOfRange, match=r"^total_g is "):
        ratio.split_total(total_g=bad, ratio=0.3)
    with pytest.raises(OutOfRange, match=r"^hardener_g is "):
        ratio.correction(resin_g=100, hardener_g=bad, ratio=0.3)


@pytest.mark.parametrize("bad", [0, -0.3, 0.0009, 10.1, math.nan, math.inf, True, "0.3", None])
def test_what_is_no_ratio_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^ratio is "):
        ratio.resin_target_g(hardener_g=30, ratio=bad)


def test_the_ends_of_the_range_still_answer() -> None:
    assert ratio.hardener_target_g(resin_g=1e6, ratio=10) == 1e7
    assert ratio.hardener_target_g(resin_g=0.001, ratio=0.001) == pytest.approx(1e-6)


def test_a_tolerance_of_less_than_one_part_is_one() -> None:
    # 30 ± 0.5 parts to 100.
    assert ratio.tolerance_pct(kind="parts", value=0.5, ratio=0.30) == pytest.approx(5 / 3)
    with pytest.raises(OutOfRange, match="value"):
        ratio.tolerance_pct(kind="parts", value=0, ratio=0.30)
