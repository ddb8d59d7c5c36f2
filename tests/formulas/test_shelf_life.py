"""Which date counts, and when it ends."""

import math
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import shelf_life
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
dates = st.dates(date(2000, 1, 1), date(2090, 12, 31))
optional_dates = st.none() | dates


@pytest.mark.parametrize(
    ("year", "month", "expected"),
    [
        # GS1 General Specifications, application identifier 17: the printed example 130200.
        (2013, 2, date(2013, 2, 28)),
        # Leap years, by the calendar: 2024 and 2000 have a 29 February, 2100 has not.
        (2024, 2, date(2024, 2, 29)),
        (2000, 2, date(2000, 2, 29)),
        (2100, 2, date(2100, 2, 28)),
        (2026, 4, date(2026, 4, 30)),
        (2026, 12, date(2026, 12, 31)),
    ],
)
def test_a_month_ends_on_its_last_day(year: int, month: int, expected: date) -> None:
    assert shelf_life.month_end(year=year, month=month) == expected


@pytest.mark.parametrize("bad", [0, 13, -1, 2.0, True, "2", None, pytest.param(10**5000, id="5001 digits")])
def test_what_is_no_month_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^month is .*from 1 to 12"):
        shelf_life.month_end(year=2026, month=bad)


@pytest.mark.parametrize(
    ("made_on", "months", "expected"),
    # By the calendar.
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2026, 8, 31), 18, date(2028, 2, 29)),
        (date(2026, 12, 15), 12, date(2027, 12, 15)),
        (date(2026, 11, 30), 1, date(2026, 12, 30)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
    ],
)
def test_months_of_shelf_life_are_calendar_months(made_on: date, months: int, expected: date) -> None:
    assert shelf_life.expiry_from_made_on(made_on=made_on, shelf_life_months=months) == expected


def test_days_of_shelf_life_are_days() -> None:
    assert shelf_life.expiry_from_made_on(made_on=date(2026, 1, 1), shelf_life_days=365) == date(2027, 1, 1)


@pytest.mark.parametrize("lives", [{}, {"shelf_life_days": 365, "shelf_life_months": 12}])
def test_one_shelf_life_is_given_and_only_one(lives: dict[str, int]) -> None:
    with pytest.raises(OutOfRange, match=r"^shelf_life_days is (not given|given too)"):
        shelf_life.expiry_from_made_on(made_on=date(2026, 1, 1), **lives)


@pytest.mark.parametrize("bad", [0, -1, 36501, 1.5, True, "30", math.nan])
def test_what_is_no_shelf_life_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^shelf_life_days is "):
        shelf_life.expiry_from_made_on(made_on=date(2026, 1, 1), shelf_life_days=bad)
    with pytest.raises(OutOfRange, match=r"^shelf_life_months is "):
        shelf_life.expiry_from_made_on(made_on=date(2026, 1, 1), shelf_life_months=bad)


def test_a_life_past_the_calendar_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^made_on plus shelf_life_months is 2201"):
        shelf_life.expiry_from_made_on(made_on=date(2200, 6, 1), shelf_life_months=12)


LOT, EARLY, LATE, OPENED = date(2027, 3, 31), date(2027, 1, 31), date(2027, 9, 30), date(2026, 6, 1)


@pytest.mark.parametrize(
    ("expires_on", "retest_on", "opened_on", "life", "expected", "because"),
    # Shop rule 9: min(lot's date or retest date, opened + opened life).
    [
        (LOT, None, None, None, LOT, "supplier"),
        (LOT, LATE, None, None, LATE, "retest"),
        (LOT, EARLY, None, None, EARLY, "retest"),
        (LOT, None, OPENED, 90, date(2026, 8, 30), "opened"),
        (LOT, LATE, OPENED, 90, date(2026, 8, 30), "opened"),
        (LOT, LATE, OPENED, 400, date(2027, 7, 6), "opened"),
        (LOT, None, OPENED, 1000, LOT, "supplier"),
        (LOT, None, OPENED, None, LOT, "supplier"),
        (LOT, None, None, 90, LOT, "supplier"),
        (LOT, None, LOT, 0, LOT, "supplier"),
        (None, None, OPENED, 0, OPENED, "opened"),
        (None, LATE, None, None, LATE, "retest"),
        (None, None, OPENED, None, None, "none"),
        (None, None, None, None, None, "none"),
    ],
)
def test_the_date_that_counts_and_why(
    expires_on: date | None,
    retest_on: date | None,
    opened_on: date | None,
    life: int | None,
    expected: date | None,
    because: str,
) -> None:
    found = shelf_life.effective_expiry(
        expires_on=expires_on, retest_on=retest_on, opened_on=opened_on, opened_life_days=life
    )
    assert (found.on, found.because) == (expected, because)


@quick
@given(expires_on=optional_dates, retest_on=optional_dates, opened_on=dates, life=st.integers(0, 1000))
def test_opening_never_prolongs(expires_on: date | None, retest_on: date | None, opened_on: date, life: int) -> None:
    closed = shelf_life.effective_expiry(
        expires_on=expires_on, retest_on=retest_on, opened_on=None, opened_life_days=life
    )
    opened = shelf_life.effective_expiry(
        expires_on=expires_on, retest_on=retest_on, opened_on=opened_on, opened_life_days=life
    )
    assert opened.on is not None
    assert opened.on <= opened_on + timedelta(days=life)
    if closed.on is not None:
        assert opened.on <= closed.on


@quick
@given(own=optional_dates, parents=st.lists(optional_dates, max_size=5))
def test_a_decant_ends_with_the_first_of_its_line(own: date | None, parents: list[date | None]) -> None:
    # Shop rule 10.
    found = shelf_life.decant_expiry(own=own, parents=parents)
    known = [value for value in [own, *parents] if value is not None]
    assert found == (sorted(known)[0] if known else None)


