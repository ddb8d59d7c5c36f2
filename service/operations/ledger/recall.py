"""A recall as it is read: where each piece stands now, what is proved not to be affected, how far it has come.

A recall may reach more than anybody reads at once. Its counts are always of all; the pieces in it are the first
thousand, those that are still to be fetched before all others, and a list of their own has every one.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from peewee import JOIN

from schemas.words import Kind, Unit
from service.database import each, rows_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger.issuing import IssueView, newest_issues
from service.operations.ledger.recall_pieces import (
    FIRST,
    LAST_STEP,
    MOST_PIECES,
    NOBODY,
    RecallPieceView,
    in_order,
    pieces_of,
)
from service.operations.ledger.recalled import ORDER, out_sql, to_fetch, where_it_is
from service.operations.ledger.since_opened import changed_since
from service.operations.ledger.sparing import Spared
from service.records.items import Item
from service.records.people import Person
from service.records.recalls import Recall


@dataclass(frozen=True, slots=True)
class RecallTotal:
    """How many pieces stand somewhere, and how much of the recalled thing is in them.

    Attributes
    ----------
    length_mm
        Of rolls and kits, how much has to be there now; nothing where there is none of either.
    """

    where: str
    pieces: int
    mass_mg: int
    length_mm: int | None
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
    not_drawn
        As they are issued: for which words they have boxes, since the machine has no font for them, and what to do.
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
    not_drawn: str | None = None


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
        pieces=in_order(pieces_of(f"p.recall_id = ? ORDER BY {FIRST}, p.id LIMIT {MOST_PIECES}", row.id)),
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


def _totals(recall: int) -> tuple[tuple[RecallTotal, ...], int]:
    """How many pieces stand where, in the order of the list, and how many are still to be fetched."""
    counts: Counter[str] = Counter()
    masses: Counter[str] = Counter()
    lengths: Counter[str] = Counter()
    followed: Counter[str] = Counter()
    left = 0
    for kind, state, pieces, mass, length, steps in rows_of(
        "SELECT i.kind, i.state, count(*), coalesce(sum(p.mass_mg), 0),"
        f" sum(CASE WHEN i.unit = '{Unit.MILLIMETRE}' THEN i.balance END), count(t.id) FROM recall_piece p"
        f" {each('item', 'i', 'i.id = p.item_id')} {LAST_STEP} WHERE p.recall_id = ? GROUP BY i.kind, i.state",
        recall,
    ):
        where = where_it_is(Kind(kind), state)
        counts[where] += pieces
        masses[where] += int(mass)
        if length is not None:
            lengths[where] += int(length)
        followed[where] += steps
        left += pieces - steps if to_fetch(Kind(kind), state) else 0
    totals = (RecallTotal(w, counts[w], masses[w], lengths.get(w), followed[w]) for w in ORDER if counts[w])
    return tuple(totals), left


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


def read_recall(recall: int) -> RecallView:
    """A recall: where its pieces are now, what is proved not to be affected, how far it has come."""
    return view_recall(find_row(Recall, recall, "recall"))


def open_of(item: int | None, person: int | None, task: str | None) -> list[Recall]:
    """The recalls of a thing, or of what a person did, that stand open, oldest first."""
    of = Recall.item == item if item is not None else (Recall.person == person) & (Recall.task == task)
    return list(Recall.select().where(of & Recall.closed_at.is_null()).order_by(Recall.id))


_NAMED = re.compile(r"\bRecall (\d{1,18}): ")


def named_in(sentences: Iterable[str]) -> dict[str, int]:
    """Which of these reasons of holds are those of a recall, each with its number.

    Who places a hold may write "Recall 1" and mean a supplier's own: ours is what has our reason behind it.
    """
    told = {sentence: [int(number) for number in _NAMED.findall(sentence)] for sentence in sentences}
    asked = {number for numbers in told.values() for number in numbers}
    rows = Recall.select(Recall.id, Recall.reason).where(Recall.id.in_(asked)).tuples() if asked else ()
    reasons = dict(rows)
    return {
        sentence: number
        for sentence, numbers in told.items()
        for number in numbers
        if number in reasons and f"Recall {number}: {reasons[number]}" in sentence
    }


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
