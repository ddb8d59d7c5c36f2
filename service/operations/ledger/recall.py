"""A recall as it is read: where each piece stands now, what is proved not to be affected, how far it has come."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import JOIN

from schemas.words import Kind, PieceFound, State
from service.database import each, each_or_none, rows_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger.graph import StandingHold, standing_holds
from service.operations.ledger.recalled import Spared, to_fetch, where_it_is
from service.records.base import as_word, instant
from service.records.items import Item
from service.records.people import Person
from service.records.recalls import Recall


@dataclass(frozen=True, slots=True)
class RecallPieceView:
    """One piece of a recall.

    Attributes
    ----------
    where
        stock, opened, pots, in work, finished, shipped, no more: as it stands now.
    mass_mg
        What of the recalled thing is in it as booked; of a container, what is left.
    to_fetch
        Whether there is still something to go and look for.
    found
        What became of it, if anybody has said it yet.
    on_hold
        Whether a hold stands that is on it or on something that it was made of.
    failed
        Whether somebody said that it failed.
    """

    code: str
    kind: Kind
    name: str
    where: str
    state: State
    place: str | None
    customer: str | None
    mass_mg: int | None
    to_fetch: bool
    found: PieceFound | None
    remark: str | None
    found_at: datetime | None
    on_hold: bool
    failed: bool


@dataclass(frozen=True, slots=True)
class RecallTotal:
    """How many pieces stand somewhere, and how much of the recalled thing is in them."""

    where: str
    pieces: int
    mass_mg: int
    followed: int


@dataclass(frozen=True, slots=True)
class RecallView:
    """A recall with all its pieces.

    Attributes
    ----------
    of
        What is called back, in words.
    notice
        The supplier's, in the supplier's words.
    spared
        What could be thought to be affected and is proved not to be, and why.
    customers
        To whom pieces were shipped; each is written a letter.
    left
        How many pieces have to be fetched and have not been followed to their end yet.
    """

    id: int
    of: str
    item: str | None
    person: int | None
    task: str | None
    reason: str
    notice: str | None
    since: datetime | None
    until: datetime | None
    opened_at: datetime
    opened_by: str
    totals: tuple[RecallTotal, ...]
    pieces: tuple[RecallPieceView, ...]
    spared: tuple[Spared, ...]
    customers: tuple[str, ...]
    left: int
    closed_at: datetime | None
    closed_by: str | None
    effectiveness: str | None


@dataclass(frozen=True, slots=True)
class RecallRow:
    """A recall in the list."""

    id: int
    of: str
    reason: str
    opened_at: datetime
    closed_at: datetime | None


_ORDER = ("stock", "opened", "pots", "in work", "finished", "shipped", "no more")


def view_recall(row: Recall) -> RecallView:
    """All there is on a recall, in four statements."""
    pieces = tuple(
        sorted(_pieces(row.id), key=lambda p: (_ORDER.index(p.where), p.customer or "", p.place or "", p.code))
    )
    names = dict(
        Person.select(Person.id, Person.name)
        .where(Person.id.in_([p for p in (row.opened_by_id, row.closed_by_id, row.person_id) if p is not None]))
        .tuples()
    )
    shipped = sorted({p.customer or "nobody named" for p in pieces if p.where == "shipped"})
    return RecallView(
        id=row.id,
        of=_of(row, names),
        item=row.item.code if row.item is not None else None,
        person=row.person_id,
        task=row.task,
        reason=row.reason,
        notice=row.notice,
        since=row.since,
        until=row.until,
        opened_at=row.opened_at,
        opened_by=names[row.opened_by_id],
        totals=tuple(_totals(pieces)),
        pieces=pieces,
        spared=tuple(Spared(**one) for one in row.found["spared"]),
        customers=tuple(shipped),
        left=sum(p.to_fetch and p.found is None for p in pieces),
        closed_at=row.closed_at,
        closed_by=names[row.closed_by_id] if row.closed_by_id is not None else None,
        effectiveness=row.effectiveness,
    )


def _of(row: Recall, names: Mapping[int | None, str]) -> str:
    if row.item is not None:
        return f"{row.item.code} {row.item.name}"
    return f"what {names[row.person_id]} did ({row.task})"


def _totals(pieces: Iterable[RecallPieceView]) -> Iterable[RecallTotal]:
    counts: Counter[str] = Counter()
    masses: dict[str, int] = defaultdict(int)
    followed: Counter[str] = Counter()
    for piece in pieces:
        counts[piece.where] += 1
        masses[piece.where] += piece.mass_mg or 0
        followed[piece.where] += piece.found is not None
    return [RecallTotal(where, counts[where], masses[where], followed[where]) for where in _ORDER if counts[where]]


def _pieces(recall: int) -> Iterable[RecallPieceView]:
    last = "SELECT max(s.id) FROM recall_step s WHERE s.piece_id = p.id"
    rows = rows_of(
        "SELECT i.code, i.kind, i.name, i.state, a.name, p.customer,"
        " (SELECT max(sh.customer) FROM shipment sh WHERE sh.part_id = i.id), p.mass_mg, t.found, t.remark,"
        " t.occurred_at, EXISTS (SELECT 1 FROM nonconformance n WHERE n.item_id = i.id AND n.failed), i.id"
        f" FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')}"
        f" {each_or_none('item', 'a', 'a.id = i.place_id')}"
        f" LEFT JOIN recall_step t ON t.id = ({last}) WHERE p.recall_id = ? ORDER BY i.id",
        recall,
    )
    holds = standing_holds([row[-1] for row in rows])
    return [_piece(row, held=holds[row[-1]]) for row in rows]


def _piece(row: tuple[Any, ...], *, held: Sequence[StandingHold]) -> RecallPieceView:
    code, kind, name, state, place, before, shipped_to, mass, found, remark, at, failed, _ = row
    return RecallPieceView(
        code=code,
        kind=Kind(kind),
        name=name,
        where=where_it_is(Kind(kind), state),
        state=as_word(State, state),
        place=place,
        customer=shipped_to or before,
        mass_mg=mass,
        to_fetch=to_fetch(Kind(kind), state),
        found=as_word(PieceFound, found),
        remark=remark,
        found_at=None if at is None else instant(at),
        on_hold=bool(held),
        failed=bool(failed),
    )


def links_of(recall: int) -> tuple[tuple[str, str], ...]:
    """What went into what among the pieces, by their codes."""
    rows = rows_of(
        f"SELECT DISTINCT s.code, t.code FROM recall_piece p {each('movement', 'm', 'm.source_id IN (p.item_id)')}"
        f" {each('recall_piece', 'q', 'q.recall_id = p.recall_id AND q.item_id = m.target_id')}"
        f" {each('item', 's', 's.id = m.source_id')} {each('item', 't', 't.id = m.target_id')}"
        " WHERE p.recall_id = ? AND m.cancelled_by_id IS NULL ORDER BY s.code, t.code",
        recall,
    )
    return tuple((source, target) for source, target in rows)


def read_recall(recall: int) -> RecallView:
    """A recall with all its pieces: where each is now, what is proved not to be affected, how far it has come."""
    return view_recall(find_row(Recall, recall, "recall"))


def list_recalls(*, after: int | None, limit: int, closed: bool | None = None) -> Page[RecallRow]:
    """List recalls, all or only those that are open."""
    query = (
        Recall.select(Recall, Item.code, Item.name, Person.name)
        .join(Item, JOIN.LEFT_OUTER, on=(Recall.item == Item.id))
        .switch(Recall)
        .join(Person, JOIN.LEFT_OUTER, on=(Recall.person == Person.id))
    )
    if closed is not None:
        query = query.where(Recall.closed_at.is_null(not closed))
    return page(query, Recall.id, after=after, limit=limit, view=_row)


def _row(row: Recall) -> RecallRow:
    names = {row.person_id: row.person.name} if row.person is not None else {}
    return RecallRow(row.id, _of(row, names), row.reason, row.opened_at, row.closed_at)
