"""Where things stood, and from when to when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from service.operations.door.operation import Work
from service.records.items import Item
from service.records.storage import Stay


@dataclass(frozen=True, slots=True)
class Stood:
    """A time in one place, by its item's number; ``until`` is nothing while the thing stands there."""

    place: int
    since: datetime
    until: datetime | None


def in_order(stays: Iterable[tuple[int, datetime]]) -> tuple[Stood, ...]:
    """Places and since when, in the order of time, as times from one to the next.

    A thing that was moved twice at one instant stood in the first place for no time.
    """
    rows = list(stays)
    ends = [since for _, (_, since) in pairwise(rows)]
    return tuple(Stood(place, since, until) for (place, since), until in zip(rows, [*ends, None], strict=True))


def stays_of(items: Iterable[int], *, at: datetime) -> dict[int, tuple[Stood, ...]]:
    """Where each of these stood up to an instant, in one query; a decant begins with where its content stood before."""
    rows: dict[int, list[tuple[int, datetime]]] = {number: [] for number in items}
    asked = Stay.item.in_(list(rows)) & (Stay.since <= at)
    for row in Stay.select().where(asked).order_by(Stay.item, Stay.since, Stay.id):
        rows[row.item_id].append((row.place_id, row.since))
    return {number: in_order(stays) for number, stays in rows.items()}


def inherit_stays(work: Work, child: Item, parent: Item) -> None:
    """What was taken out of a container stood where that stood: its life there is the child's as well."""
    now = work.act.occurred_at
    had = Stay.select(child.id, Stay.place, Stay.since, work.deed).where((Stay.item == parent.id) & (Stay.since < now))
    Stay.insert_from(had.order_by(Stay.id), [Stay.item, Stay.place, Stay.since, Stay.deed]).execute()
