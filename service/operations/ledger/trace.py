"""The trace: from any code back to what it was made of, or forward to what was made of it, at any depth.

A lot may reach hundreds of thousands of items. So each look is one statement that holds the recursive query, the holds
and the names in it; rows leave the database as they are, and an answer is either short enough to be held whole or
a stream that never is.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Any

from schemas.words import KIND_NAMES, Kind, MovementKind, State, Unit
from service.database import each, each_or_none, listed, looked_up, row_by_row, rows_of
from service.operations.door.refusals import Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.failing import has_failed
from service.records.base import as_day, microseconds
from service.records.closures import steps
from service.records.items import Item

MOST_ROWS = 5000
"""Items and movements that one answer holds; a longer trace is given whole as a stream."""


_FEW_HELD = 3000
_AWAY = (MovementKind.LEFT, MovementKind.LOSS, MovementKind.WASTE, MovementKind.SCRAP, MovementKind.FOUND_LESS)
_KINDS_AWAY = ", ".join(f"'{kind}'" for kind in _AWAY)
_WENT_AWAY = (
    f"(m.target_id IS NULL AND m.kind IN ({_KINDS_AWAY}) AND m.amount IS NOT NULL AND m.cancelled_by_id IS NULL)"
)


class Direction(StrEnum):
    BACK = "back"
    FORWARD = "forward"


@dataclass(frozen=True, slots=True)
class TracedItem:
    """An item in a trace: what it is, how it stands and where it is now.

    Attributes
    ----------
    left
        What is left of it.
    good_until
        The date on it; once opened, or by a retest date, it may be good for less: GET /v1/containers/{container} says.
    """

    code: str
    kind: Kind
    name: str
    state: State
    place_name: str | None
    left: Annotated[int, Unit]
    unit: str | None
    lot: str | None
    makers_lot: str | None
    good_until: date | None
    on_hold: bool
    failed: bool


@dataclass(frozen=True, slots=True)
class TracedMovement:
    """How much of one went into the other, and when.

    Attributes
    ----------
    amount
        Missing where it was not measured.
    """

    source: str
    target: str
    kind: MovementKind
    purpose: str | None
    amount: Annotated[int, Unit] | None
    unit: str | None
    estimated: bool
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class WentAway:
    """What of the traced things went into nothing that is here: left in cups, lost, wasted, scrapped, not found.

    Attributes
    ----------
    times
        In how many movements.
    estimated
        Whether any of it was estimated.
    """

    kind: MovementKind
    times: int
    amount: Annotated[int, Unit]
    unit: str
    estimated: bool


@dataclass(frozen=True, slots=True)
class Totals:
    """How many rows a trace has.

    Attributes
    ----------
    items
        Of the whole trace, the item itself among them.
    movements
        Of the whole trace.
    """

    items: int
    movements: int


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything that an item was made of (back) or that was made of it (forward), in one document.

    Counts and totals are of the whole trace. One of more than 5,000 rows (items and movements together) has the first
    5,000 here, items before movements.

    Attributes
    ----------
    counts
        By kind, of the whole trace; the item itself is left out.
    went_away
        What of all these went into cups, loss and scrap instead, by kind.
    rest
        Of a trace of more than 5,000 rows: how to get all of them. Else null.
    """

    code: str
    direction: Direction
    counts: dict[str, int]
    totals: Totals
    went_away: tuple[WentAway, ...]
    rest: str | None
    items: tuple[TracedItem, ...]
    movements: tuple[TracedMovement, ...]


@dataclass(frozen=True, slots=True)
class Traced:
    """A trace as rows: of an item the columns of `TracedItem`, of a movement those of `TracedMovement`, in their order.

    They are as the driver gives them: an instant in microseconds since 1970, a truth as 0 or 1 (SQLite).
    """

    code: str
    direction: Direction
    counts: dict[str, int]
    totals: Totals
    went_away: tuple[WentAway, ...]
    items: Iterator[tuple[Any, ...]]
    movements: Iterator[tuple[Any, ...]]

    @property
    def rows(self) -> int:
        return self.totals.items + self.totals.movements


