"""Small views that many answers share."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import accumulate
from typing import Any, Generic, TypeVar

from peewee import Field, Model, ModelSelect, fn

from schemas.words import Kind, State
from service.records.base import as_word
from service.records.items import Item


@dataclass(frozen=True, slots=True)
class ItemRef:
    """An item in one line."""

    code: str
    kind: Kind
    name: str
    state: State


def ref(item: Item) -> ItemRef:
    return ItemRef(code=item.code, kind=as_word(Kind, item.kind), name=item.name, state=as_word(State, item.state))


# A page of two hundred entries may hold that many bodies of 1 MB, several times that as an answer is made.
MOST_LETTERS = 1_000_000

T = TypeVar("T")
M = TypeVar("M", bound=Model)


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    rows: tuple[T, ...]
    next_after: int | None


class Whence(int):
    """A cursor that says in which order the list is asked for, whichever is its usual one; -1 is its beginning."""

    newest_first: bool

    def __new__(cls, after: int | None, *, newest_first: bool) -> "Whence":
        made = super().__new__(cls, -1 if after is None else after)
        made.newest_first = newest_first
        return made


def by_state(query: Any, kind: Kind, own: Field, state: State | None) -> tuple[Any, Field]:
    """Of a query of items of a kind those in a state, and the key that they are paged by; call it after other filters.

    Where nothing else narrows them they are looked up: few things are being laid up, whatever was ever shipped.
    """
    if state is None:
        return query, own
    if query._where is not None:
        return query.where(Item.state == state), own
    return query.where((Item.kind == kind) & (Item.state == state)), Item.id


def page(
    query: "ModelSelect[M]",
    by: Field,
    *,
    after: int | None,
    limit: int,
    view: Callable[[M], T],
    newest_first: bool = False,
    weight: Field | None = None,
) -> Page[T]:
    """A page whose rows are each told alone; see `page_of`."""

    def views(rows: tuple[M, ...]) -> Iterable[T]:
        return map(view, rows)

    return page_of(query, by, after=after, limit=limit, views=views, newest_first=newest_first, weight=weight)


def page_of(
    query: "ModelSelect[M]",
    by: Field,
    *,
    after: int | None,
    limit: int,
    views: Callable[[tuple[M, ...]], Iterable[T]],
    newest_first: bool = False,
    weight: Field | None = None,
) -> Page[T]:
    """The rows behind a cursor in the order of a rising or falling key, and where the next page starts, if any.

    They are told together, so that what they need beside themselves is read once for the page.

    Items that are joined to a table of their kind go by that table's own key, which is the same number: by `Item.id`
    SQLite reads the whole of the smaller table through another index and sorts it for each page.

    With a ``weight``, a column of long texts, a page ends before they come to more than a page may weigh; what is
    heavier alone has a page of its own.
    """
    if isinstance(after, Whence):
        newest_first, after = after.newest_first, None if after < 0 else int(after)
    if after is not None:
        query = query.where(by < after if newest_first else by > after)
    query = query.order_by(by.desc() if newest_first else by)
    if weight is not None:
        lengths: Any = query.select(fn.LENGTH(weight).coerce(False)).limit(limit).tuples()
        limit = max(1, sum(so_far <= MOST_LETTERS for so_far in accumulate(length for (length,) in lengths)))
    found = tuple(query.limit(limit + 1))
    more = len(found) > limit
    found = found[:limit]
    last = None
    if more:
        last = (
            found[-1].get_id()
            if by.primary_key
            else getattr(found[-1], by.object_id_name if hasattr(by, "object_id_name") else by.name)
        )
    return Page(rows=tuple(views(found)), next_after=last)
