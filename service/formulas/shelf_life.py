"""Dates of stock: the end of a printed month, the date that counts, the instant at which it ends.

An expiry is a date. The day itself counts as good, to midnight in the shop's zone. No function here asks the clock.

- :func:`month_end`, :func:`expiry_from_made_on`: dates from what a label prints.
- :func:`effective_expiry`, :func:`decant_expiry`: the date that counts for a container.
- :func:`days_left`, :func:`last_instant`, :func:`is_good`: how long it still holds.
"""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from service.formulas.ranges import OutOfRange, series, whole_number

__all__ = [
    "Expiry",
    "days_left",
    "decant_expiry",
    "effective_expiry",
    "expiry_from_made_on",
    "is_good",
    "last_instant",
    "month_end",
]

FIRST_YEAR = 1950
LAST_YEAR = 2200


@dataclass(frozen=True, slots=True)
class Expiry:
    """The date that counts for a container.

    Attributes
    ----------
    on : date or None
        Last good day; None where nothing limits it [date].
    because : {'supplier', 'retest', 'opened', 'none'}
        What sets it [text].
    """

    on: date | None
    because: Literal["supplier", "retest", "opened", "none"]


def _date(argument: str, value: date) -> date:
    allowed = f"a date from {FIRST_YEAR} to {LAST_YEAR}"
    if isinstance(value, datetime) or not isinstance(value, date):
        raise OutOfRange(argument, repr(value)[:40], allowed)
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise OutOfRange(argument, value.isoformat(), allowed)
    return value


def _optional_date(argument: str, value: date | None) -> date | None:
    return None if value is None else _date(argument, value)


def month_end(*, year: int, month: int) -> date:
    """Last day of a month, for labels that print no day.

    Formula: the calendar's, leap years respected.

    Parameters
    ----------
    year : int
        Year, four digits [-].
    month : int
        Month, 1 to 12 [-].

    Returns
    -------
    date
        Last day of the month [date].

    Raises
    ------
    OutOfRange
        If the year or the month is outside its range.

    Valid range
    -----------
    Years 1950 to 2200.

    Examples
    --------
    >>> month_end(year=2013, month=2)
    datetime.date(2013, 2, 28)

    Source
    ------
    GS1 General Specifications, application identifier 17: day 00 is the last of the month; 130200 is 2013-02-28.
    """
    y = whole_number("year", year, FIRST_YEAR, LAST_YEAR)
    m = whole_number("month", month, 1, 12)
    return date(y, m, calendar.monthrange(y, m)[1])


def expiry_from_made_on(
    *, made_on: date, shelf_life_days: int | None = None, shelf_life_months: int | None = None
) -> date:
    """Expiry of a lot that states when it was made and how long it keeps.

    Formula: made on plus the days; or the same day of a later month, the month's last where it has no such day.

    Parameters
    ----------
    made_on : date
        Day of manufacture [date].
    shelf_life_days : int, optional
        Shelf life in days; this or the months [days].
    shelf_life_months : int, optional
        Shelf life in calendar months; this or the days [months].

    Returns
    -------
    date
        Last good day [date].

    Raises
    ------
    OutOfRange
        If the date or the life is outside its range, or not exactly one life is given.

    Valid range
    -----------
    Dates of 1950 to 2200, the result too; 1 to 36 500 days or 1 to 1200 months.

    Examples
    --------
    >>> expiry_from_made_on(made_on=date(2026, 8, 31), shelf_life_months=18)
    datetime.date(2028, 2, 29)

    Source
    ------
    Common practice, no source; the data sheet says how its supplier counts.
    """
    made = _date("made_on", made_on)
    if shelf_life_months is None:
        if shelf_life_days is None:
            raise OutOfRange("shelf_life_days", "not given", "given where shelf_life_months is not")
        days = whole_number("shelf_life_days", shelf_life_days, 1, 36500)
        return _date("made_on plus shelf_life_days", made + timedelta(days=days))
    if shelf_life_days is not None:
        raise OutOfRange("shelf_life_days", "given too", "left out where shelf_life_months is given")
    months = whole_number("shelf_life_months", shelf_life_months, 1, 1200)
    year, month = divmod(made.year * 12 + made.month - 1 + months, 12)
    last_day = calendar.monthrange(year, month + 1)[1]
    return _date("made_on plus shelf_life_months", date(year, month + 1, min(made.day, last_day)))


