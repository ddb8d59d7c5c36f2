"""Which scale can judge which pot, and the limits at the pour."""

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import scales
from service.formulas.ranges import OutOfRange
from service.formulas.ratio import deviation_pct, split_total

quick = settings(deadline=None, max_examples=50)


def _u(interval_g: float) -> float:
    return scales.reading_uncertainty_g(interval_g=interval_g, repeatability_g=0)


@pytest.mark.parametrize(("interval_g", "expected"), [(0.1, 55), (1, 555)])
def test_the_smallest_honest_pot(interval_g: float, expected: float) -> None:
    # Shop rule 18: 100:30 at ± 2 %, about 55 g on a 0.1 g scale, 555 g on 1 g.
    u = _u(interval_g)
    found = scales.smallest_honest_pot_g(
        ratio=0.30, tolerance_pct=2, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=True
    )
    assert found == pytest.approx(expected, rel=0.01)


@quick
@given(
    ratio=st.floats(0.01, 2), tolerance=st.floats(0.2, 20), interval_g=st.sampled_from([0.01, 0.1, 1.0]),
    zeroed=st.booleans(),
)  # fmt: skip
def test_the_smallest_honest_pot_takes_just_a_third_of_the_tolerance(
    ratio: float, tolerance: float, interval_g: float, zeroed: bool
) -> None:
    u = _u(interval_g)
    total_g = scales.smallest_honest_pot_g(
        ratio=ratio, tolerance_pct=tolerance, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed
    )
    pot = split_total(total_g=total_g, ratio=ratio)
    found = scales.ratio_uncertainty_pct(
        resin_g=pot.resin_g, hardener_g=pot.hardener_g, resin_reading_u_g=u, hardener_reading_u_g=u, zeroed=zeroed
    )
    assert found == pytest.approx(tolerance / 3)


def test_the_hardeners_scale_decides_the_smallest_pot() -> None:
    def smallest(resin_d: float, hardener_d: float) -> float:
        return scales.smallest_honest_pot_g(
            ratio=0.30,
            tolerance_pct=2,
            resin_reading_u_g=_u(resin_d),
            hardener_reading_u_g=_u(hardener_d),
            zeroed=True,
        )

    assert smallest(1, 0.1) < smallest(0.1, 1) < smallest(1, 1)


def _limits(resin_g: float, **more: Any) -> scales.AcceptanceLimits:
    facts: dict[str, Any] = {
        "ratio": 0.30, "tolerance_pct": 2, "interval_g": 0.1, "repeatability_g": 0, "zeroed": True, **more
    }  # fmt: skip
    return scales.acceptance_limits(resin_g=resin_g, **facts)


def test_the_limits_of_the_shop_rule_are_exact() -> None:
    # Shop rule 19: 46.0 g at 100:30 ± 2 % on 0.1 g: tolerance 13.524 to 14.076 g, accepted 13.7 to 13.9 g.
    found = _limits(46.0)
    assert (found.tolerance_low_g, found.tolerance_high_g) == (pytest.approx(13.524), pytest.approx(14.076))
    assert (found.accepted_low_g, found.accepted_high_g) == (13.7, 13.9)


def test_a_scale_with_no_room_accepts_nothing() -> None:
    found = _limits(46.0, interval_g=1)
    assert (found.accepted_low_g, found.accepted_high_g) == (None, None)
    assert found.tolerance_low_g == pytest.approx(13.524)


def test_a_single_accepted_step_is_both_limits() -> None:
    # Hand calculation: at 48.0 g the target is 14.4; on a 0.2 g scale 14.4 deviates by nothing and U is 1.19 %, while
    # 14.2 and 14.6 deviate by 1.39 %.
    found = _limits(48.0, interval_g=0.2)
    assert (found.accepted_low_g, found.accepted_high_g) == (14.4, 14.4)


def test_a_target_between_two_steps_may_accept_one_side_alone() -> None:
    # Hand calculation: 100 g at 100:30.4 ± 2 % on 1 g: 30 deviates by -1.3 %, 31 by +2.0 %, both with U of 2.8 %: none.
    # On 0.5 g: 30.5 deviates by +0.33 % and U is 1.4 %; 30.0 by -1.3 %, 31.0 by +2.0 %.
    assert _limits(100, ratio=0.304, interval_g=1).accepted_low_g is None
    found = _limits(100, ratio=0.304, interval_g=0.5)
    assert (found.accepted_low_g, found.accepted_high_g) == (30.5, 30.5)


