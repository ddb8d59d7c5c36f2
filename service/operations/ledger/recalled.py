"""What a recall reaches: worked out from the movements that stand."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import Kind, MovementKind, State, Unit
from service.database import each, each_or_none, rows_of
from service.operations.door.acts import ACTS
from service.operations.ledger.contents import Contents, contents_of
from service.operations.ledger.done_with import AT_FIRST, AT_LAST, STANDS, THE_SAME_TASK, Selected, done_by, used_on
from service.records.base import known, microseconds
from service.records.closures import steps
from service.records.people import MACHINE

_INTO_THINGS = (Kind.LOT, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.CURE, Kind.PART)
# By these a lot becomes containers, and containers others, on the shelf.
_ON_THE_SHELF = (MovementKind.PACKING, MovementKind.DECANT, MovementKind.OFFCUT)
_OUT = (State.SHIPPED, State.FITTED)
_GONE = {
    Kind.CONTAINER: (State.EMPTY, State.SCRAPPED),
    Kind.MIX: (State.CLOSED, State.DISCARDED, State.ABANDONED),
    Kind.KIT: (State.LAID, State.SCRAPPED),
    Kind.PART: (State.SCRAPPED, State.FITTED, State.ABANDONED),
    Kind.CURE: tuple(State),
    Kind.LOT: tuple(State),
}


# In the order of a pick-up list.
ORDER = ("stock", "opened", "pots", "in work", "finished", "shipped", "no more")


@dataclass(frozen=True, slots=True)
class Root:
    """What is called back: an item, or a person's task, within a time."""

    item: int | None
    person: int | None
    task: str | None
    name: str
    kind: Kind | None
    since: datetime | None
    until: datetime | None

    @property
    def goes_into_things(self) -> bool:
        return self.kind in _INTO_THINGS

    @property
    def itself(self) -> bool:
        """Whether the thing itself is called back, too: not where that ends with a time, as what is in it now is good.

        It goes on being held, whatever is taken from it.
        """
        return self.goes_into_things and self.until is None

    @property
    def time(self) -> tuple[int, int]:
        first = AT_FIRST if self.since is None else microseconds(self.since)
        return first, AT_LAST if self.until is None else microseconds(self.until)


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing that is reached, as it stands now; the mass is what of the recalled thing is in it."""

    id: int
    code: str
    kind: Kind
    name: str
    state: str
    place: str | None
    customer: str | None
    mass_mg: int | None


@dataclass(frozen=True, slots=True)
class Reach:
    """What stands on the shelf, the first things made of it or with it, all pieces, and what of it is in them."""

    stock: tuple[int, ...]
    first: tuple[int, ...]
    pieces: tuple[Piece, ...]
    contents: Contents


def to_fetch(kind: Kind, state: str) -> bool:
    """Whether there is still something to go and look for."""
    return state not in _GONE.get(kind, ())


def where_it_is(kind: Kind, state: str) -> str:
    """In the words of a pick-up list: stock, opened, pots, in work, finished, shipped, no more."""
    if not to_fetch(kind, state):
        return "no more"
    if kind == Kind.CONTAINER:
        return "opened" if state == State.OPEN else "stock"
    if kind == Kind.MIX:
        return "pots"
    if kind == Kind.PART:
        return "shipped" if state in _OUT else "finished" if state == State.RELEASED else "in work"
    return "in work"


def gone_sql(item: str) -> str:
    """The same of a row of items, as a condition: there is nothing of it to look for any more."""
    whole = tuple(State)
    said = [
        f"{item}.kind = '{kind}'"
        if states == whole
        else f"({item}.kind = '{kind}' AND {item}.state IN ({_words(states)}))"
        for kind, states in _GONE.items()
    ]
    return f"({' OR '.join(said)})"


def out_sql(item: str, *, state: str | None = None) -> str:
    """That a row of items is a part which is with a customer, and is not gone for good; or was, in an earlier state."""
    there = _words(one for one in _OUT if one not in _GONE[Kind.PART])
    return f"({item}.kind = '{Kind.PART}' AND {state or f'{item}.state'} IN ({there}))"


def _words(states: Iterable[State]) -> str:
    return ", ".join(f"'{state}'" for state in states)


def reaching(root: Root) -> tuple[str, tuple[Any, ...]]:
    """The tables `stock`, `first` and `piece` of a recall as the beginning of a statement, and their values."""
    shelf = ", ".join(f"'{kind}'" for kind in _ON_THE_SHELF)
    if root.kind == Kind.LOT:
        # A lot is what stands on its shelf, however it was decanted.
        stock = (
            "stock(id) AS (SELECT CAST(? AS BIGINT) UNION SELECT m.target_id FROM stock"
            f" {each('movement', 'm', 'm.source_id IN (stock.id)')}"
            f" WHERE m.kind IN ({shelf}) AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL)"
        )
        away = f" AND m.kind NOT IN ({shelf})"
    elif root.goes_into_things:
        # What was decanted from a can before it went bad is as good as what was poured from it then.
        stock, away = "stock(id) AS (SELECT CAST(? AS BIGINT))", ""
    if root.goes_into_things:
        first = (
            f"first(id) AS (SELECT DISTINCT m.target_id FROM stock"
            f" {each('movement', 'm', 'm.source_id IN (stock.id)')}"
            f" WHERE m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL{away}"
            " AND m.occurred_at >= ? AND m.occurred_at <= ?)"
        )
        given: tuple[Any, ...] = (root.item, *root.time)
    else:
        stock = "stock(id) AS (SELECT CAST(0 AS BIGINT) WHERE 1 = 0)"
        used, given = _used(root)
        first = f"first(id) AS ({used})"
    reach = steps("SELECT id FROM first", back=False)
    piece = f"piece(id) AS (SELECT id FROM reach{' UNION SELECT id FROM stock' if root.itself else ''})"
    return f"WITH RECURSIVE {stock}, {first}, {reach}, {piece}", given


def on_the_shelf_before(root: Root) -> list[int]:
    """The cans of a lot that were there already when the time begins from which it is called back."""
    prefix, given = reaching(root)
    rows = rows_of(
        f"{prefix} SELECT i.id FROM stock {each('item', 'i', 'i.id = stock.id')} JOIN deed d ON d.id = i.deed_id"
        " WHERE i.kind = 'C' AND d.occurred_at < ? ORDER BY i.id",
        *given,
        root.time[0],
    )
    return [number for (number,) in rows]


def _used(root: Root) -> Selected:
    if root.item is not None:
        return used_on(root.item, *root.time)
    return done_by(known(root.person), [known(root.task)], *root.time)


@dataclass(frozen=True, slots=True)
class Hands:
    """Somebody who may have done something, be it long ago."""

    id: int
    name: str


def hands() -> list[Hands]:
    """All people, by their names."""
    query = "SELECT p.id, p.name FROM person p WHERE NOT p.is_system AND p.id <> ? ORDER BY p.name, p.id"
    return [Hands(number, name) for number, name in rows_of(query, MACHINE)]


def tasks_of(person: int) -> list[str]:
    """By which words what somebody did can be called back, as notes and movements have them."""
    roles = rows_of("SELECT DISTINCT w.role FROM made_with w WHERE w.person_id = ?", person)
    acts = rows_of(
        f"SELECT DISTINCT d.operation FROM deed d {each('movement', 'm', 'm.deed_id = d.id')} WHERE d.person_id = ?"
        f" AND {STANDS}",
        person,
    )
    said = {role for (role,) in roles} | {ACTS[name].did for (name,) in acts if name in ACTS}
    # A task that has two words is one to choose.
    twice = {did for noted, did in THE_SAME_TASK.items() if noted in said}
    return sorted(word for word in said - twice if word is not None)


def reach_of(root: Root) -> Reach:
    """What the recall reaches, in three statements."""
    prefix, given = reaching(root)
    rows = rows_of(
        f"{prefix} SELECT i.id, i.code, i.kind, i.name, i.state, a.name,"
        " (SELECT s.customer FROM shipment s WHERE s.part_id = i.id ORDER BY s.id DESC LIMIT 1), p.customer, i.balance,"
        f" i.unit FROM piece {each('item', 'i', 'i.id = piece.id')} {each_or_none('item', 'a', 'a.id = i.place_id')}"
        f" {each_or_none('part', 'p', 'p.item_id = i.id')} WHERE i.kind <> 'L' ORDER BY i.id",
        *given,
    )
    begun = rows_of(f"{prefix} SELECT 0, id FROM stock UNION ALL SELECT 1, id FROM first", *given)
    stock, first = (tuple(sorted(number for which, number in begun if which == one)) for one in (0, 1))
    contents = contents_of(
        (prefix, given),
        pieces={*stock, *(row[0] for row in rows)},
        stock=frozenset(stock),
        whole=frozenset() if root.goes_into_things else frozenset(first),
        time=root.time,
    )
    return Reach(stock, first, tuple(_piece(row, contents) for row in rows), contents)


def _piece(row: tuple[Any, ...], contents: Contents) -> Piece:
    number, code, kind, name, state, place, shipped_to, ordered_by, balance, unit = row
    customer = shipped_to or ordered_by if state in _OUT else shipped_to
    inside: float | None = None
    if unit == Unit.MILLIGRAM and contents.is_weighed(number):
        inside = balance * contents.share(number)
    elif kind == Kind.PART and number not in contents.stock and contents.is_weighed(number):
        # What is in a part that was fitted is in the part that it was fitted into.
        inside = 0 if state == State.FITTED else contents.inside(number)[0]
    return Piece(number, code, Kind(kind), name, state, place, customer, None if inside is None else round(inside))
