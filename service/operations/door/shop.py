"""The shop's own calendar."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.records.people import Site


def day_in_shop(at: datetime, site: Site) -> date:
    """The calendar day in the shop's zone: an expiry day counts as good until its midnight there."""
    return at.astimezone(ZoneInfo(site.zone)).date()


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
