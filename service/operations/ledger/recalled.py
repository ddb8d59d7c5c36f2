"""What a recall reaches, and what is proved not to be affected: worked out from the movements that stand."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from schemas.words import Kind, MovementKind, State
from service.database import each, each_or_none, rows_of
from service.operations.door.acts import ACTS
from service.records.base import microseconds
from service.records.closures import steps

_INTO_THINGS = (Kind.LOT, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.CURE, Kind.PART)
# By these a lot becomes containers, and containers others, on the shelf.
_ON_THE_SHELF = (MovementKind.PACKING, MovementKind.DECANT, MovementKind.OFFCUT)
_OUT = (State.SHIPPED, State.FITTED)
_MOST_SPARED = 50
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
    def from_the_start(self) -> bool:
        """Whether a hold on the thing itself means what is asked: of a lot, its cans are what is taken from."""
        return self.since is None or self.kind != Kind.LOT

    @property
    def time(self) -> tuple[int, int]:
        first = -(2**62) if self.since is None else microseconds(self.since)
        return first, 2**62 if self.until is None else microseconds(self.until)


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing that is reached, as it stands now."""

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
    """All that is reached: what stands on the shelf, the first things made of it or with it, and all pieces."""

    stock: tuple[int, ...]
    first: tuple[int, ...]
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Spared:
    """Something of the same kind that is proved not to be affected, how many parts were made of it, and why.

    Attributes
    ----------
    parts
        Parts that were made of it or with it and that the recall does not reach.
    """

    what: str
    parts: int
    because: str


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
        by = "w.used_id = ?" if root.item is not None else "w.person_id = ? AND w.role = ?"
        who = (root.item,) if root.item is not None else (root.person, root.task)
        stock = "stock(id) AS (SELECT CAST(0 AS BIGINT) WHERE 1 = 0)"
        used = f"SELECT w.item_id FROM made_with w WHERE {by} AND w.occurred_at >= ? AND w.occurred_at <= ?"
        given = (*who, *root.time)
        if root.person is not None:
            used += (
                f" UNION SELECT m.target_id FROM deed d {_moved_in(root.task)} WHERE d.person_id = ?"
                f" AND {_STANDS} AND m.occurred_at >= ? AND m.occurred_at <= ?"
            )
            given = (*given, root.person, *root.time)
        first = f"first(id) AS ({used})"
    reach = steps("SELECT id FROM first", back=False)
    piece = "piece(id) AS (SELECT id FROM reach UNION SELECT id FROM stock)"
    return f"WITH RECURSIVE {stock}, {first}, {reach}, {piece}", given


# A movement that tells what somebody did to what it went into.
_STANDS = "m.source_id IS NOT NULL AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL"


def _moved_in(task: str | None) -> str:
    """The movements of deeds by which that task is done, in the words in which a report names it: cut the kit."""
    acts = ", ".join(f"'{name}'" for name, act in ACTS.items() if act.did == task) or "''"
    return each("movement", "m", f"m.deed_id = d.id AND d.operation IN ({acts})")


def tasks_of(person: int) -> list[str]:
    """By which words what somebody did can be called back, as notes and movements have them."""
    roles = rows_of("SELECT DISTINCT w.role FROM made_with w WHERE w.person_id = ?", person)
    acts = rows_of(
        f"SELECT DISTINCT d.operation FROM deed d {each('movement', 'm', 'm.deed_id = d.id')} WHERE d.person_id = ?"
        f" AND {_STANDS}",
        person,
    )
    said = {role for (role,) in roles} | {ACTS[name].did for (name,) in acts if name in ACTS}
    return sorted(word for word in said if word is not None)


