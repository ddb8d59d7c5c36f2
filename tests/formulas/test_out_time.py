"""Life out of the cold: by the next warmer row, added up as shares, silent beyond the table."""

import math

import pytest

from service.formulas.out_time import allowed_hours, hours_left, used_share
from service.formulas.ranges import OutOfRange

SHEET = [(21.0, 480.0), (27.0, 240.0), (32.0, 96.0)]


@pytest.mark.parametrize(
    ("temperature_c", "hours"),
    [(-18, 480), (21, 480), (21.01, 240), (27, 240), (31.9, 96), (32, 96), (32.01, None), (None, 96)],
)
def test_a_temperature_counts_by_the_next_warmer_row(temperature_c: float | None, hours: float | None) -> None:
    assert allowed_hours(SHEET, temperature_c) == hours
    assert allowed_hours(SHEET[::-1], temperature_c) == hours, "in whatever order the sheet gives them"


def test_spans_add_up_as_shares_of_their_rows() -> None:
    """By hand: 120/480 + 60/240 + 24/96 is three quarters, and 120 h are left at 21 °C."""
    used = used_share(SHEET, [(120, 20), (60, 25), (24, 30)])
    assert used == pytest.approx(0.75)
    assert hours_left(SHEET, used, 21) == pytest.approx(120)
    assert used_share(SHEET, [(12, 20)] * 10) == pytest.approx(used_share(SHEET, [(120, 20)]))


def test_beyond_the_table_nothing_is_known_and_over_is_over() -> None:
    assert math.isinf(used_share(SHEET, [(0.1, 40)]))
    assert used_share(SHEET, [(0, 40), (-2, 40)]) == 0, "no time there is none used"
    assert hours_left(SHEET, math.inf, 21) is None
    assert hours_left(SHEET, 0.5, 40) is None
    assert hours_left(SHEET, 1.2, 21) == 0


@pytest.mark.parametrize("row", [(21.0, 0.0), (21.0, -5.0), (21.0, math.nan), (400.0, 5.0)])
def test_a_row_that_can_be_no_row_is_refused(row: tuple[float, float]) -> None:
    with pytest.raises(OutOfRange):
        allowed_hours([row], 20)
