"""The one recursive query: from items back to what they were made of, or forward to what was made of them.

The recursive step holds ids only, since two equal weighings would be merged by its UNION. `Movement.target.in_([…])`
instead of `==` keeps SQLite from answering the step by a Bloom filter over the whole table once it has statistics.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import Case, Value

from service.database import database
from service.records.base import instant
from service.records.items import Hold, Item, Movement


@dataclass(frozen=True, slots=True)
class StandingHold:
    """A hold that reaches an item: its own, or one on something that it was made of."""

    id: int
    on: str
    reason: str
    own: bool


def _reach(ids: Iterable[int], *, back: bool) -> Any:
    """CTE of (root, id, at): every id reached from each root, with the time of the step that leads to or from it."""
    near, far = (Movement.target, Movement.source) if back else (Movement.source, Movement.target)
    start = Item.select(Item.id.alias("root"), Item.id.alias("id"), Value(0).cast("BIGINT").alias("at")).where(
        Item.id.in_(list(ids))
    )
    base = start.cte("reach", recursive=True, columns=("root", "id", "at"))
    step = (
        Movement.select(base.c.root, far, Movement.occurred_at)
        .join(base, on=near.in_([base.c.id]))
        .where(far.is_null(False) & Movement.cancelled_by.is_null())
    )
    return base.union(step)


def closure(ids: Iterable[int], *, back: bool) -> dict[int, set[int]]:
    """For each item, the ids of all that it was made of (or, forward, of all that was made of it), itself left out."""
    roots = list(ids)
    found: dict[int, set[int]] = {root: set() for root in roots}
    if not roots:
        return found
    reach = _reach(roots, back=back)
    query = Item.select(reach.c.root, reach.c.id).from_(reach).with_cte(reach)
    for root, reached in database.execute(query).fetchall():
        if root != reached:
            found[root].add(reached)
    return found


def standing_holds(ids: Iterable[int], *, at: datetime | None = None) -> dict[int, list[StandingHold]]:
    """The holds that reach each of these items, their own first.

    A hold "from this time on" reaches only what was taken from then on; for the item itself it has to stand at ``at``.
    """
    roots = list(ids)
    found: dict[int, list[StandingHold]] = {root: [] for root in roots}
    if not roots or not Hold.select().where(Hold.item.is_null(False) & Hold.lifted_at.is_null()).exists():
        return found
    reach = _reach(roots, back=True)
    query = (
        Hold.select(reach.c.root, reach.c.id, reach.c.at, Hold.id, Hold.reason, Hold.since, Item.code)
        .join(reach, on=Hold.item.in_([reach.c.id]))
        .join(Item, on=(Item.id == Hold.item))
        .where(Hold.lifted_at.is_null())
        .with_cte(reach)
        .order_by(Case(None, [(reach.c.root == reach.c.id, 0)], 1), Hold.id)
    )
    for root, reached, taken_at, hold, reason, since, code in database.execute(query).fetchall():
        own = root == reached
        when = at if own else instant(taken_at)
        begins = None if since is None else (since if isinstance(since, datetime) else instant(since))
        if begins is not None and when is not None and when < begins:
            continue
        one = StandingHold(id=hold, on=code, reason=reason, own=own)
        if one not in found[root]:
            found[root].append(one)
    return found


def movements_among(ids: Iterable[int]) -> list[Movement]:
    """The movements that stand and have both ends within these items, oldest first."""
    wanted = list(ids)
    return list(
        Movement.select()
        .where(Movement.source.in_(wanted) & Movement.target.in_(wanted) & Movement.cancelled_by.is_null())
        .order_by(Movement.occurred_at, Movement.id)
    )


@dataclass(frozen=True, slots=True)
class HoldView:
    id: int
    on: str
    reason: str


def hold_views(holds: list[StandingHold] | tuple[StandingHold, ...]) -> tuple[HoldView, ...]:
    return tuple(HoldView(id=h.id, on=h.on, reason=h.reason) for h in holds)
