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
