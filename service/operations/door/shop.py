"""The shop's own calendar, and how times are said."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from service.records.people import Site


def day_in_shop(at: datetime, site: Site) -> date:
    """The calendar day in the shop's zone: an expiry day counts as good until its midnight there."""
    return at.astimezone(ZoneInfo(site.zone)).date()


def begin_of_day(day: date, site: Site) -> datetime:
    """The midnight with which a day begins in the shop's zone."""
    return datetime.combine(day, time(), ZoneInfo(site.zone))


def the_site() -> Site:
    """One shop, one database."""
    return Site.select().order_by(Site.id).get()


def time_in_shop(when: datetime, *, now: datetime, zone: str) -> str:
    """A time as the shop's clock shows it, with its day where that is not today's, and its year where it is another.

    >>> from datetime import UTC
    >>> now = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
    >>> time_in_shop(datetime(2026, 11, 25, 21, 18, tzinfo=UTC), now=now, zone="Europe/Paris")
    '22:18'
    >>> time_in_shop(datetime(2026, 11, 25, 23, 18, tzinfo=UTC), now=now, zone="Europe/Paris")
    '26 Nov 00:18'
    """
    there, today = when.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone)).date()
    if there.date() == today:
        return f"{there:%H:%M}"
    year = "" if there.year == today.year else f" {there.year}"
    return f"{there:%-d %b}{year} {there:%H:%M}"


def span(minutes: float) -> str:
    """A length of time in its two largest units.

    >>> span(310), span(48), span(3000), span(7195), span(59.6), span(5 * 1440 - 0.4)
    ('5 h 10 min', '48 min', '2 d 2 h', '5 d', '1 h', '5 d')
    """
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    if whole < 48 * 60:
        hours, rest = divmod(whole, 60)
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    # Rounded to hours before days are taken out, or 23.9 h would be a "24 h" beside the days.
    days, hours = divmod(round(whole / 60), 24)
    return f"{days} d {hours} h" if hours else f"{days} d"
