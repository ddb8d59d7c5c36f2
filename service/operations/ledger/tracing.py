"""Anything with a code: how it stands, its holds and flags, what it was made with, its states and labels."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from peewee import ModelSelect, fn

from schemas.words import Decision, Kind, LabelSize, State, Unit
from service.operations.door.views import Page, page_of
from service.operations.ledger import ledger
from service.operations.ledger.graph import HoldView, hold_views, standing_holds
from service.operations.ledger.permitting import answers_to
from service.records.base import as_word, known
from service.records.items import Flag, Item, Label, MadeWith, StateChange
from service.records.lookups import among

MOST_FLAGS = 50
"""An item says its newest flags; the list of them has all."""


@dataclass(frozen=True, slots=True)
class UsedOn:
    role: str
    code: str | None
    person: int | None
    name: str
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class FlagView:
    """Something about an item that a person has to look at, and what answers it.

    Attributes
    ----------
    stops
        A release needs a signed permission for it, unless something has settled it.
    settled
        What has settled it since, in a sentence: then it is read at the release and needs no permission.
    """

    id: int
    item: str
    kind: str
    sentence: str
    stops: bool
    permission: int | None
    decision: Decision | None
    settled: str | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class Lifeline:
    state: State
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class LabelRow:
    issue: int
    size: LabelSize
    issued_at: datetime
    void: bool


@dataclass(frozen=True, slots=True)
class ItemView:
    """Anything with a code, as far as all kinds are alike.

    Attributes
    ----------
    balance
        What is left of it.
    flags
        The newest 50, oldest first; GET /v1/items/{code}/flags lists all.
    flags_count
        How many there are.
    """

    code: str
    kind: Kind
    name: str
    state: State
    place: str | None
    balance: Annotated[int, Unit]
    unit: str | None
    holds: tuple[HoldView, ...]
    flags: tuple[FlagView, ...]
    flags_count: int
    made_with: tuple[UsedOn, ...]
    states: tuple[Lifeline, ...]
    labels: tuple[LabelRow, ...]
    version: int


def read_item(code: str) -> ItemView:
    """Anything with a code: state, place, holds, flags, what it was made with, its labels."""
    item = ledger.find(code)
    flags, count = newest_flags([item.id])
    return ItemView(
        code=item.code,
        kind=as_word(Kind, item.kind),
        name=item.name,
        state=as_word(State, item.state),
        place=item.place.code if item.place is not None else None,
        balance=item.balance,
        unit=item.unit,
        holds=hold_views(standing_holds([item.id])[item.id]),
        flags=flag_views(flags),
        flags_count=count,
        made_with=_made_with(item),
        states=tuple(
            Lifeline(as_word(State, s.state), s.occurred_at)
            for s in StateChange.select().where(StateChange.item == item.id).order_by(StateChange.id)
        ),
        labels=tuple(
            LabelRow(r.issue, as_word(LabelSize, r.size), r.issued_at, r.void_at is not None)
            for r in Label.select().where(Label.item == item.id).order_by(Label.issue)
        ),
        version=item.version,
    )


def _made_with(item: Item) -> tuple[UsedOn, ...]:
    rows = MadeWith.select().where(MadeWith.item == item.id).order_by(MadeWith.id)
    return tuple(
        UsedOn(
            role=r.role,
            code=r.used.code if r.used is not None else None,
            person=r.person_id,
            name=r.used.name if r.used is not None else known(r.person).name,
            occurred_at=r.occurred_at,
        )
        for r in rows
    )


def list_flags(code: str, *, after: int | None, limit: int) -> Page[FlagView]:
    """List the flags on anything with a code, newest first, each with what answers it."""
    item = ledger.find(code)
    query = flags_with_items().where(Flag.item == item.id)
    return page_of(query, Flag.id, after=after, limit=limit, views=flag_views, newest_first=True)


def flags_with_items(*more: Any) -> "ModelSelect[Flag]":
    return Flag.select(Flag, Item.id, Item.code, Item.kind, Item.state, *more).join(Item)


def newest_flags(items: Iterable[int]) -> tuple[list[Flag], int]:
    """The newest flags on these items, each with its item, oldest first; and how many there are."""
    count = fn.COUNT(Flag.id).over()
    query = flags_with_items(count.alias("all_of_them")).where(among(Flag.item, items))
    rows: Any = query.order_by(Flag.id.desc()).limit(MOST_FLAGS)
    found = list(reversed(rows))
    return found, found[0].all_of_them if found else 0


def flag_views(flags: Sequence[Flag], settled: Mapping[int, str] | None = None) -> tuple[FlagView, ...]:
    """Flags with their items, each with the permission that answers it, or what has settled it since."""
    by_itself = settled or {}
    answers = answers_to(flags)
    return tuple(
        FlagView(
            id=f.id,
            item=f.item.code,
            kind=f.kind,
            sentence=f.sentence,
            stops=f.stops,
            permission=a.id if (a := answers[f.id]) else None,
            decision=as_word(Decision, a.decision if a else None),
            settled=by_itself.get(f.id),
            occurred_at=f.occurred_at,
        )
        for f in flags
    )
