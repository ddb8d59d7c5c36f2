"""The one recursive query: from items back to what they were made of, or forward to what was made of them.

The query stands in the statement that needs it, so that no list of what it found goes back to the database; its steps
are those of `service.records.closures`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import SQL

from service.database import each, listed, looked_up, rows_of, worded
from service.records.base import microseconds
from service.records.closures import steps
from service.records.items import Item, Movement


@dataclass(frozen=True, slots=True)
class StandingHold:
    """A hold that reaches an item: its own, or one on something that it was made of."""

    id: int
    on: str
    reason: str
    own: bool


def closure(ids: Iterable[int], *, back: bool) -> dict[int, set[int]]:
    """For each item, the ids of all that it was made of (or, forward, of all that was made of it), itself left out.

    For a few items with little behind them, such as one part's upstream: what may be large is joined in SQL.
    """
    roots = list(ids)
    found: dict[int, set[int]] = {root: set() for root in roots}
    if roots:
        for reached, root in rows_of(_closure(back), listed(roots)):
            if root != reached:
                found[root].add(reached)
    return found


def _closure(back: bool) -> str:
    return f"WITH RECURSIVE {steps(_roots('id', 'id'), back=back, also='root')} SELECT id, root FROM reach"


def _roots(*columns: str) -> str:
    """The items of a list that is given as one value."""
    return f"SELECT {', '.join(columns)} FROM {looked_up()}"


def standing_holds(
    ids: Iterable[int], *, at: datetime | None = None, known_at: datetime | None = None
) -> dict[int, list[StandingHold]]:
    """The holds that reach each of these items, their own first: those of now, or those that stood at ``known_at``.

    A hold "from this time on" reaches only what was taken from then on; for the item itself it has to stand at ``at``.
    """
    roots = list(ids)
    found: dict[int, list[StandingHold]] = {root: [] for root in roots}
    if not roots:
        return found
    asked_at = None if at is None else microseconds(at)
    for root, reached, taken_at, hold, reason, since, code in rows_of(_holds(known_at), listed(roots)):
        own = root == reached
        when = asked_at if own else taken_at
        if since is not None and when is not None and when < since:
            continue
        one = StandingHold(id=hold, on=code, reason=reason, own=own)
        if one not in found[root]:
            found[root].append(one)
    return found


def _holds(known_at: datetime | None) -> str:
    """Each item with the holds behind it, and the time of the step by which the held item went into something."""
    stood, taken = "lifted_at IS NULL", ""
    if known_at is not None:
        then = microseconds(known_at)
        stood = f"placed_at <= {then} AND (lifted_at IS NULL OR lifted_at > {then})"
        taken = f" AND m.occurred_at <= {then}"
    return (
        # In a shop without a hold nothing is searched.
        f"WITH RECURSIVE reach(root, id, at) AS ({_roots('id', 'id', 'CAST(0 AS BIGINT)')}"
        f" WHERE EXISTS (SELECT 1 FROM hold WHERE item_id IS NOT NULL AND {stood}) UNION"
        f" SELECT reach.root, m.source_id, m.occurred_at FROM reach"
        f" {each('movement', 'm', 'm.target_id IN (reach.id)')}"
        f" WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL{taken})"
        " SELECT reach.root, reach.id, reach.at, h.id, h.reason, h.since, i.code"
        f" FROM reach {each('hold', 'h', 'h.item_id IN (reach.id)')} {each('item', 'i', 'i.id = h.item_id')}"
        f" WHERE {stood} ORDER BY CASE WHEN reach.root = reach.id THEN 0 ELSE 1 END, h.id"
    )


def held_items(*, at: datetime | None = None) -> SQL:
    """For a query: all items that a standing hold reaches, as `standing_holds` tells of each of them."""
    stands = "lifted_at IS NULL AND item_id IS NOT NULL"
    start = (
        "SELECT id FROM ("
        f"SELECT item_id AS id FROM hold WHERE {stands} AND since IS NULL UNION"
        f" SELECT m.target_id FROM hold h {each('movement', 'm', 'm.source_id IN (h.item_id)')}"
        " WHERE h.lifted_at IS NULL AND h.since IS NOT NULL AND m.occurred_at >= h.since"
        " AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL) AS held"
    )
    begun = "" if at is None else f" AND since <= {microseconds(at)}"
    return SQL(
        f"(WITH RECURSIVE {steps(start, back=False)} SELECT id FROM reach"
        f" UNION SELECT item_id FROM hold WHERE {stands} AND since IS NOT NULL{begun})"
    )


def by_hold(query: Any, on_hold: bool | None, *, at: datetime | None = None) -> Any:
    """Of a query of items those that a standing hold reaches, or those that are free; all of them unless asked."""
    if on_hold is None:
        return query
    held = held_items(at=at)
    return query.where(Item.id.in_(held) if on_hold else Item.id.not_in(held))


def movements_behind(root: int) -> list[Movement]:
    """The movements that stand among an item and all that it was made of, oldest first."""
    columns = ", ".join(f"m.{f.column_name}" for f in Movement._meta.sorted_fields)
    return list(
        Movement.raw(
            worded(
                f"WITH RECURSIVE {steps(_roots('id'), back=True)} SELECT {columns} FROM reach"
                f" {each('movement', 'm', 'm.target_id IN (reach.id)')}"
                " WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL ORDER BY m.occurred_at, m.id"
            ),
            listed([root]),
        )
    )


@dataclass(frozen=True, slots=True)
class HoldView:
    """A standing hold that reaches an item.

    Attributes
    ----------
    on
        Code of the item that the hold was placed on.
    """

    id: int
    on: str
    reason: str


def hold_views(holds: list[StandingHold] | tuple[StandingHold, ...]) -> tuple[HoldView, ...]:
    return tuple(HoldView(id=h.id, on=h.on, reason=h.reason) for h in holds)
