"""Limits of the component that is poured second, where the hardener went in first (shop rules 19 and 22)."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.acceptance import AcceptanceLimits, resin_limits
from service.formulas.ranges import OutOfRange
from service.formulas.ratio import deviation_pct
from service.formulas.weighing import ratio_uncertainty_pct, reading_uncertainty_g, verdict


def _limits(hardener_g: float, **more: Any) -> AcceptanceLimits:
    facts: dict[str, Any] = {
        "ratio": 0.30, "tolerance_pct": 2, "interval_g": 0.1, "repeatability_g": 0, "zeroed": True, **more
    }  # fmt: skip
    return resin_limits(hardener_g=hardener_g, **facts)


def _verdict(resin_g: float, hardener_g: float, ratio: float, tolerance: float, interval_g: float, zeroed: bool) -> str:
    u = reading_uncertainty_g(interval_g=interval_g, repeatability_g=0)
    return verdict(
        deviation_pct=deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=ratio),
        uncertainty_pct=ratio_uncertainty_pct(
            resin_g=resin_g,
            hardener_g=hardener_g,
            resin_reading_u_g=u,
            hardener_reading_u_g=u,
            zeroed=zeroed,
        ),
        tolerance_pct=tolerance,
    )


def test_the_tolerance_is_wider_towards_more_resin() -> None:
    # Hand calculation: 13.8 g want 46 g; 46/1.02 = 45.098 and 46/0.98 = 46.939.
    found = _limits(13.8)
    assert (found.tolerance_low_g, found.tolerance_high_g) == (
        pytest.approx(45.098, abs=5e-4),
        pytest.approx(46.939, abs=5e-4),
    )
    assert (found.accepted_low_g, found.accepted_high_g) == (45.4, 46.6)


def test_a_coarse_scale_accepts_no_resin_either() -> None:
    assert _limits(13.8, interval_g=1).accepted_low_g is None


def test_a_hardener_of_nothing_has_no_limits() -> None:
    with pytest.raises(OutOfRange, match="hardener_g"):
        _limits(0)


@settings(deadline=None, max_examples=60)
@given(
    hardener_tenths=st.integers(50, 5000), ratio=st.floats(0.05, 1.5), tolerance=st.floats(0.5, 15),
    interval_g=st.sampled_from([0.01, 0.1, 0.5]), zeroed=st.booleans(),
)  # fmt: skip
def test_the_accepted_steps_are_those_that_the_verdict_calls_within(
    hardener_tenths: int, ratio: float, tolerance: float, interval_g: float, zeroed: bool
) -> None:
    hardener_g = hardener_tenths / 10
    found = _limits(hardener_g, ratio=ratio, tolerance_pct=tolerance, interval_g=interval_g, zeroed=zeroed)
    if found.accepted_low_g is None or found.accepted_high_g is None:
        return
    steps = round(found.accepted_low_g / interval_g), round(found.accepted_high_g / interval_g)
    for step, expected in ((steps[0], True), (steps[1], True), (steps[0] - 1, False), (steps[1] + 1, False)):
        within = _verdict(step * interval_g, hardener_g, ratio, tolerance, interval_g, zeroed) == "within"
        assert within is expected, step * interval_g
