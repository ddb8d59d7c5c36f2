"""A pot moved into a tray."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.ranges import OutOfRange
from service.formulas.tray import tray_deadline_min

minutes = st.floats(1, 1e4)


def test_moved_at_once_it_has_the_tray_s_life_moved_late_the_cup_s() -> None:
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=0) == 60
    # Half of the cup's life gone leaves half of the tray's: 15 + 30.
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=15) == 45
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=30) == 30


@settings(deadline=None, max_examples=50)
@given(cup=minutes, longer=st.floats(1, 5), share=st.floats(0, 1.5))
def test_it_lies_between_the_cup_s_and_the_tray_s_life(cup: float, longer: float, share: float) -> None:
    found = tray_deadline_min(cup_life_min=cup, tray_life_min=cup * longer, moved_after_min=cup * share)
    assert cup - 1e-6 <= found <= cup * longer + 1e-6


def test_a_tray_without_a_life_is_refused() -> None:
    with pytest.raises(OutOfRange, match="tray_life_min"):
        tray_deadline_min(cup_life_min=30, tray_life_min=0, moved_after_min=3)
