"""The feed: each part, lot and order whose answer an act has changed, by naming it or by reaching it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import JOIN

from schemas.words import FollowedKind
from service.operations.door.acts import called
from service.operations.door.expected import change_tag
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.records.base import as_word, instant
from service.records.changes import FOLLOWED, ItemChange
from service.records.items import Item
from service.records.journal import Deed, Entry


@dataclass(frozen=True, slots=True)
class ChangeView:
    """One part, lot or order that an act changed. What it says now, its own route answers.

    Attributes
    ----------
    number
        Of this row; `since` takes the last one that was read.
    seq
        The entry of the journal by which it changed; all that one act changed has the same.
    code
        Of the part or lot; of an order nothing.
    order_id
        Number of the order; of a part or lot nothing.
    etag
        Of the part or lot as that act left it: what its ETag says until the next change. Of an order nothing: its ETag
        has its own version.
    operation
        The act, by its name in the journal.
    called
        The act in words.
    """

    number: int
    seq: int
    code: str | None
    order_id: int | None
    kind: FollowedKind
    etag: str | None
    operation: str
    called: str
    occurred_at: datetime
    recorded_at: datetime


def list_changes(
    *,
    after: int | None,
    limit: int,
    since: int | None = None,
    kind: FollowedKind | None = None,
    item: str | None = None,
    order: int | None = None,
) -> Page[ChangeView]:
    """What has changed, one row for each part, lot or order concerned, in the order of the journal.

    A hold on a lot, a pot or a cure is told of every part that it reaches, and of each order that such a part is for.
    """
    query: Any = (
        ItemChange.select(
            ItemChange,
            Item.code.alias("code"),
            Deed.operation.alias("operation"),
            Deed.occurred_at.alias("occurred_at"),
            Deed.recorded_at.alias("recorded_at"),
        )
        .join(Item, JOIN.LEFT_OUTER, on=((Item.id == ItemChange.number) & (Item.kind == ItemChange.kind)))
        .join_from(ItemChange, Entry, on=(Entry.seq == ItemChange.seq))
        .join(Deed, on=(Entry.deed == Deed.id))
        .objects()
    )
    if since is not None:
        query = query.where(ItemChange.id > since)
    if kind is not None:
        query = query.where(ItemChange.kind == kind)
    if item is not None:
        query = query.where(_is(ledger.find(item, *FOLLOWED).id, *FOLLOWED))
    if order is not None:
        query = query.where(_is(order, FollowedKind.ORDER))
    return page(query, ItemChange.id, after=after, limit=limit, view=_view)


def _is(number: int, *kinds: str) -> Any:
    return (ItemChange.number == number) & ItemChange.kind.in_(kinds)


def _view(row: Any) -> ChangeView:
    of_order = row.kind == FollowedKind.ORDER
    return ChangeView(
        number=row.id,
        seq=row.seq,
        code=row.code,
        order_id=row.number if of_order else None,
        kind=as_word(FollowedKind, row.kind),
        etag=None if of_order else change_tag(row.seq),
        operation=row.operation,
        called=called(row.operation),
        occurred_at=_moment(row.occurred_at),
        recorded_at=_moment(row.recorded_at),
    )


def _moment(value: Any) -> datetime:
    return value if isinstance(value, datetime) else instant(value)