@pytest.mark.parametrize(("today", "expected"), [(27, 2), (28, 1)])
def test_days_left_count_down(today: int, expected: int) -> None:
    assert shelf_life.days_left(on=date(2026, 3, 1), today=date(2026, 2, today)) == expected


def test_the_last_good_day_has_no_days_left_and_the_next_is_one_over() -> None:
    assert shelf_life.days_left(on=date(2026, 3, 1), today=date(2026, 3, 1)) == 0
    assert shelf_life.days_left(on=date(2026, 3, 1), today=date(2026, 3, 2)) == -1


@pytest.mark.parametrize(
    ("on", "zone", "expected"),
    # Offsets and changes of the clocks from the IANA time zone database.
    [
        (date(2026, 1, 31), "Europe/London", "2026-02-01T00:00:00+00:00"),
        (date(2026, 7, 31), "Europe/London", "2026-07-31T23:00:00+00:00"),
        # 29 March 2026 has 23 hours in London, 25 October 2026 has 25.
        (date(2026, 3, 28), "Europe/London", "2026-03-29T00:00:00+00:00"),
        (date(2026, 3, 29), "Europe/London", "2026-03-29T23:00:00+00:00"),
        (date(2026, 10, 24), "Europe/London", "2026-10-24T23:00:00+00:00"),
        (date(2026, 10, 25), "Europe/London", "2026-10-26T00:00:00+00:00"),
        # São Paulo, 4 November 2018: no midnight, clocks went from 00:00 to 01:00.
        (date(2018, 11, 3), "America/Sao_Paulo", "2018-11-04T03:00:00+00:00"),
        # São Paulo, 17 February 2018: clocks went from 24:00 back to 23:00, and the day was 25 hours long.
        (date(2018, 2, 17), "America/Sao_Paulo", "2018-02-18T03:00:00+00:00"),
        (date(2026, 6, 30), "Pacific/Auckland", "2026-06-30T12:00:00+00:00"),
        # At midnight back to 23:00, so that the last hour of the 24th comes twice: 25 hours of that day, to 22:00 UTC.
        (date(2026, 10, 24), "Asia/Beirut", "2026-10-24T22:00:00+00:00"),
        # At 1:00 back to midnight: the first hour of the 1st comes twice, and the 31st ends at the first midnight.
        (date(2026, 10, 31), "America/Havana", "2026-11-01T04:00:00+00:00"),
        (date(2026, 6, 30), "UTC", "2026-07-01T00:00:00+00:00"),
    ],
)
def test_a_day_ends_at_midnight_of_its_zone(on: date, zone: str, expected: str) -> None:
    assert shelf_life.last_instant(on=on, zone=zone).isoformat() == expected


def test_the_last_good_day_is_good_to_its_last_second() -> None:
    # Shop rule 9. London summer: midnight is 23:00 UTC.
    last = datetime(2026, 7, 31, 22, 59, 59, 999999, tzinfo=UTC)
    assert shelf_life.is_good(expires_on=date(2026, 7, 31), at=last, zone="Europe/London")
    first_bad = last + timedelta(microseconds=1)
    assert not shelf_life.is_good(expires_on=date(2026, 7, 31), at=first_bad, zone="Europe/London")


def test_the_offset_of_the_instant_does_not_matter() -> None:
    tokyo = timezone(timedelta(hours=9))
    at = datetime(2026, 8, 1, 7, 59, tzinfo=tokyo)
    assert shelf_life.is_good(expires_on=date(2026, 7, 31), at=at, zone="Europe/London")
    assert not shelf_life.is_good(expires_on=date(2026, 7, 31), at=at, zone="Asia/Tokyo")


def test_stock_without_a_date_does_not_expire() -> None:
    assert shelf_life.is_good(expires_on=None, at=datetime(2100, 1, 1, tzinfo=UTC), zone="Europe/London")


@quick
@given(on=dates, zone=st.sampled_from(["Europe/London", "America/Sao_Paulo", "Asia/Kathmandu", "America/Havana"]))
def test_each_day_begins_where_the_last_one_ended(on: date, zone: str) -> None:
    end = shelf_life.last_instant(on=on, zone=zone)
    length = shelf_life.last_instant(on=on + timedelta(days=1), zone=zone) - end
    assert timedelta(hours=23) <= length <= timedelta(hours=25)
    assert shelf_life.is_good(expires_on=on, at=end - timedelta(microseconds=1), zone=zone)
    assert not shelf_life.is_good(expires_on=on, at=end, zone=zone)


@pytest.mark.parametrize("zone", ["", "Mars/Base", "../etc/passwd", "Europe", None, 3, "Europe/London\0"])
def test_an_unknown_zone_is_refused(zone: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^zone is .*Europe/London"):
        shelf_life.last_instant(on=date(2026, 7, 31), zone=zone)


@pytest.mark.parametrize("at", [datetime(2026, 7, 31, 12), date(2026, 7, 31), "2026-07-31", None])  # noqa: DTZ001
def test_an_instant_without_its_offset_is_refused(at: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^at is "):
        shelf_life.is_good(expires_on=date(2026, 7, 31), at=at, zone="Europe/London")


@pytest.mark.parametrize(
    "bad", [date(1949, 12, 31), date(2201, 1, 1), datetime(2026, 7, 31, tzinfo=UTC), "2026-07-31", None, 20260731]
)
def test_what_is_no_date_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^on is .*a date from 1950 to 2200"):
        shelf_life.last_instant(on=bad, zone="Europe/London")
    with pytest.raises(OutOfRange, match=r"^today is "):
        shelf_life.days_left(on=date(2026, 7, 31), today=bad)
