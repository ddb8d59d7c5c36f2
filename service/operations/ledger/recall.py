"""A recall as it is read: where each piece stands now, what is proved not to be affected, how far it has come.

A recall may reach more than anybody reads at once. Its counts are always of all; the pieces in it are the first
thousand, those that are still to be fetched before all others, and a list of their own has every one.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import JOIN, SQL

from schemas.words import Kind, PieceFound, State
from service.database import each, each_or_none, listed, looked_up, rows_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page, page_of
from service.operations.ledger.failing import has_failed
from service.operations.ledger.graph import StandingHold, standing_holds
from service.operations.ledger.issuing import IssueView, newest_issues
from service.operations.ledger.recalled import ORDER, gone_sql, out_sql, to_fetch, where_it_is
from service.operations.ledger.since_opened import changed_since
from service.operations.ledger.sparing import Spared
from service.records.base import as_word, instant
from service.records.items import Item
from service.records.people import Person
from service.records.recalls import Recall, RecallPiece

MOST_PIECES = 1000
"""So many pieces of a recall are in one answer, and to be fetched on one printed list."""

NOBODY = "nobody named"


@dataclass(frozen=True, slots=True)
class RecallPieceView:
    """One piece of a recall.

    Attributes
    ----------
    where
        stock, opened, pots, in work, finished, shipped, no more: as it stands now.
    mass_mg
        What of the recalled thing was in it when the recall was opened, as booked: its share of all that was weighed
        into it, less what had gone on from there.
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
    place_name: str | None
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
    """A recall: its counts, and the first of its pieces.

    Attributes
    ----------
    of
        What is called back, in words.
    notice
        The supplier's, in the supplier's words.
    pieces_count
        How many pieces it has in all; so the totals and ``left`` are of all of them, too.
    pieces
        The first 1,000, what is still to be fetched before all others; GET /v1/recalls/{recall}/pieces lists all.
    spared
        What could be thought to be affected and is proved not to be, and why.
    customers
        To whom pieces were shipped, in the order of their letters' numbers; the first 1,000. GET
        /v1/recalls/{recall}/pieces names the customer of each piece.
    customers_count
        How many customers it has in all.
    reached_since
        What it reaches now and did not when it was opened, such as the part that a pot went into since; the first 100.
        POST /v1/recalls/{recall}/reach takes it in among the pieces; until then the recall is not closed.
    reached_since_count
        How many things those are in all.
    taken_back
        Pieces that the movements that stand lead to no more, because a correction took one back; the first 100.
    taken_back_count
        How many pieces those are in all.
    left
        How many pieces have to be fetched and have not been followed to their end yet.
    papers
        The newest issues of its pick-up list, of the list's table and workbook, of each letter and of the letters'
        table and workbook, kept byte for byte; the first 1,000 of them. GET /v1/issues lists all that was issued.
    not_printed
        Why its papers were not issued with it, if they were not: the recall stands all the same.
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
    pieces_count: int
    pieces: tuple[RecallPieceView, ...]
    spared: tuple[Spared, ...]
    customers: tuple[str, ...]
    customers_count: int
    left: int
    reached_since: tuple[str, ...]
    reached_since_count: int
    taken_back: tuple[str, ...]
    taken_back_count: int
    closed_at: datetime | None
    closed_by: str | None
    effectiveness: str | None
    papers: tuple[IssueView, ...]
    not_printed: str | None = None


@dataclass(frozen=True, slots=True)
class RecallRow:
    """A recall in the list."""

    id: int
    of: str
    reason: str
    opened_at: datetime
    closed_at: datetime | None


def view_recall(row: Recall) -> RecallView:
    """A recall as it stands, in a handful of statements however many pieces it has."""
    names, thing = _names(row)
    of = _of(row, names, thing)
    totals, left = _totals(row.id)
    letters, since = letters_of(row.id), changed_since(row, of)
    return RecallView(
        id=row.id,
        of=of,
        item=thing.code if thing is not None else None,
        person=row.person_id,
        task=row.task,
        reason=row.reason,
        notice=row.notice,
        since=row.since,
        until=row.until,
        opened_at=row.opened_at,
        opened_by=names[row.opened_by_id],
        totals=totals,
        pieces_count=sum(total.pieces for total in totals),
        pieces=_in_order(_pieces(f"p.recall_id = ? ORDER BY {_FIRST}, p.id LIMIT {MOST_PIECES}", row.id)),
        spared=tuple(Spared(**one) for one in row.found["spared"]),
        customers=letters[:MOST_PIECES],
        customers_count=len(letters),
        left=left,
        reached_since=since.reached,
        reached_since_count=since.reached_count,
        taken_back=since.taken_back,
        taken_back_count=since.taken_back_count,
        closed_at=row.closed_at,
        closed_by=names[row.closed_by_id] if row.closed_by_id is not None else None,
        effectiveness=row.effectiveness,
        papers=newest_issues(recall_documents(row.id), f"RL-{row.id}-", most=MOST_PIECES),
    )


def recall_documents(recall: int) -> list[str]:
    """The numbers of its list and tables; its letters are numbered RL-1-1, RL-1-2 and so on."""
    return [f"{prefix}-{recall}" for prefix in ("RC", "RT", "RW", "LT", "LW")]


def _names(row: Recall) -> tuple[dict[int | None, str], Item | None]:
    """The people that it names, and what is called back if that is a thing, in one statement."""
    people = [one for one in (row.opened_by_id, row.closed_by_id, row.person_id) if one is not None]
    found = rows_of(
        f"SELECT 0, p.id, '', p.name, '' FROM person p WHERE p.id IN ({', '.join('?' for _ in people)})"
        " UNION ALL SELECT 1, i.id, i.code, i.name, i.kind FROM item i WHERE i.id = ?",
        *people,
        row.item_id,
    )
    names: dict[int | None, str] = {number: name for which, number, _, name, _ in found if not which}
    for number, code, name, kind in (one[1:] for one in found if one[0]):
        row.item = Item(id=number, code=code, name=name, kind=kind)
    return names, row.item if row.item_id is not None else None


def _of(row: Recall, names: Mapping[int | None, str], thing: Item | None) -> str:
    if thing is not None:
        return f"{thing.code} {thing.name}"
    return f"what {names[row.person_id]} did ({row.task})"


# What of them is still to be fetched comes first: 0, then what was followed or is no more there to find.
_FIRST = f"CASE WHEN t.id IS NULL AND NOT {gone_sql('i')} THEN 0 ELSE 1 END"
_LAST_STEP = "LEFT JOIN recall_step t ON t.id = (SELECT max(s.id) FROM recall_step s WHERE s.piece_id = p.id)"


def _totals(recall: int) -> tuple[tuple[RecallTotal, ...], int]:
    """How many pieces stand where, in the order of the list, and how many are still to be fetched."""
    counts: Counter[str] = Counter()
    masses: Counter[str] = Counter()
    followed: Counter[str] = Counter()
    left = 0
    for kind, state, pieces, mass, steps in rows_of(
        "SELECT i.kind, i.state, count(*), coalesce(sum(p.mass_mg), 0), count(t.id) FROM recall_piece p"
        f" {each('item', 'i', 'i.id = p.item_id')} {_LAST_STEP} WHERE p.recall_id = ? GROUP BY i.kind, i.state",
        recall,
    ):
        where = where_it_is(Kind(kind), state)
        counts[where] += pieces
        masses[where] += int(mass)
        followed[where] += steps
        left += pieces - steps if to_fetch(Kind(kind), state) else 0
    return tuple(RecallTotal(w, counts[w], masses[w], followed[w]) for w in ORDER if counts[w]), left


def letters_of(recall: int) -> tuple[str, ...]:
    """To whom its letters are, in the order of their numbers, which stay when a customer has sent all back.

    By name those to whom something of it had been shipped when it was opened; then, in the order of time, whoever got
    some of it since, or had what was taken in since.
    """
    rows = rows_of(
        f"SELECT CASE WHEN p.deed_id = r.deed_id THEN 0 ELSE min(p.deed_id) END, coalesce(p.customer, '{NOBODY}')"
        f" FROM recall_piece p JOIN recall r ON r.id = p.recall_id {each('item', 'i', 'i.id = p.item_id')}"
        f" WHERE p.recall_id = ? AND {out_sql('i', state='p.state')}"
        f" GROUP BY p.deed_id, r.deed_id, coalesce(p.customer, '{NOBODY}')"
        f" UNION ALL SELECT min(s.deed_id), coalesce(s.customer, '{NOBODY}') FROM recall_piece p"
        f" {each('shipment', 's', 's.part_id = p.item_id')} WHERE p.recall_id = ?"
        f" AND s.deed_id > (SELECT deed_id FROM recall WHERE id = ?) GROUP BY coalesce(s.customer, '{NOBODY}')",
        recall,
        recall,
        recall,
    )
    return tuple(dict.fromkeys(name for _, name in sorted(rows)))


_SHIPPED_TO = "(SELECT sh.customer FROM shipment sh WHERE sh.part_id = i.id ORDER BY sh.id DESC LIMIT 1)"
# To whom a piece was shipped, or for whom it was when it left.
_HELD_BY = f"coalesce({_SHIPPED_TO}, p.customer, '{NOBODY}')"


# What nobody has to answer for any more, though the books may have it with the customer still.
_SETTLED = (PieceFound.RETURNED, PieceFound.SCRAPPED, PieceFound.REPAIRED)
_NOT_SETTLED = " AND (t.found IS NULL OR t.found NOT IN ('" + "', '".join(_SETTLED) + "'))"


def _pieces(which: str, *given: object) -> list[RecallPieceView]:
    rows = rows_of(
        f"SELECT i.code, i.kind, i.name, i.state, a.name, p.customer, {_SHIPPED_TO}, p.mass_mg, t.found, t.remark,"
        f" t.occurred_at, {has_failed('i')}, i.id"
        f" FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')}"
        f" {each_or_none('item', 'a', 'a.id = i.place_id')} {_LAST_STEP} WHERE {which}",
        *given,
    )
    holds = standing_holds([row[-1] for row in rows])
    return [_piece(row, held=holds[row[-1]]) for row in rows]


def _in_order(pieces: Iterable[RecallPieceView]) -> tuple[RecallPieceView, ...]:
    return tuple(sorted(pieces, key=lambda p: (ORDER.index(p.where), p.customer or "", p.place_name or "", p.code)))


def every_piece(recall: int) -> tuple[RecallPieceView, ...]:
    """All pieces in the order of the list: for paper and tables, which leave nothing out."""
    return _in_order(_pieces("p.recall_id = ?", recall))


def shipped_pieces(recall: int, customer: str | None = None) -> tuple[RecallPieceView, ...]:
    """Those that are with customers, or with one of them, for their letters: not what came back, or was dealt with."""
    which, given = (f" AND {_HELD_BY} = ?", (customer,)) if customer is not None else ("", ())
    return _in_order(_pieces(f"p.recall_id = ? AND {out_sql('i')}{_NOT_SETTLED}{which}", recall, *given))


def have_some_still(recall: int) -> tuple[str, ...]:
    """The customers with whom something of it is still."""
    rows = rows_of(
        f"SELECT DISTINCT {_HELD_BY} FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {_LAST_STEP}"
        f" WHERE p.recall_id = ? AND {out_sql('i')}{_NOT_SETTLED}",
        recall,
    )
    return tuple(name for (name,) in rows)


def first_left(recall: int, most: int) -> tuple[str, ...]:
    """The first pieces of which nobody has said what became of them."""
    rows = rows_of(
        f"SELECT i.code FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {_LAST_STEP}"
        f" WHERE p.recall_id = ? AND {_FIRST} = 0 ORDER BY p.id LIMIT {most}",
        recall,
    )
    return tuple(code for (code,) in rows)


def list_pieces(recall: int, *, after: int | None, limit: int, left: bool | None = None) -> Page[RecallPieceView]:
    """List the pieces of a recall in the order in which it reached them, all or only those that are (not) left."""
    row = find_row(Recall, recall, "recall")
    query = RecallPiece.select(RecallPiece.id).where(RecallPiece.recall == row.id)
    if left is not None:
        open_ones = SQL(
            f"(SELECT p.id FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {_LAST_STEP}"
            f" WHERE p.recall_id = {row.id} AND {_FIRST} = 0)"
        )
        query = query.where(RecallPiece.id.in_(open_ones) if left else RecallPiece.id.not_in(open_ones))
    order = "DESC" if getattr(after, "newest_first", False) else "ASC"
    asked = f"p.id IN (SELECT id FROM {looked_up()}) ORDER BY p.id {order}"

    def views(rows: Sequence[RecallPiece]) -> Iterable[RecallPieceView]:
        return _pieces(asked, listed([row.id for row in rows]))

    return page_of(query, RecallPiece.id, after=after, limit=limit, views=views)


def _piece(row: tuple[Any, ...], *, held: Sequence[StandingHold]) -> RecallPieceView:
    code, kind, name, state, place, before, shipped_to, mass, found, remark, at, failed, _ = row
    return RecallPieceView(
        code=code,
        kind=Kind(kind),
        name=name,
        where=where_it_is(Kind(kind), state),
        state=as_word(State, state),
        place_name=place,
        customer=shipped_to or before,
        mass_mg=mass,
        to_fetch=to_fetch(Kind(kind), state),
        found=as_word(PieceFound, found),
        remark=remark,
        found_at=None if at is None else instant(at),
        on_hold=bool(held),
        failed=bool(failed),
    )


def read_recall(recall: int) -> RecallView:
    """A recall: where its pieces are now, what is proved not to be affected, how far it has come."""
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
    return RecallRow(row.id, _of(row, names, row.item), row.reason, row.opened_at, row.closed_at)
