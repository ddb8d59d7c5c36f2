"""Items and movements: the only code that makes, moves and re-states them.

Balance = in - out, of the movements that stand. Nothing can be its own ingredient: an item from which something was
taken takes no further inputs, but for a container that is filled again from an older container of the same lot, which
cannot close a circle because among containers filling always goes from the older to the younger, and for what was
poured into a pot too late, which cannot because nothing ever goes from a pot into a container.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from peewee import chunked

from labels.codes import make, next_usable
from schemas.words import KIND_NAMES, Kind, MovementKind, State, Unit
from service.database import locked
from service.operations.door.entry import stated
from service.operations.door.operation import AT_ONCE, Work
from service.operations.door.refusals import CannotUndo, UnknownThing, Unprocessable, WrongState
from service.records.items import Counter, Item, MadeWith, Movement, StateChange
from service.records.journal import Deed
from service.records.storage import Stay

# Of these it is known when they began to be, and how that is said.
_BEGINS = {
    Kind.LOT: "received",
    Kind.CONTAINER: "filled or received",
    Kind.KIT: "cut",
    Kind.MIX: "started",
    Kind.CURE: "started",
    Kind.PART: "started",
}
# Of these it is kept where they stood, and when.
_STANDS = (Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.PART)


def new_item(
    work: Work, kind: Kind, *, name: str, state: State, unit: Unit | None = None, place: Item | None = None
) -> Item:
    """Make an item with the next code of its kind, in its first state."""
    return new_items(work, kind, [state], name=name, unit=unit, place=place)[0]


def new_items(
    work: Work,
    kind: Kind,
    states: Sequence[State],
    *,
    name: str | Sequence[str],
    unit: Unit | None = None,
    place: Item | None = None,
) -> list[Item]:
    """Make one item for each of these first states, with the next codes of their kind, all written at once.

    They share one name, or have one each.
    """
    shared = {"kind": kind, "unit": unit, "place": place, "site": work.act.site, "deed": work.deed}
    names = [name] * len(states) if isinstance(name, str) else name
    rows = [
        {"code": code, "state": state, "name": called, **shared}
        for code, state, called in zip(_next_codes(kind, len(states)), states, names, strict=True)
    ]
    numbers = {row.code: row.id for row in Item.insert_many(rows).returning(Item.id, Item.code).execute()}
    items = [Item(id=numbers[str(row["code"])], **row) for row in rows]
    StateChange.insert_many(
        [{"item": i.id, "state": i.state, "occurred_at": work.act.occurred_at, "deed": work.deed} for i in items]
    ).execute()
    if place is not None and kind in _STANDS:
        since = work.act.occurred_at
        Stay.insert_many(
            [{"item": i.id, "place": place.id, "since": since, "deed": work.deed} for i in items]
        ).execute()
    for item in items:
        work.items[item.id] = item
    work.touch(*items)
    return items


def _next_codes(kind: Kind, count: int) -> list[str]:
    counting = locked(Counter.select().where(Counter.kind == kind))
    counter = counting.get_or_none()
    if counter is None:
        Counter.insert(kind=kind, last=0).on_conflict_ignore().execute()
        # Someone else may have counted meanwhile; asked by name, so that it is not the same statement again.
        counter = locked(Counter.select(Counter.last).where(Counter.kind == kind)).get()
    last, codes = int(counter.last), []
    for _ in range(count):
        last = next_usable(kind, last)
        codes.append(make(kind, last))
    Counter.update(last=last).where(Counter.kind == kind).execute()
    return codes


def find(code: str, *kinds: Kind) -> Item:
    """The item of that code, if it is one of these kinds; not locked."""
    item = Item.get_or_none(Item.code == code)
    if item is None or (kinds and item.kind not in kinds):
        raise _unknown(code, kinds)
    return item


def lock(work: Work, *codes: str, kinds: Iterable[Kind] = ()) -> dict[str, Item]:
    """Lock the items of these codes by ascending id, so that no two acts wait for each other; code -> item."""
    wanted = set(codes)
    rows = (
        _many(wanted) if len(wanted) > AT_ONCE else locked(Item.select().where(Item.code.in_(wanted)).order_by(Item.id))
    )
    # What this act has changed already and not written yet is known better here than there.
    found = {row.code: work.items[row.id] if row.id in work.unwritten else row for row in rows}
    work.items |= {item.id: item for item in found.values()}
    allowed = tuple(kinds)
    for code in codes:
        if code not in found or (allowed and found[code].kind not in allowed):
            raise _unknown(code, allowed)
    if work.act.occurred_at < work.act.recorded_at:
        _refuse_before_it_was(work, [item for item in found.values() if item.kind in _BEGINS])
    return found


def _refuse_before_it_was(work: Work, items: Sequence[Item]) -> None:
    """What is told of an earlier time happened to a lot or can after it came, to a pot or part after it was started."""
    for some in chunked([item.id for item in items], AT_ONCE):
        later = (
            Item.select(Item.code, Item.kind, Deed.occurred_at.alias("began"))
            .join(Deed, on=(Item.deed == Deed.id))
            .where(Item.id.in_(some) & (Deed.occurred_at > work.act.occurred_at))
            .order_by(Item.id)
        )
        for code, kind, began in later.tuples().limit(1):
            refuse_before(work, began, f"{code} was {_BEGINS[Kind(kind)]}")


def refuse_before(work: Work, then: datetime, what: str) -> None:
    """An act that answers another did not happen before it; ``what`` says what that was."""
    if work.act.occurred_at < then:
        raise Unprocessable(
            f"{what} on {stated(then, work.site.zone)}; this cannot have happened before.",
            way_out="Look at the day and the time again.",
            pointer="/occurred_at",
        )


def _many(codes: Iterable[str]) -> Iterator[Item]:
    """More items than one statement names: their order is found first, and kept from one statement to the next."""
    numbers: list[int] = []
    for some in chunked(codes, AT_ONCE):
        numbers += [number for (number,) in Item.select(Item.id).where(Item.code.in_(some)).tuples()]
    for batch in chunked(sorted(numbers), AT_ONCE):
        yield from locked(Item.select().where(Item.id.in_(batch)).order_by(Item.id))


def lock_one(work: Work, code: str, *kinds: Kind) -> Item:
    return lock(work, code, kinds=kinds)[code]


def _unknown(code: str, kinds: Iterable[Kind]) -> UnknownThing:
    # Where several kinds are looked up at once, the code's own letter says which of them is not there.
    named = [k for k in kinds if code.startswith(k)] or list(kinds)
    names = " or ".join(KIND_NAMES[k] for k in named) or "item"
    return UnknownThing(
        f"There is no {names} {code} here.", way_out="Scan the label again, or look it up in the list.", code=code
    )


def move(
    work: Work,
    *,
    kind: MovementKind,
    source: Item | None = None,
    target: Item | None = None,
    amount: int | None = None,
    unit: Unit | None = None,
    estimated: bool = False,
    purpose: str | None = None,
    zone: str | None = None,
    occurred_at: datetime | None = None,
) -> Movement:
    """Book a movement between items that are locked, and carry their balances along."""
    if source is not None and target is not None:
        _stay_acyclic(source, target)
    movement = Movement.create(
        source=source,
        target=target,
        amount=amount,
        unit=unit if amount is not None else None,
        kind=kind,
        estimated=estimated,
        purpose=purpose,
        zone=zone,
        occurred_at=occurred_at or work.act.occurred_at,
        deed=work.deed,
    )
    for item, sign in ((source, -1), (target, 1)):
        if item is not None:
            work.carry(item, balance=sign * amount if amount is not None and item.unit == unit else 0)
            work.touch(item)
    return movement


def share_out(work: Work, *, kind: MovementKind, source: Item, parts: Sequence[tuple[Item, int]], unit: Unit) -> None:
    """Book what goes from one item into several that were made just now, all at once."""
    Movement.insert_many(
        [
            {
                "source": source.id,
                "target": target.id,
                "amount": amount,
                "unit": unit,
                "kind": kind,
                "occurred_at": work.act.occurred_at,
                "deed": work.deed,
            }
            for target, amount in parts
        ]
    ).execute()
    for target, amount in parts:
        work.carry(source, balance=-amount)
        work.carry(target, balance=amount)
    work.touch(source, *(target for target, _ in parts))


def _stay_acyclic(source: Item, target: Item) -> None:
    if source.kind == Kind.CONTAINER == target.kind and source.id < target.id:
        return
    if source.kind == Kind.CURE:
        return  # nothing ever goes into a cure, so it cannot close a circle
    if source.kind == Kind.CONTAINER and target.kind == Kind.MIX:
        return  # nothing goes from a pot back into a container; what should not have been poured is recorded
    given = Movement.select().where(
        (Movement.source == target.id) & Movement.target.is_null(False) & Movement.cancelled_by.is_null()
    )
    if given.exists():
        raise WrongState(
            f"Something was already taken from {target.code}, so nothing more can go into it.",
            way_out="Start a new one with a code of its own.",
        )


def cancel(work: Work, movement: Movement) -> None:
    """Take a movement back, if what it brought has not gone on meanwhile."""
    if movement.cancelled_by_id is not None:
        raise CannotUndo(f"Movement {movement.id} was taken back already.")
    source, target = _ends(work, movement)
    if target is not None and target.balance < _counted(movement, target):
        raise CannotUndo(
            f"Less is left in {target.code} than this brought into it; correct what was taken from it first."
        )
    Movement.update(cancelled_by=work.deed).where(Movement.id == movement.id).execute()
    movement.cancelled_by_id = work.deed
    for item, sign in ((source, 1), (target, -1)):
        if item is not None:
            work.carry(item, balance=sign * _counted(movement, item))
            work.touch(item)


def _ends(work: Work, movement: Movement) -> tuple[Item | None, Item | None]:
    """Where it came from and where it went, as this act knows them."""
    source, target = (n if n is None else work.item(n) for n in (movement.source_id, movement.target_id))
    return source, target


def _counted(movement: Movement, item: Item) -> int:
    """What of a movement counts in the balance of one of its ends: nothing where that is kept in another unit."""
    return movement.amount or 0 if item.unit == movement.unit else 0


def rebook(work: Work, movement: Movement, amount: int) -> Movement:
    """Take a movement back and book it again with another amount, if both ends can bear the difference."""
    if movement.cancelled_by_id is not None or movement.amount is None:
        raise CannotUndo(f"Movement {movement.id} has no amount that stands.")
    more = amount - movement.amount
    again = Movement.create(
        source=movement.source_id,
        target=movement.target_id,
        amount=amount,
        unit=movement.unit,
        kind=movement.kind,
        estimated=movement.estimated,
        purpose=movement.purpose,
        zone=movement.zone,
        occurred_at=movement.occurred_at,
        deed=work.deed,
    )
    Movement.update(cancelled_by=work.deed).where(Movement.id == movement.id).execute()
    for item, change in zip(_ends(work, movement), (-more, more), strict=True):
        if item is None:
            continue
        if item.unit == movement.unit and item.balance + change < 0:
            raise CannotUndo(
                f"Too little is left in {item.code} to make up the difference.",
                way_out="Correct what was taken from it, or how it was closed, first.",
            )
        work.carry(item, balance=change if item.unit == movement.unit else 0)
        work.touch(item)
    return again


def set_state(work: Work, item: Item, state: State) -> None:
    if item.state == state:
        return
    work.carry(item, state=state)
    StateChange.create(item=item, state=state, occurred_at=work.act.occurred_at, deed=work.deed)
    work.touch(item)


def state_then(work: Work, item: Item) -> State:
    """The state that something was in when the act happened, which may be told later."""
    if work.act.occurred_at >= work.act.recorded_at:
        return State(item.state)
    return state_at(item, work.act.occurred_at)


def state_at(item: Item, at: datetime) -> State:
    """The state that something was in at a time; the one of now, if it was not there yet."""
    entered = StateChange.select(StateChange.state).where(
        (StateChange.item == item.id) & (StateChange.occurred_at <= at)
    )
    last = entered.order_by(StateChange.id.desc()).limit(1).tuples()
    return State(next((state for (state,) in last), item.state))


def set_states(work: Work, items: Iterable[Item], state: State) -> None:
    """The same for any number of items, with their history written together."""
    changed = [item for item in items if item.state != state]
    rows = [{"item": i.id, "state": state, "occurred_at": work.act.occurred_at, "deed": work.deed} for i in changed]
    for some in chunked(rows, AT_ONCE):
        StateChange.insert_many(some).execute()
    for item in changed:
        work.carry(item, state=state)
    work.touch(*changed)


def set_place(work: Work, item: Item, place: Item) -> None:
    work.note(item=item.code, moved={"from": item.place.code if item.place is not None else None, "to": place.code})
    if item.kind in _STANDS:
        Stay.create(item=item, place=place, since=work.act.occurred_at, deed=work.deed)
    work.carry(item, place=place)
    work.touch(item)


def made_with(work: Work, item: Item, role: str, *, used: Item | None = None, person: int | None = None) -> None:
    """Say what was used on an item without becoming part of it."""
    MadeWith.create(item=item, used=used, person=person, role=role, occurred_at=work.act.occurred_at, deed=work.deed)