def trace(code: str, *, direction: Direction = Direction.BACK, since: datetime | None = None, whole: bool) -> Traced:
    """The first 5,000 rows of a trace, or, ``whole``, all of them one after the other.

    ``since`` leaves out what was taken from the item before: what a hold "from this time on" reaches.
    """
    root = root_of(code, direction=direction, since=since)
    look = Look.at(root.id, back=direction == Direction.BACK, since=since)
    if whole:
        counts, totals, away = look.totals()
        return Traced(code, direction, counts, totals, away, look.items(), look.movements())
    items = list(look.items(MOST_ROWS + 1))
    fits = len(items) <= MOST_ROWS
    forward = fits and direction == Direction.FORWARD
    together = look.movements_and_away(2 * MOST_ROWS) if forward else None
    moved = together[0] if together else list(look.movements(MOST_ROWS + 1 - len(items))) if fits else []
    if together or len(items) + len(moved) <= MOST_ROWS:
        kinds = Counter(row[1] for row in items if row[0] != code)
        counts, totals = _named(kinds), Totals(len(items), len(moved))
        away = together[1] if together else look.went_away()
    else:
        counts, totals, away = look.totals()
    items = items[:MOST_ROWS]
    some = iter(moved[: MOST_ROWS - len(items)])
    return Traced(code, direction, counts, totals, away, iter(items), some)


def root_of(code: str, *, direction: Direction, since: datetime | None) -> Item:
    """The item from which a trace begins, if it was asked for rightly."""
    if since is not None and direction == Direction.BACK:
        raise Unprocessable(
            "since goes with direction=forward: it leaves out what was taken before that time.", pointer="/since"
        )
    return ledger.find(code)


def _named(kinds: dict[str, int]) -> dict[str, int]:
    return dict(sorted((KIND_NAMES[Kind(kind)], number) for kind, number in kinds.items()))