def reach_of(root: Root) -> Reach:
    """What the recall reaches, in three statements."""
    # The plus keeps SQLite from trying every piece as the source of every other by its index over both ends.
    prefix, given = reaching(root)
    rows = rows_of(
        f"{prefix} SELECT i.id, i.code, i.kind, i.name, i.state, a.name,"
        " (SELECT s.customer FROM shipment s WHERE s.part_id = i.id ORDER BY s.id DESC LIMIT 1), p.customer, i.balance,"
        " i.unit,"
        " (SELECT sum(m.amount) FROM movement m WHERE m.target_id = i.id AND m.cancelled_by_id IS NULL"
        " AND m.unit = 'mg' AND +m.source_id IN (SELECT id FROM piece))"
        f" FROM piece {each('item', 'i', 'i.id = piece.id')} {each_or_none('item', 'a', 'a.id = i.place_id')}"
        f" {each_or_none('part', 'p', 'p.item_id = i.id')} WHERE i.kind <> 'L' ORDER BY i.id",
        *given,
    )
    return Reach(
        stock=tuple(number for (number,) in rows_of(f"{prefix} SELECT id FROM stock ORDER BY id", *given)),
        first=tuple(number for (number,) in rows_of(f"{prefix} SELECT id FROM first ORDER BY id", *given)),
        pieces=tuple(_piece(row) for row in rows),
    )


def _piece(row: tuple[Any, ...]) -> Piece:
    number, code, kind, name, state, place, shipped_to, ordered_by, balance, unit, came_in = row
    inside = (balance if unit == "mg" else None) if kind == Kind.CONTAINER else came_in
    customer = shipped_to or ordered_by if state in _OUT else shipped_to
    return Piece(number, code, Kind(kind), name, state, place, customer, None if inside is None else int(inside))


def spared_by(root: Root) -> tuple[Spared, ...]:
    """What could be thought to be affected and is proved not to be: of another time, another lot, another tool."""
    found = [*_of_another_time(root)]
    if root.kind in (Kind.LOT, Kind.CONTAINER):
        found += _of_other_lots(root)
    elif root.item is not None and not root.goes_into_things:
        found += _with_other_tools(root)
    if root.kind in (Kind.MIX, Kind.KIT, Kind.CURE, Kind.PART, Kind.CONTAINER):
        found += _of_the_same_things(root)
    if root.person is not None:
        found += _by_other_hands(root)
    return tuple(found)


def _of_another_time(root: Root) -> Iterable[Spared]:
    if root.since is None and root.until is None:
        return
    prefix, given = reaching(root)
    whole, of_all = reaching(replace(root, since=None, until=None))
    ((reached,),) = rows_of(f"{prefix} SELECT count(*) FROM piece JOIN part p ON p.item_id = piece.id", *given)
    ((ever,),) = rows_of(f"{whole} SELECT count(*) FROM piece JOIN part p ON p.item_id = piece.id", *of_all)
    if ever > reached:
        if root.person is not None:
            because = "That was not done for them in that time, but at another."
        elif root.goes_into_things:
            because = "Nothing was taken from it for them in that time."
        else:
            because = "It was not used for them in that time."
        yield Spared(root.name, ever - reached, because)


def _of_other_lots(root: Root) -> Iterable[Spared]:
    prefix, given = reaching(root)
    own = "SELECT c.lot_id FROM container c WHERE c.item_id IN (SELECT id FROM stock)"
    others = (
        "other(id) AS (SELECT DISTINCT o.lot_id FROM container o WHERE o.material_id IN"
        " (SELECT c.material_id FROM container c WHERE c.item_id IN (SELECT id FROM stock))"
        f" AND o.lot_id NOT IN ({own})"
        f" ORDER BY o.lot_id DESC LIMIT {_MOST_SPARED})"
    )
    away = steps("SELECT id, id FROM other", back=False, name="away", also="lot")
    for code, name, parts in rows_of(
        f"{prefix}, {others}, {away} SELECT i.code, i.name, count(*) FROM away"
        f" {each('part', 'p', 'p.item_id = away.id')} {each('item', 'i', 'i.id = away.lot')}"
        " WHERE p.item_id NOT IN (SELECT id FROM piece) GROUP BY i.code, i.name ORDER BY i.code",
        *given,
    ):
        yield Spared(
            f"lot {code}, {name}", parts, f"Nothing of {root.name} went into them, nor into what they were made of."
        )


