"""Trace: from any code back to what it was made of, or forward to what was made of it, and who shares it."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from schemas.words import KIND_NAMES, Kind, State
from service.operations.ledger import ledger
from service.operations.ledger.graph import HoldView, closure, hold_views, movements_among, standing_holds
from service.operations.ledger.permitting import answers_to
from service.records.items import Flag, Item, Label, MadeWith, Movement, StateChange
from service.records.materials import Container, Lot
from service.records.parts import Nonconformance


class Direction(StrEnum):
    BACK = "back"
    FORWARD = "forward"


@dataclass(frozen=True, slots=True)
class TracedItem:
    """An item in a trace: what it is, how it stands and where it is now."""

    code: str
    kind: str
    name: str
    state: str
    place: str | None
    left: int
    unit: str | None
    lot: str | None
    makers_lot: str | None
    good_until: date | None
    on_hold: bool
    failed: bool


@dataclass(frozen=True, slots=True)
class TracedMovement:
    """How much of one went into the other, and when. No amount: traced, but not measured."""

    source: str
    target: str
    kind: str
    purpose: str | None
    amount: int | None
    unit: str | None
    estimated: bool
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything that an item was made of (back) or that was made of it (forward), in one document with counts."""

    code: str
    direction: str
    counts: dict[str, int]
    items: tuple[TracedItem, ...]
    movements: tuple[TracedMovement, ...]


@dataclass(frozen=True, slots=True)
class UsedOn:
    role: str
    code: str | None
    person: int | None
    name: str
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class FlagView:
    id: int
    item: str
    kind: str
    sentence: str
    stops: bool
    permission: int | None
    decision: str | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class Lifeline:
    state: str
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class LabelRow:
    issue: int
    size: str
    issued_at: datetime
    void: bool


@dataclass(frozen=True, slots=True)
class ItemView:
    """Anything with a code, as far as all kinds are alike."""

    code: str
    kind: str
    name: str
    state: str
    place: str | None
    balance: int
    unit: str | None
    holds: tuple[HoldView, ...]
    flags: tuple[FlagView, ...]
    made_with: tuple[UsedOn, ...]
    states: tuple[Lifeline, ...]
    labels: tuple[LabelRow, ...]
    version: int


def read_trace(code: str, *, direction: Direction = Direction.BACK) -> Trace:
    """Trace a code back to its lots, or forward to every part, at any depth."""
    root = ledger.find(code)
    ids = closure([root.id], back=direction == Direction.BACK)[root.id] | {root.id}
    rows = {i.id: i for i in Item.select().where(Item.id.in_(ids)).order_by(Item.id)}
    movements = movements_among(ids)
    counts = Counter(KIND_NAMES[Kind(i.kind)] for i in rows.values() if i.id != root.id)
    return Trace(
        code=root.code,
        direction=direction,
        counts=dict(sorted(counts.items())),
        items=traced_items(rows),
        movements=tuple(_movement(m, rows) for m in movements),
    )


def traced_items(rows: dict[int, Item]) -> tuple[TracedItem, ...]:
    ids = list(rows)
    containers = {c.item_id: c for c in Container.select().where(Container.item.in_(ids))}
    lots = {
        lot.item_id: lot for lot in Lot.select().where(Lot.item.in_([*ids, *(c.lot_id for c in containers.values())]))
    }
    codes = {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_(list(lots)))}
    places = {i.place_id for i in rows.values() if i.place_id is not None}
    names = {i.id: i.name for i in Item.select(Item.id, Item.name).where(Item.id.in_(list(places)))}
    held = standing_holds(ids)
    failed = failed_items(ids)
    return tuple(
        TracedItem(
            code=item.code,
            kind=item.kind,
            name=item.name,
            state=item.state,
            place=names.get(item.place_id),
            left=item.balance,
            unit=item.unit,
            lot=codes.get(containers[item.id].lot_id) if item.id in containers else None,
            makers_lot=(lots[containers[item.id].lot_id] if item.id in containers else lots[item.id]).makers_lot
            if item.id in containers or item.id in lots
            else None,
            good_until=containers[item.id].expires_on if item.id in containers else None,
            on_hold=bool(held[item.id]),
            failed=item.id in failed,
        )
        for item in rows.values()
    )


def failed_items(ids: list[int]) -> set[int]:
    """Those with a nonconformance that says that they failed."""
    query = Nonconformance.select(Nonconformance.item).where(
        Nonconformance.item.in_(ids) & (Nonconformance.failed == True)  # noqa: E712
    )
    return {row.item_id for row in query}


