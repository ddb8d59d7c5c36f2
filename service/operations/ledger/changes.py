"""The feed: each part and lot whose answer an act has changed, by naming it or by reaching it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import FollowedKind, Kind
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
    """One part or lot that an act changed. What it says now, its own route answers.

    Attributes
    ----------
    number
        Of this row; `since` takes the last one that was read.
    seq
        The entry of the journal by which it changed; all that one act changed has the same.
    code
        Of the part or lot.
    etag
        Of the part or lot as that act left it: what its ETag says until the next change.
    operation
        The act, by its name in the journal.
    called
        The act in words.
    """

    number: int
    seq: int
    code: str
    kind: FollowedKind
    etag: str
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
) -> Page[ChangeView]:
    """What has changed, one row for each part or lot concerned, in the order of the journal.

    A hold on a lot, a pot or a cure is told of every part that it reaches.
    """
    query: Any = (
        ItemChange.select(
            ItemChange,
            Item.code.alias("code"),
            Deed.operation.alias("operation"),
            Deed.occurred_at.alias("occurred_at"),
            Deed.recorded_at.alias("recorded_at"),
        )
        .join(Item, on=(Item.id == ItemChange.number))
        .join_from(ItemChange, Entry, on=(Entry.seq == ItemChange.seq))
        .join(Deed, on=(Entry.deed == Deed.id))
        .objects()
    )
    if since is not None:
        query = query.where(ItemChange.id > since)
    if kind is not None:
        query = query.where(ItemChange.kind == kind)
    if item is not None:
        query = query.where(ItemChange.number == ledger.find(item, *map(Kind, FOLLOWED)).id)
    return page(query, ItemChange.id, after=after, limit=limit, view=_view)


def _view(row: Any) -> ChangeView:
    return ChangeView(
        number=row.id,
        seq=row.seq,
        code=row.code,
        kind=as_word(FollowedKind, row.kind),
        etag=change_tag(row.seq),
        operation=row.operation,
        called=called(row.operation),
        occurred_at=_moment(row.occurred_at),
        recorded_at=_moment(row.recorded_at),
    )


def _moment(value: Any) -> datetime:
    return value if isinstance(value, datetime) else instant(value)