def effective_expiry(
    *, expires_on: date | None, retest_on: date | None, opened_on: date | None, opened_life_days: int | None
) -> Expiry:
    """The date that counts for a container, and what sets it.

    Formula: the earlier of ``retest date, or else the lot's date`` and ``opened on + opened life``. A retest date
    replaces the lot's, later or earlier. Where both are the same day, the lot's or the retest's is named.

    Parameters
    ----------
    expires_on : date or None
        Date of the lot [date].
    retest_on : date or None
        Date up to which a passed retest prolongs the lot [date].
    opened_on : date or None
        Day of opening [date].
    opened_life_days : int or None
        How long the material keeps once opened; None where its data sheet gives none [days].

    Returns
    -------
    Expiry
        Last good day [date] and the reason.

    Raises
    ------
    OutOfRange
        If a date or the opened life is outside its range.

    Valid range
    -----------
    Dates of 1950 to 2200, the result too; opened life 0 to 36 500 days, 0 for the day of opening alone.

    Examples
    --------
    >>> effective_expiry(
    ...     expires_on=date(2027, 3, 31), retest_on=None, opened_on=date(2026, 6, 1), opened_life_days=90
    ... )
    Expiry(on=datetime.date(2026, 8, 30), because='opened')

    Source
    ------
    Shop rule 9.
    """
    supplier = _optional_date("expires_on", expires_on)
    retest = _optional_date("retest_on", retest_on)
    opened = _optional_date("opened_on", opened_on)
    life = None if opened_life_days is None else whole_number("opened_life_days", opened_life_days, 0, 36500)
    expiry = Expiry(on=None, because="none")
    if retest is not None:
        expiry = Expiry(on=retest, because="retest")
    elif supplier is not None:
        expiry = Expiry(on=supplier, because="supplier")
    if opened is not None and life is not None:
        opened_until = _date("opened_on plus opened_life_days", opened + timedelta(days=life))
        if expiry.on is None or opened_until < expiry.on:
            expiry = Expiry(on=opened_until, because="opened")
    return expiry


def decant_expiry(*, own: date | None, parents: Sequence[date | None]) -> date | None:
    """Date of a decanted container.

    Formula: the earliest of its own and its parents' dates; one that has no date does not limit.

    Parameters
    ----------
    own : date or None
        Date of the container itself [date].
    parents : sequence of date or None
        Dates of the containers that it was filled from [list of date].

    Returns
    -------
    date or None
        Last good day; None where nothing limits it [date].

    Raises
    ------
    OutOfRange
        If a date is outside its range, or there are more than 1000 parents.

    Valid range
    -----------
    Dates of 1950 to 2200; 0 to 1000 parents.

    Examples
    --------
    >>> decant_expiry(own=None, parents=[date(2027, 3, 31), date(2026, 11, 30), None])
    datetime.date(2026, 11, 30)

    Source
    ------
    Shop rule 10.
    """
    dates = [_optional_date("own", own)]
    members = series("parents", parents, least=0, most=1000)
    dates += [_optional_date(f"parents[{i}]", value) for i, value in enumerate(members)]
    return min((value for value in dates if value is not None), default=None)


def days_left(*, on: date, today: date) -> int:
    """Days until the last good day.

    Formula: ``on - today``.

    Parameters
    ----------
    on : date
        Last good day [date].
    today : date
        Day in the shop's zone [date].

    Returns
    -------
    int
        0 on the last good day, below 0 after it [days].

    Raises
    ------
    OutOfRange
        If a date is outside its range.

    Valid range
    -----------
    Dates of 1950 to 2200.

    Examples
    --------
    >>> days_left(on=date(2026, 3, 1), today=date(2026, 2, 27))
    2

    Source
    ------
    Shop rule 9: the expiry day counts as good.
    """
    return (_date("on", on) - _date("today", today)).days


def last_instant(*, on: date, zone: str) -> datetime:
    """The instant at which the last good day ends.

    Formula: midnight after the day, by the zone's rules. Where a change of the clocks leaves out that midnight, the day
    ends at the change; where the change repeats the day's last hour, the day includes both; where it repeats the next
    day's first hour, so that midnight comes twice, the day ends at the first.

    Parameters
    ----------
    on : date
        Last good day [date].
    zone : str
        Name of the shop's time zone in the IANA database [text].

    Returns
    -------
    datetime
        First instant that is no longer good, in UTC.

    Raises
    ------
    OutOfRange
        If the date is outside its range or the zone unknown.

    Valid range
    -----------
    Dates of 1950 to 2200. Changes of the clocks that nobody has decided yet are not in the database.

    Examples
    --------
    >>> last_instant(on=date(2026, 7, 31), zone="Europe/London").isoformat()
    '2026-07-31T23:00:00+00:00'

    Source
    ------
    Shop rule 9; IANA time zone database.
    """
    day = _date("on", on)
    try:
        place = ZoneInfo(zone)
    except (KeyError, ValueError, OSError, TypeError, AttributeError):
        raise OutOfRange("zone", repr(zone)[:40], "the name of a time zone, such as Europe/London") from None
    return datetime.combine(day + timedelta(days=1), time.min, tzinfo=place).astimezone(UTC)


def is_good(*, expires_on: date | None, at: datetime, zone: str) -> bool:
    """Whether a date has not passed at an instant.

    Formula: ``at < last_instant``.

    Parameters
    ----------
    expires_on : date or None
        Last good day; None where nothing limits it [date].
    at : datetime
        The instant, with its offset [date and time].
    zone : str
        Name of the shop's time zone in the IANA database [text].

    Returns
    -------
    bool
        True up to midnight at the end of the last good day.

    Raises
    ------
    OutOfRange
        If the date is outside its range, the instant has no offset, or the zone is unknown.

    Valid range
    -----------
    Dates of 1950 to 2200.

    Examples
    --------
    >>> is_good(expires_on=date(2026, 7, 31), at=datetime(2026, 7, 31, 22, 59, tzinfo=UTC), zone="Europe/London")
    True

    Source
    ------
    Shop rule 9.
    """
    if not isinstance(at, datetime) or at.utcoffset() is None:
        raise OutOfRange("at", repr(at)[:40], "a date and time with its offset from UTC")
    return expires_on is None or at < last_instant(on=expires_on, zone=zone)