@dataclass(frozen=True, slots=True)
class Look:
    """A look from one item in one direction; each method is one statement."""

    root: int
    back: bool
    reach: str
    first: tuple[Any, ...]
    near: str
    far: str
    stands: str

    @classmethod
    def at(cls, root: int, *, back: bool, since: datetime | None = None) -> "Look":
        near, far = ("target_id", "source_id") if back else ("source_id", "target_id")
        stands = f"m.{far} IS NOT NULL AND m.cancelled_by_id IS NULL"
        if since is None:
            return cls(root, back, steps("SELECT CAST(? AS BIGINT)", back=back), (root,), near, far, stands)
        begun = microseconds(since)
        start = (
            "SELECT m.target_id FROM movement m WHERE m.source_id = ? AND m.occurred_at >= ?"
            " AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL"
        )
        # The item itself belongs to the trace, but only with what was taken from it since.
        since_then = steps(start, back=back, name="since_then")
        reach = f"{since_then}, reach(id) AS (SELECT id FROM since_then UNION SELECT CAST(? AS BIGINT))"
        early = f" AND NOT (m.source_id = {root} AND m.occurred_at < {begun})"
        return cls(root, back, reach, (root, begun, root), near, far, stands + early)

    def counts(self) -> dict[str, int]:
        """By kind, the item itself left out."""
        return _named(dict(rows_of(f"WITH RECURSIVE {self.reach} {self._kinds('i.kind, count(*)')}", *self.first)))

    def _kinds(self, columns: str) -> str:
        items = each("item", "i", "i.id = r.id")
        return f"SELECT {columns} FROM reach r {items} WHERE r.id <> {self.root} GROUP BY i.kind"

    def totals(self) -> tuple[dict[str, int], Totals, tuple[WentAway, ...]]:
        """All that comes first, of the whole trace, by one walk; what went away from a walk back takes one more."""
        also = "" if self.back else f" OR {_WENT_AWAY}"
        inside = "CASE WHEN m.target_id IS NULL THEN 0 ELSE 1 END"
        rows = rows_of(
            f"WITH RECURSIVE {self.reach}"
            f" SELECT {inside} AS what, m.kind AS kind, count(*), sum(m.amount), m.unit AS unit,"
            " max(CASE WHEN m.estimated THEN 1 ELSE 0 END)"
            f" FROM reach r {each('movement', 'm', f'm.{self.near} IN (r.id)')} WHERE ({self.stands}){also}"
            f" GROUP BY {inside}, m.kind, m.unit"
            f" UNION ALL {self._kinds('2, i.kind, count(*), 0, NULL, 0')} ORDER BY kind, unit",
            *self.first,
        )
        counts = _named({kind: number for what, kind, number, *_ in rows if what == 2})
        away = self.went_away() if self.back else _away_of(row[1:] for row in rows if row[0] == 0)
        movements = sum(number for what, _, number, *_ in rows if what == 1)
        return counts, Totals(1 + sum(counts.values()), movements), away

    def went_away(self) -> tuple[WentAway, ...]:
        """What left the items of the trace for nothing that is here, by kind and unit."""
        rows = rows_of(
            f"WITH RECURSIVE {self.reach} SELECT m.kind, count(*), sum(m.amount), m.unit,"
            " max(CASE WHEN m.estimated THEN 1 ELSE 0 END)"
            f" FROM reach r {each('movement', 'm', 'm.source_id IN (r.id)')}"
            f" WHERE {_WENT_AWAY} GROUP BY m.kind, m.unit ORDER BY m.kind, m.unit",
            *self.first,
        )
        return _away_of(rows)

    def items(self, most: int | None = None) -> Iterator[tuple[Any, ...]]:
        """The items in the order of their making, each as a `TracedItem`'s columns."""
        page = f"page(id) AS (SELECT id FROM reach ORDER BY id{'' if most is None else f' LIMIT {most}'})"
        held = _all_held()
        return _marked(self._rows(_items(f"{self.reach}, {page}", look_up=held is None), most), held)

    def movements(self, most: int | None = None) -> Iterator[tuple[Any, ...]]:
        """The movements among them that stand, oldest first, each as a `TracedMovement`'s columns."""
        sql = (
            f"WITH RECURSIVE {self.reach}"
            " SELECT s.code, t.code, m.kind, m.purpose, m.amount, m.unit, m.estimated, m.occurred_at"
            f" FROM reach r {each('movement', 'm', f'm.{self.near} IN (r.id)')}"
            f" {each('item', 's', 's.id = m.source_id')} {each('item', 't', 't.id = m.target_id')}"
            f" WHERE {self.stands} ORDER BY m.occurred_at, m.id{'' if most is None else f' LIMIT {most}'}"
        )
        return self._rows(sql, most)

    def movements_and_away(self, most: int) -> tuple[list[tuple[Any, ...]], tuple[WentAway, ...]] | None:
        """`movements` and `went_away` of a look forward by one walk, if together they are few rows."""
        rows = rows_of(
            f"WITH RECURSIVE {self.reach}"
            " SELECT s.code, t.code, m.kind, m.purpose, m.amount, m.unit, m.estimated, m.occurred_at"
            f" FROM reach r {each('movement', 'm', 'm.source_id IN (r.id)')}"
            f" {each('item', 's', 's.id = m.source_id')} {each_or_none('item', 't', 't.id = m.target_id')}"
            f" WHERE ({self.stands}) OR {_WENT_AWAY} ORDER BY m.occurred_at, m.id LIMIT {most + 1}",
            *self.first,
        )
        gone: dict[tuple[str, str], list[tuple[Any, ...]]] = {}
        for row in rows:
            if row[1] is None:
                gone.setdefault((row[2], row[5]), []).append(row)
        away = (
            (k, len(of), sum(r[4] for r in of), unit, any(r[6] for r in of)) for (k, unit), of in sorted(gone.items())
        )
        return None if len(rows) > most else ([row for row in rows if row[1] is not None], _away_of(away))

    def _rows(self, sql: str, most: int | None) -> Iterator[tuple[Any, ...]]:
        return row_by_row(sql, *self.first) if most is None else iter(rows_of(sql, *self.first))


