"""The pieces of a recall as they are read: where each stands now, how much has to be there, and what became of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import SQL

from schemas.words import Kind, PieceFound, State, Unit
from service.database import each, each_or_none, listed, looked_up, rows_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.ledger.failing import has_failed
from service.operations.ledger.graph import StandingHold, standing_holds
from service.operations.ledger.recalled import ORDER, gone_sql, out_sql, to_fetch, where_it_is
from service.records.base import as_day, as_word, instant
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
    length_mm
        Of a roll or a kit, how much has to be there now, whatever of it is of the recalled thing.
    amount_pieces
        The same of a container with pieces.
    shipped_on
        Of a part, the day on which it was shipped last.
    shipped_with
        The paper that went with it then, such as the delivery note.
    order
        What it was made for; nothing if it was shipped to another than the customer of that.
    serial
        That which the order gave it, unique within its part number.
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
    length_mm: int | None
    amount_pieces: int | None
    shipped_on: date | None
    shipped_with: str | None
    order: str | None
    part_number: str | None
    serial: str | None
    to_fetch: bool
    found: PieceFound | None
    remark: str | None
    found_at: datetime | None
    on_hold: bool
    failed: bool


# What of them is still to be fetched comes first: 0, then what was followed or is no more there to find.
FIRST = f"CASE WHEN t.id IS NULL AND NOT {gone_sql('i')} THEN 0 ELSE 1 END"
LAST_STEP = "LEFT JOIN recall_step t ON t.id = (SELECT max(s.id) FROM recall_step s WHERE s.piece_id = p.id)"

_SHIPPED = "LEFT JOIN shipment sh ON sh.id = (SELECT max(s.id) FROM shipment s WHERE s.part_id = i.id)"
# To whom a piece was shipped, or for whom it was when it left.
_HELD_BY = f"coalesce(sh.customer, p.customer, '{NOBODY}')"


# What nobody has to answer for any more, though the books may have it with the customer still.
_SETTLED = (PieceFound.RETURNED, PieceFound.SCRAPPED, PieceFound.REPAIRED)
_NOT_SETTLED = " AND (t.found IS NULL OR t.found NOT IN ('" + "', '".join(_SETTLED) + "'))"


def pieces_of(which: str, *given: object) -> list[RecallPieceView]:
    rows = rows_of(
        f"SELECT i.code, i.kind, i.name, i.state, a.name, p.customer, sh.customer, p.mass_mg, i.unit, i.balance,"
        ' sh.shipped_on, sh.document, o."order", o.customer, e.part_number, o.serial, t.found, t.remark,'
        f" t.occurred_at, {has_failed('i')}, i.id"
        f" FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {_SHIPPED}"
        f" {each_or_none('part', 'o', 'o.item_id = i.id')} {each_or_none('design', 'e', 'e.id = o.design_id')}"
        f" {each_or_none('item', 'a', 'a.id = i.place_id')} {LAST_STEP} WHERE {which}",
        *given,
    )
    holds = standing_holds([row[-1] for row in rows])
    return [_piece(row, held=holds[row[-1]]) for row in rows]


def in_order(pieces: Iterable[RecallPieceView]) -> tuple[RecallPieceView, ...]:
    return tuple(sorted(pieces, key=lambda p: (ORDER.index(p.where), p.customer or "", p.place_name or "", p.code)))


def every_piece(recall: int) -> tuple[RecallPieceView, ...]:
    """All pieces in the order of the list: for paper and tables, which leave nothing out."""
    return in_order(pieces_of("p.recall_id = ?", recall))


def shipped_pieces(recall: int, *customers: str) -> tuple[RecallPieceView, ...]:
    """Those that are with customers, or with these of them, for letters: not what came back, or was dealt with."""
    which = f" AND {_HELD_BY} IN ({', '.join('?' for _ in customers)})" if customers else ""
    return in_order(pieces_of(f"p.recall_id = ? AND {out_sql('i')}{_NOT_SETTLED}{which}", recall, *customers))


def have_some_still(recall: int) -> dict[str, int]:
    """The customers with whom something of it is still, as `the_same` has them, and the last act that added to it."""
    found: dict[str, int] = {}
    for name, deed in rows_of(
        f"SELECT {_HELD_BY}, max(CASE WHEN sh.deed_id > p.deed_id THEN sh.deed_id ELSE p.deed_id END)"
        f" FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {_SHIPPED}"
        f" {LAST_STEP} WHERE p.recall_id = ? AND {out_sql('i')}{_NOT_SETTLED} GROUP BY {_HELD_BY}",
        recall,
    ):
        found[the_same(name)] = max(deed, found.get(the_same(name), 0))
    return found


def the_same(customer: str) -> str:
    """A customer by any spelling: one name in any case of its letters, as in the register of customers.

    >>> the_same("Rowing  Club") == the_same("rowing club")
    True
    """
    return " ".join(customer.split()).casefold()


def first_left(recall: int, most: int) -> tuple[str, ...]:
    """The first pieces of which nobody has said what became of them."""
    rows = rows_of(
        f"SELECT i.code FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {LAST_STEP}"
        f" WHERE p.recall_id = ? AND {FIRST} = 0 ORDER BY p.id LIMIT {most}",
        recall,
    )
    return tuple(code for (code,) in rows)


def said_of_pieces(recall: int) -> dict[PieceFound, int]:
    """Of how many pieces it was said last that they were found, returned, and so on; of all, however many they are."""
    rows = dict(
        rows_of(
            "SELECT t.found, count(*) FROM recall_piece p JOIN recall_step t ON t.id ="
            " (SELECT max(s.id) FROM recall_step s WHERE s.piece_id = p.id) WHERE p.recall_id = ? GROUP BY t.found",
            recall,
        )
    )
    return {word: rows[word] for word in PieceFound if word in rows}


def followed_pieces(recall: int, most: int) -> list[RecallPieceView]:
    """Those of which somebody said what became of them: what was not found first, then what was followed last."""
    first = f"CASE WHEN t.found = '{PieceFound.NOT_FOUND}' THEN 0 ELSE 1 END"
    return pieces_of(f"p.recall_id = ? AND t.id IS NOT NULL ORDER BY {first}, t.id DESC LIMIT {most}", recall)


def list_pieces(recall: int, *, after: int | None, limit: int, left: bool | None = None) -> Page[RecallPieceView]:
    """List the pieces of a recall in the order in which it reached them, all or only those that are (not) left."""
    row = find_row(Recall, recall, "recall")
    query = RecallPiece.select(RecallPiece.id).where(RecallPiece.recall == row.id)
    if left is not None:
        open_ones = SQL(
            f"(SELECT p.id FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')} {LAST_STEP}"
            f" WHERE p.recall_id = {row.id} AND {FIRST} = 0)"
        )
        query = query.where(RecallPiece.id.in_(open_ones) if left else RecallPiece.id.not_in(open_ones))
    order = "DESC" if getattr(after, "newest_first", False) else "ASC"
    asked = f"p.id IN (SELECT id FROM {looked_up()}) ORDER BY p.id {order}"

    def views(rows: Sequence[RecallPiece]) -> Iterable[RecallPieceView]:
        return pieces_of(asked, listed([row.id for row in rows]))

    return page_of(query, RecallPiece.id, after=after, limit=limit, views=views)


def _piece(row: tuple[Any, ...], *, held: Sequence[StandingHold]) -> RecallPieceView:
    code, kind, name, state, place, before, shipped_to, mass, unit, balance, on, document, *more = row
    order, ordered_by, part_number, serial, found, remark, at, failed, _ = more
    return RecallPieceView(
        code=code,
        kind=Kind(kind),
        name=name,
        where=where_it_is(Kind(kind), state),
        state=as_word(State, state),
        place_name=place,
        customer=shipped_to or before,
        mass_mg=mass,
        length_mm=balance if unit == Unit.MILLIMETRE else None,
        amount_pieces=balance if unit == Unit.PIECE and kind == Kind.CONTAINER else None,
        shipped_on=as_day(on),
        shipped_with=document,
        order=order if shipped_to is None or the_same(ordered_by or shipped_to) == the_same(shipped_to) else None,
        part_number=part_number,
        serial=serial,
        to_fetch=to_fetch(Kind(kind), state),
        found=as_word(PieceFound, found),
        remark=remark,
        found_at=None if at is None else instant(at),
        on_hold=bool(held),
        failed=bool(failed),
    )
