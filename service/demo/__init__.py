"""Heron Yard: an invented workshop of five that lays up bodies for cargo tricycles, built through the operations.

Eighty working days, two parts a day, up to the day on which it is built. One thing is hidden in it that did harm: a
can of hardener that stayed in use long after its 180 days open, under a deviation permit. Parts made from it late
soften, the later the more; six of them failed. Around it stand honest oddities that did no harm.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from service.config import Settings
from service.database import connected, do_not_wait_for_the_disk, open_database
from service.demo.cast import SECOND, SECOND_SECRET, SECRETS
from service.demo.days import Diary, lay_day, morning_after, release_and_ship, weekly
from service.demo.founding import found_yard
from service.demo.story import ODDITIES, OLD_CAN_PARTS, after_the_day, failures, permit, reckon, tell_oddities
from service.opening import make_secrets_key, secrets_key_file
from service.operations.door import founding, signatures

WORKING_DAYS = 80
# On this working day the hardener can has been open longer than it may be.
PAST_LIFE = 45


@dataclass(frozen=True, slots=True)
class DemoSummary:
    """What a newcomer needs: keys, secrets and badges by role, links worth opening (paths), the failed part, counts."""

    keys: dict[str, str]
    secrets: dict[str, str]
    badges: dict[str, str]
    links: dict[str, str]
    failed_part: str
    counts: dict[str, int]


def build(url: str, today: date, progress: Callable[[str], None]) -> DemoSummary:
    """Build the workshop into an empty database at ``url``; its last working day is the one before ``today``."""
    _open(url)
    with connected():
        # Nothing acknowledged can be lost here: a demo that was interrupted is built again.
        do_not_wait_for_the_disk()
        founding.migrate()
        days = working_days(today)
        limit = days[PAST_LIFE] - timedelta(days=1)
        yard, keys = found_yard(days[0], limit)
        diary = Diary()
        for index, day in enumerate(days):
            if index % 10 == 0:
                progress(f"working day {index + 1} of {WORKING_DAYS}")
            if day.weekday() == 0 or index == 0:
                weekly(yard, day)
            if index == PAST_LIFE:
                permit(yard, day)
            yard.reorder(day)
            if index:
                morning_after(yard, diary, index, day, days[index - 1], ODDITIES)
            lay_day(yard, diary, index, day, {**ODDITIES, **{n: {"old_can": True} for n in OLD_CAN_PARTS}})
            tell_oddities(yard, diary, day)
            release_and_ship(yard, diary, day, days)
        failed = failures(yard, diary, days)
        reckon(yard, days)
        links = after_the_day(yard, diary, failed)
        counts = _counts()
    return DemoSummary(
        keys=keys,
        secrets={**SECRETS, SECOND: SECOND_SECRET},
        badges=yard.badges,
        links=links,
        failed_part=failed,
        counts=counts,
    )


def build_polyester(url: str, today: date, progress: Callable[[str], None]) -> DemoSummary:
    """Build the second, small story into an empty database at ``url``: three days of a polyester shop."""
    from service.demo import polyester

    _open(url)
    with connected():
        do_not_wait_for_the_disk()
        founding.migrate()
        progress("three days of a polyester shop")
        keys, badges, links, failed = polyester.tell(working_days(today, polyester.DAYS + 1)[:-1])
        counts = _counts()
    return DemoSummary(keys=keys, secrets=dict(SECRETS), badges=badges, links=links, failed_part=failed, counts=counts)


def _open(url: str) -> None:
    settings = Settings(database=url)
    open_database(url)
    make_secrets_key(settings)
    signatures.look_in(secrets_key_file(settings))


STORIES = {"epoxy": build, "polyester": build_polyester}


def working_days(today: date, count: int = WORKING_DAYS) -> list[date]:
    """The last weekdays before ``today``, eighty of them unless told otherwise."""
    days: list[date] = []
    day = today
    while len(days) < count:
        day -= timedelta(days=1)
        if day.weekday() < 5:
            days.append(day)
    return days[::-1]


def _counts() -> dict[str, int]:
    from schemas.words import KIND_NAMES, Kind
    from service.records.items import Item

    return {KIND_NAMES[kind]: Item.select().where(Item.kind == kind).count() for kind in Kind}