def _away_of(rows: Iterable[tuple[Any, ...]]) -> tuple[WentAway, ...]:
    return tuple(WentAway(MovementKind(k), n, int(amount), unit, bool(e)) for k, n, amount, unit, e in rows)


def traced_items(ids: Iterable[int]) -> dict[int, TracedItem]:
    """Some items as a trace says them; for a page of them at most."""
    wanted = list(ids)
    if not wanted:
        return {}
    held = _all_held()
    rows = rows_of(_items(f"page(id) AS (SELECT id FROM {looked_up()})", look_up=held is None), listed(wanted))
    return {row[-1]: _traced_item(row) for row in _marked(rows, held)}


def _traced_item(row: tuple[Any, ...]) -> TracedItem:
    good_until, on_hold, failed, _ = row[9:]
    told = [*row[:9], as_day(good_until), bool(on_hold), bool(failed)]
    return TracedItem(*told)


def _marked(rows: Iterable[tuple[Any, ...]], held: set[int] | None) -> Iterator[tuple[Any, ...]]:
    """The rows with what is known to be on hold said in them; ``None`` where the statement has said it."""
    if not held:
        return iter(rows)
    return ((*row[:10], row[-1] in held, *row[11:]) for row in rows)


def _items(page: str, *, look_up: bool) -> str:
    """The statement for the items of a page, which ``page`` says; the item's own number comes last.

    ``look_up``: what is on hold is looked for behind them.
    """
    held, on_hold = (f", {_held()}", "h.id IS NOT NULL") if look_up else ("", "1 = 0")
    return (
        f"WITH RECURSIVE {page}{held}"
        " SELECT i.code, i.kind, i.name, i.state, a.name, i.balance, i.unit, li.code, l.makers_lot, c.expires_on,"
        f" {on_hold}, {has_failed('i')}, i.id"
        f" FROM page r {each('item', 'i', 'i.id = r.id')}"
        f" {each_or_none('item', 'a', 'a.id = i.place_id')}"
        f" {each_or_none('container', 'c', 'c.item_id = i.id')}"
        f" {each_or_none('lot', 'l', 'l.item_id = coalesce(c.lot_id, i.id)')}"
        f" {each_or_none('item', 'li', 'li.id = c.lot_id')}"
        f"{' LEFT JOIN held h ON h.id = i.id' if held else ''} ORDER BY i.id"
    )


def _all_held() -> set[int] | None:
    """All that any hold reaches, if that is not much, as in most shops on most days; else nothing.

    What is behind a page of items may be many times as much as what the few holds reach.
    """
    taken = (
        f"SELECT m.target_id FROM hold h {each('movement', 'm', 'm.source_id IN (h.item_id)')}"
        " WHERE h.lifted_at IS NULL AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL"
        " AND (h.since IS NULL OR m.occurred_at >= h.since)"
    )
    found = rows_of(
        f"WITH RECURSIVE {steps(taken, back=False, name='taken')}"
        " SELECT item_id FROM hold WHERE lifted_at IS NULL AND item_id IS NOT NULL"
        f" UNION ALL SELECT id FROM taken LIMIT {_FEW_HELD + 1}"
    )
    return {number for (number,) in found} if len(found) <= _FEW_HELD else None


def _held() -> str:
    """What stops the items of a page: up to all that is behind them, and from the holds there down again within it.

    A dated hold begins with what was taken since.
    """
    taken = (
        f"SELECT m.target_id FROM stop {each('movement', 'm', 'm.source_id IN (stop.id)')}"
        " WHERE +m.target_id IN (SELECT id FROM up) AND m.cancelled_by_id IS NULL"
        " AND (stop.since IS NULL OR m.occurred_at >= stop.since)"
    )
    return (
        f"{steps('SELECT id FROM page', back=True, name='up')}"
        ", stop(id, since) AS (SELECT item_id, since FROM hold"
        " WHERE lifted_at IS NULL AND item_id IN (SELECT id FROM up))"
        f", {steps(taken, back=False, name='taken', within='up')}"
        ", held(id) AS (SELECT id FROM taken UNION SELECT id FROM stop)"
    )
