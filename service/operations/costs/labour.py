"""Minutes of work as the traveller tells them, and what they cost.

What has a beginning and an end counts, within the shop's hours: a lay-up from its start to its closing, and of a pot
from its start to its first use what lies outside its part's lay-up, shared by mass among the parts it went into. It
counts as one person's, whoever helped. What has but one time counts for nothing, and each answer says so.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from service.formulas._money import nearest
from service.formulas._mould_days import Hours
from service.formulas._worked_hours import worked_minutes
from service.operations.building.forms import hours_of, local
from service.records.costs import HourlyRate
from service.records.people import Site

NOT_COUNTED = (
    "Work counts from the start of a lay-up to its closing, and the mixing of pots outside of it, within the shop's "
    "hours, as one person's; two parts that were laid up at one time count in full each. Cutting, curing, demoulding, "
    "trimming, bonding and inspecting have one time each and are not counted."
)


@dataclass(frozen=True, slots=True)
class Labour:
    """Minutes of work, and what they cost by the rate of the day on which the lay-up was closed.

    Attributes
    ----------
    lay_up_minutes
        From the start of each lay-up to its closing.
    pot_minutes
        The mixing of pots outside of it, shared by mass.
    minutes
        Lay-up and pots together, as far as they are known.
    minor
        In minor units; null where the shop has set no rate for that day, or there is work that has not ended.
    """

    lay_up_minutes: int
    pot_minutes: int
    minutes: int
    minor: int | None


@dataclass(frozen=True, slots=True)
class LaidUp:
    """When the lay-up of a part began and ended."""

    begun: datetime | None
    closed: datetime | None


@dataclass(frozen=True, slots=True)
class Mixed:
    """A pot from its start to its first use, and of what it gave to parts the share of one of them."""

    begun: datetime
    used: datetime
    share: int
    whole: int


@dataclass(frozen=True, slots=True)
class Clockwork:
    """The shop's hours and its rates, by the day from which each holds."""

    site: Site
    hours: Hours
    rates: tuple[tuple[date, int], ...]

    def minutes(self, begun: datetime, ended: datetime) -> int:
        return worked_minutes(local(begun, self.site), local(ended, self.site), self.hours)

    def rate_on(self, day: date) -> int | None:
        return next((minor for since, minor in self.rates if since <= day), None)


def clockwork(site: Site) -> Clockwork:
    """In one statement. The last rate that was said for a day holds from it on."""
    rows = HourlyRate.select().where(HourlyRate.currency == site.currency)
    rates = tuple((row.since, row.minor) for row in sorted(rows, key=lambda r: (r.since, r.id), reverse=True))
    hours = hours_of(site)
    # A shop without hours works to the end of the day, not to its last minute but one.
    return Clockwork(site, replace(hours, closes=time.max) if site.closes_at is None else hours, rates)


def labour_of(laid: LaidUp, pots: Sequence[Mixed], clock: Clockwork) -> Labour:
    """What the making of one part took; nothing of one that is only planned."""
    lay_up = clock.minutes(laid.begun, laid.closed) if laid.begun is not None and laid.closed is not None else 0
    pot = sum(nearest(_outside(one, laid, clock) * one.share, one.whole) for one in pots)
    rate = clock.rate_on(local(laid.closed, clock.site).date()) if laid.closed is not None else None
    if laid.begun is None:
        return Labour(0, 0, 0, 0)
    return Labour(lay_up, pot, lay_up + pot, None if rate is None else nearest((lay_up + pot) * rate, 60))


def _outside(pot: Mixed, laid: LaidUp, clock: Clockwork) -> int:
    """Minutes of a pot that lie outside its part's lay-up; within it they are counted already."""
    begun, used = pot.begun, max(pot.begun, pot.used)
    if laid.begun is None:
        return clock.minutes(begun, used)
    first, last = max(begun, laid.begun), min(used, laid.closed or used)
    inside = clock.minutes(first, last) if first < last else 0
    return max(0, clock.minutes(begun, used) - inside)


def together(some: Iterable[Labour]) -> Labour:
    """The work on several parts; what it cost is known where it is of each."""
    found = list(some)
    money = [one.minor for one in found]
    return Labour(
        sum(one.lay_up_minutes for one in found),
        sum(one.pot_minutes for one in found),
        sum(one.minutes for one in found),
        None if None in money else sum(minor for minor in money if minor is not None),
    )