def _movement(row: Movement, items: dict[int, Item]) -> TracedMovement:
    return TracedMovement(
        source=items[row.source_id].code,
        target=items[row.target_id].code,
        kind=row.kind,
        purpose=row.purpose,
        amount=row.amount,
        unit=row.unit,
        estimated=row.estimated,
        occurred_at=row.occurred_at,
    )


def read_item(code: str) -> ItemView:
    """Anything with a code: state, place, holds, flags, what it was made with, its labels."""
    item = ledger.find(code)
    return ItemView(
        code=item.code,
        kind=item.kind,
        name=item.name,
        state=item.state,
        place=item.place.code if item.place_id else None,
        balance=item.balance,
        unit=item.unit,
        holds=hold_views(standing_holds([item.id])[item.id]),
        flags=flag_views([item.id]),
        made_with=_made_with(item),
        states=tuple(
            Lifeline(s.state, s.occurred_at)
            for s in StateChange.select().where(StateChange.item == item.id).order_by(StateChange.id)
        ),
        labels=tuple(
            LabelRow(r.issue, r.size, r.issued_at, r.void_at is not None)
            for r in Label.select().where(Label.item == item.id).order_by(Label.issue)
        ),
        version=item.version,
    )


def _made_with(item: Item) -> tuple[UsedOn, ...]:
    rows = MadeWith.select().where(MadeWith.item == item.id).order_by(MadeWith.id)
    return tuple(
        UsedOn(
            role=r.role,
            code=r.used.code if r.used_id else None,
            person=r.person_id,
            name=r.used.name if r.used_id else r.person.name,
            occurred_at=r.occurred_at,
        )
        for r in rows
    )


def flag_views(ids: list[int]) -> tuple[FlagView, ...]:
    """The flags on these items, each with the permission that answers it."""
    flags = list(Flag.select(Flag, Item.code).join(Item).where(Flag.item.in_(ids)).order_by(Flag.id))
    answers = answers_to(flags)
    return tuple(
        FlagView(
            id=f.id,
            item=f.item.code,
            kind=f.kind,
            sentence=f.sentence,
            stops=f.stops,
            permission=a.id if (a := answers[f.id]) else None,
            decision=a.decision if a else None,
            occurred_at=f.occurred_at,
        )
        for f in flags
    )


# Where a part stands, in the four words that a look at its sisters needs.
_IN_WORK = (State.LAYING, State.LAID_UP, State.CURING, State.CURED, State.DEMOULDED, State.TRIMMED)


_OUT = (State.SHIPPED, State.FITTED)


@dataclass(frozen=True, slots=True)
class SharedBy:
    """One thing that went into a part, and which other parts share it."""

    code: str
    kind: str
    name: str
    parts: int
    in_work: int
    finished: int
    shipped: int
    scrapped: int
    failed: int
    others: tuple[TracedItem, ...]


@dataclass(frozen=True, slots=True)
class Sharing:
    code: str
    shared: tuple[SharedBy, ...]


def read_sharing(code: str) -> Sharing:
    """Which other parts share each lot, container, kit, pot, cure and mould of this part, and where each is now."""
    root = ledger.find(code, Kind.PART)
    upstream = closure([root.id], back=True)[root.id]
    used = {m.used_id for m in MadeWith.select().where((MadeWith.item == root.id) & MadeWith.used.is_null(False))}
    ids = upstream | used
    things = {i.id: i for i in Item.select().where(Item.id.in_(ids)).order_by(Item.id)}
    forward = closure(upstream, back=False)
    for thing in used:
        forward[thing] = {m.item_id for m in MadeWith.select().where(MadeWith.used == thing)}
    every = set().union(*forward.values()) if forward else set()
    parts = {i.id: i for i in Item.select().where(Item.id.in_(every) & (Item.kind == Kind.PART) & (Item.id != root.id))}
    rows = {t.code: t for t in traced_items(parts)}
    shared = []
    for thing in things.values():
        if thing.kind == Kind.PART:
            continue
        others = tuple(rows[parts[i].code] for i in sorted(forward.get(thing.id, ())) if i in parts)
        shared.append(_shared(thing, others))
    return Sharing(code=root.code, shared=tuple(shared))


def _shared(thing: Item, others: tuple[TracedItem, ...]) -> SharedBy:
    return SharedBy(
        code=thing.code,
        kind=thing.kind,
        name=thing.name,
        parts=len(others),
        in_work=sum(o.state in _IN_WORK for o in others),
        finished=sum(o.state == State.RELEASED for o in others),
        shipped=sum(o.state in _OUT for o in others),
        scrapped=sum(o.state == State.SCRAPPED for o in others),
        failed=sum(o.failed for o in others),
        others=others,
    )