def _with_other_tools(root: Root) -> Iterable[Spared]:
    prefix, given = reaching(root)
    others = (
        "used(id, tool) AS (SELECT DISTINCT w.item_id, w.used_id FROM made_with w JOIN item t ON t.id = w.used_id"
        " WHERE t.kind = ? AND w.used_id <> ?)"
    )
    away = steps("SELECT id, tool FROM used", back=False, name="away", also="tool")
    for code, name, parts in rows_of(
        f"{prefix}, {others}, {away} SELECT i.code, i.name, count(*) FROM away"
        f" {each('part', 'p', 'p.item_id = away.id')} {each('item', 'i', 'i.id = away.tool')}"
        f" WHERE p.item_id NOT IN (SELECT id FROM piece) GROUP BY i.code, i.name ORDER BY i.code LIMIT {_MOST_SPARED}",
        *given,
        str(root.kind),
        root.item,
    ):
        yield Spared(f"{code} {name}", parts, f"They were made with it, and not with {root.name} in that time.")


def _of_the_same_things(root: Root) -> Iterable[Spared]:
    """What shares a can, a roll or a tool with it, and not the thing itself: of a can, what its lot's other cans made.

    Of a cure, which nothing goes into, it is the place where it was cured.
    """
    prefix, given = reaching(root)
    if root.kind == Kind.CONTAINER:
        own = (
            "SELECT o.item_id FROM container o WHERE o.lot_id IN (SELECT c.lot_id FROM container c"
            " WHERE c.item_id IN (SELECT id FROM stock)) AND o.item_id NOT IN (SELECT id FROM piece)"
        )
    else:
        own = (
            "SELECT m.source_id FROM movement m JOIN item s ON s.id = m.source_id"
            " WHERE m.target_id IN (SELECT id FROM stock) AND m.cancelled_by_id IS NULL AND s.kind IN ('C', 'K', 'M')"
        )
    used = "SELECT w.used_id FROM made_with w WHERE w.item_id IN (SELECT id FROM stock) AND w.used_id IS NOT NULL"
    begun = (
        f"same(id) AS ({own}{' UNION ' + used if root.kind == Kind.CURE else ''}), begun(id, same) AS (SELECT id, id"
        " FROM same UNION SELECT w.item_id, w.used_id FROM same"
        f" {each('made_with', 'w', 'w.used_id IN (same.id)')})"
    )
    away = steps("SELECT id, same FROM begun", back=False, name="away", also="same")
    for code, name, parts in rows_of(
        f"{prefix}, {begun}, {away} SELECT i.code, i.name, count(*) FROM away"
        f" {each('part', 'p', 'p.item_id = away.id')} {each('item', 'i', 'i.id = away.same')}"
        f" WHERE p.item_id NOT IN (SELECT id FROM piece) GROUP BY i.code, i.name ORDER BY i.code LIMIT {_MOST_SPARED}",
        *given,
    ):
        shared = "are of the same lot" if root.kind == Kind.CONTAINER else "share this with it"
        yield Spared(f"{code} {name}", parts, f"They {shared}; nothing of {root.name} itself went into them.")


def _by_other_hands(root: Root) -> Iterable[Spared]:
    prefix, given = reaching(root)
    others = (
        "others(id) AS (SELECT w.item_id FROM made_with w WHERE w.role = ? AND w.person_id IS NOT NULL"
        f" AND w.person_id <> ? UNION SELECT m.target_id FROM deed d {_moved_in(root.task)}"
        f" WHERE d.person_id <> ? AND {_STANDS})"
    )
    away = steps("SELECT id FROM others", back=False, name="away")
    ((parts,),) = rows_of(
        f"{prefix}, {others}, {away} SELECT count(*) FROM away {each('part', 'p', 'p.item_id = away.id')}"
        " WHERE p.item_id NOT IN (SELECT id FROM piece)",
        *given,
        root.task,
        root.person,
        root.person,
    )
    if parts:
        yield Spared(
            f"what others did ({root.task})", parts, f"The task was done for them by others alone, not {root.name}."
        )


def as_kept(reach: Reach, spared: Sequence[Spared]) -> dict[str, Any]:
    """What is kept of it in the recall's own row."""
    return {"spared": [asdict(one) for one in spared], "pieces": len(reach.pieces)}
