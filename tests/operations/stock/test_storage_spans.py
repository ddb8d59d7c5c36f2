"""What was outside its range, added up: spans with peak and hours, and what a material bears (shop rule 14)."""

from datetime import UTC, datetime, timedelta

import pytest

from service.operations.stock.storage import Range, Span, Stored, borne_and_beyond, merged, span_sentence, told
from service.records.base import microseconds

NOON = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
KEEPS = Range(15, 25)
BEARS = Range(15, 25, ((35, 72), (45, 4), (5, 24)))


def span(begin_h: float, end_h: float, peak_c: float, place: str = "Shelf") -> Span:
    return Span(place, NOON + timedelta(hours=begin_h), NOON + timedelta(hours=end_h), peak_c)


def test_readings_that_follow_each_other_are_one_span_with_the_peak_of_all():
    assert merged([span(2, 3, 27), span(0, 1, 26), span(1, 2, 31)], KEEPS) == (span(0, 3, 31),)
    assert merged([span(0, 1, 14), span(1, 2, 9)], KEEPS) == (span(0, 2, 9),)


@pytest.mark.parametrize(
    "apart",
    [
        [span(0, 1, 26), span(1.5, 2, 26)],
        [span(0, 1, 26), span(1, 2, 14)],
        [span(0, 1, 26), span(1, 2, 26, "Bench")],
    ],
)
def test_a_pause_another_side_and_another_place_are_spans_of_their_own(apart):
    assert merged(apart, KEEPS) == tuple(apart)


def test_a_span_within_a_longer_one_does_not_shorten_it():
    assert merged([span(0, 5, 28), span(1, 2, 26)], KEEPS) == (span(0, 5, 28),)


def test_nothing_is_borne_of_which_nothing_is_stated():
    assert borne_and_beyond([span(0, 1, 26)], KEEPS) == ((), (span(0, 1, 26),))


def test_hours_are_added_up_until_they_are_used_up_and_each_side_by_itself():
    first, second, third, cold = span(0, 36, 30), span(40, 76, 35), span(80, 81, 26), span(90, 114, 5)
    borne, beyond = borne_and_beyond([first, second, third, cold], BEARS)
    assert borne == (first, second, cold)
    assert beyond == (third,)


def test_a_hotter_span_uses_its_hours_up_faster():
    # By hand: 2 h of 4 at up to 45 °C is half, 36 h of 72 at up to 35 °C the other half.
    assert borne_and_beyond([span(0, 2, 40), span(3, 39, 33)], BEARS)[1] == ()
    assert borne_and_beyond([span(0, 2, 40), span(3, 40, 33)], BEARS)[1] == (span(3, 40, 33),)


@pytest.mark.parametrize("peak_c", [45.1, 4.9])
def test_what_is_hotter_or_colder_than_all_that_is_stated_is_beyond(peak_c):
    assert borne_and_beyond([span(0, 0.1, peak_c)], BEARS)[1] == (span(0, 0.1, peak_c),)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (span(-2, 10, 31), "It stood at up to 31 °C in Shelf from 11:00 to 23:00, 12 h; it keeps at 15 to 25 °C."),
        (span(0, 1.5, 9.5), "It stood at down to 9.5 °C in Shelf from 13:00 to 14:30, 1.5 h; it keeps at 15 to 25 °C."),
        (span(0, 0.5, 26), "It stood at up to 26 °C in Shelf from 13:00 to 13:30, 30 min; it keeps at 15 to 25 °C."),
        (span(0, 0, 26), "It stood at up to 26 °C in Shelf at 13:00; it keeps at 15 to 25 °C."),
    ],
)
def test_a_span_is_told_in_the_shops_time(one, said):
    assert span_sentence(one, KEEPS, now=NOON, zone="Europe/Copenhagen") == said


def _us(hours: float) -> int:
    return microseconds(NOON + timedelta(hours=hours))


@pytest.mark.parametrize(
    ("last_h", "every_days", "monitored"),
    [(-1, None, True), (-168, None, True), (-168.01, None, False), (-48, 2, True), (-48.01, 2, False)],
)
def test_a_place_is_monitored_until_its_last_reading_is_older_than_its_interval(last_h, every_days, monitored):
    row = (1, _us(last_h), every_days, "Shelf", _us(-500), None, None, None, None, None)
    assert told([row], {1: KEEPS}, at=NOON) == {1: Stored(monitored)}


def test_a_reading_speaks_for_what_stood_there_since_the_one_before():
    rows = [
        # Came at -10 h, read at -4 h: colder than it may be since it came, warmer up to when it was read.
        (1, _us(-4), None, "Shelf", _us(-10), None, _us(-4), _us(-12), 14, 26),
        # Read after it had left.
        (2, None, None, "Shelf", _us(-10), _us(-6), _us(-4), _us(-12), 20, 26),
        # The first reading of the place speaks for a day that it is asked for, and no longer.
        (3, _us(-4), 1, "Shelf", _us(-100), None, _us(-4), None, 20, 26),
        (4, None, None, "Shelf", _us(-10), None, None, None, None, None),
        (5, _us(-4), None, "Shelf", _us(-10), None, _us(-4), _us(-12), 14, 26),
    ]
    answer = told(rows, {1: KEEPS, 2: KEEPS, 3: KEEPS, 4: KEEPS, 5: None, 6: KEEPS}, at=NOON)
    assert answer[1] == Stored(True, (), (span(-10, -4, 26), span(-10, -4, 14)))
    assert answer[2] == Stored(False, (), (span(-10, -6, 26),))
    assert answer[3] == Stored(True, (), (span(-28, -4, 26),))
    assert answer[4] == answer[5] == answer[6] == Stored(False)