@quick
@given(
    resin_tenths=st.integers(100, 20_000), ratio=st.floats(0.05, 1.5), tolerance=st.floats(0.5, 15),
    interval_g=st.sampled_from([0.01, 0.1, 0.2, 0.5, 1.0]), zeroed=st.booleans(),
)  # fmt: skip
def test_the_accepted_steps_are_those_that_the_verdict_calls_within(
    resin_tenths: int, ratio: float, tolerance: float, interval_g: float, zeroed: bool
) -> None:
    resin_g = resin_tenths / 10
    found = _limits(resin_g, ratio=ratio, tolerance_pct=tolerance, interval_g=interval_g, zeroed=zeroed)

    def verdict(hardener_g: float) -> str:
        u = scales.ratio_uncertainty_pct(
            resin_g=resin_g,
            hardener_g=hardener_g,
            resin_reading_u_g=_u(interval_g),
            hardener_reading_u_g=_u(interval_g),
            zeroed=zeroed,
        )
        return scales.verdict(
            deviation_pct=deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=ratio),
            uncertainty_pct=u,
            tolerance_pct=tolerance,
        )

    step = Decimal(str(interval_g))
    around = range(int(found.tolerance_low_g / interval_g) - 1, int(found.tolerance_high_g / interval_g) + 3)
    inside = [float(n * step) for n in around if n > 0 and verdict(float(n * step)) == "within"]
    expected = (inside[0], inside[-1]) if inside else (None, None)
    assert (found.accepted_low_g, found.accepted_high_g) == expected
    if inside:
        assert found.tolerance_low_g <= inside[0] <= inside[-1] <= found.tolerance_high_g


def test_another_scale_for_the_resin_and_several_cans_count() -> None:
    # Hand calculation: the resin on a 1 g scale makes U at 13.7 g 200*sqrt(2*0.288675²/46² + 2*0.0288675²/13.7²) =
    # 1.87 %, and 13.7 g deviates by 0.72 %; 45 pours of resin on 0.1 g make it 1.33 %. Both leave 13.8 g alone.
    for limits in (_limits(46.0, resin_reading_u_g=_u(1)), _limits(46.0, resin_readings=45)):
        assert (limits.accepted_low_g, limits.accepted_high_g) == (13.8, 13.8)


def test_a_fine_scale_under_a_large_pot_is_searched_in_no_time() -> None:
    found = _limits(900_000, interval_g=1e-6)
    assert found.accepted_low_g == pytest.approx(found.tolerance_low_g, rel=1e-6)
    assert found.accepted_high_g == pytest.approx(found.tolerance_high_g, rel=1e-6)


def test_a_target_below_a_milligram_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^resin_g times ratio is 0\.0003"):
        _limits(0.3, ratio=0.001)


@pytest.mark.parametrize(
    ("argument", "bad"),
    [("resin_g", 0), ("ratio", math.nan), ("tolerance_pct", 100), ("interval_g", 0), ("repeatability_g", -1)],
)
def test_bad_arguments_of_the_limits_are_refused_by_name(argument: str, bad: float) -> None:
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        _limits(**{"resin_g": 46.0, argument: bad})


def _scale(name: str, interval_g: float, maximum_g: float) -> scales.ScaleFacts:
    return scales.ScaleFacts(name=name, interval_g=interval_g, repeatability_g=0, maximum_g=maximum_g)


def test_each_scale_says_what_it_can_do_and_why() -> None:
    shop = [_scale("bench", 1, 6000), _scale("fine", 0.1, 600), _scale("pocket", 0.01, 100), _scale("floor", 50, 300)]
    bench, fine, pocket, floor = scales.capable_scales(total_g=130, ratio=0.30, tolerance_pct=2, scales=shop)
    assert [ability.honest for ability in (bench, fine, pocket, floor)] == [False, True, False, False]
    assert bench.reason == "Too coarse for this pot: take a finer scale, or a pot of at least 555 g."
    assert fine.reason == "Knows the ratio of this pot to ± 0.28 %."
    assert pocket.reason == "Takes 100 g at most."
    assert floor.reason == "Too coarse for this ratio at any pot that it takes: take a finer scale."
    assert fine.smallest_pot_g == pytest.approx(55.4, abs=0.1)


def test_the_advice_of_a_coarse_scale_is_honest() -> None:
    bench = _scale("bench", 1, 6000)
    advised = scales.capable_scales(total_g=555, ratio=0.30, tolerance_pct=2, scales=[bench])
    assert advised[0].honest
    assert not scales.capable_scales(total_g=554, ratio=0.30, tolerance_pct=2, scales=[bench])[0].honest


def test_a_running_total_asks_for_a_larger_pot() -> None:
    facts: dict[str, Any] = {"total_g": 58, "ratio": 0.30, "tolerance_pct": 2, "scales": [_scale("fine", 0.1, 600)]}
    assert scales.capable_scales(**facts, zeroed=True)[0].honest
    assert not scales.capable_scales(**facts, zeroed=False)[0].honest


def test_a_shop_without_scales_has_none() -> None:
    assert scales.capable_scales(total_g=130, ratio=0.30, tolerance_pct=2, scales=[]) == ()


def test_a_scale_without_a_maximum_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^maximum_g is 0"):
        scales.capable_scales(total_g=130, ratio=0.30, tolerance_pct=2, scales=[_scale("fine", 0.1, 0)])
