"""A recall tried out: one lot, how long the answer took, how far it reaches, and whether its mass comes out."""

import random
import time
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import Kind, MovementKind, State, Unit
from service.database import each, rows_of
from service.operations.door.refusals import WrongState
from service.operations.ledger import ledger
from service.operations.ledger.recall_pieces import NOBODY, the_same
from service.operations.ledger.recalled import Reach, Root, reach_of, reaching, where_it_is
from service.operations.ledger.sparing import spared_by
from service.operations.ledger.trace import Look
from service.records.items import Item

_NOT_FOUND, _FOUND_MORE = MovementKind.FOUND_LESS, MovementKind.FOUND_MORE
_REACHED = "the released lots that reached a part"
_NONE_REACHED = "the released lots, none of which reached a part yet"
_LOST = (MovementKind.LOSS, MovementKind.LEFT, MovementKind.SCRAP, MovementKind.WASTE)


@dataclass(frozen=True, slots=True)
class Balance:
    """What became of a lot, in one unit: mg or mm.

    Attributes
    ----------
    came
        Received, or made here.
    used
        Went into pots, kits and parts.
    thrown_away
        Scrapped or lost, and booked as that.
    left
        Still in its containers.
    in_parts
        Of what was used, what went into parts: of each pot its share of what was weighed into it.
    in_pots
        Of what was used, what pots and blends have still.
    lost_in_pots
        Of what was used, what was left in cups or lost, and booked as that.
    missing_in_pots
        Of what was used, what its pots had when they were closed, and neither applied nor left nor said to be lost, or
        had too much.
    unexplained
        What is missing in pots, and what was found more or less in containers than booked, one added to the other:
        nobody can say where that went or came from.
    difference
        What the account itself does not add up by; anything but 0 is an error of the account.
    """

    unit: str
    came: int
    used: int
    thrown_away: int
    left: int
    in_parts: int
    in_pots: int
    lost_in_pots: int
    missing_in_pots: int
    unexplained: int
    difference: int


@dataclass(frozen=True, slots=True)
class Drill:
    """What a drill found.

    Attributes
    ----------
    drawn_from
        Among what the lot was drawn; none where it was named.
    """

    lot: str
    name: str
    seed: int
    drawn_from: str | None
    seconds: float
    pieces: int
    to_find: int
    parts: int
    shipped: int
    customers: tuple[str, ...]
    spared: int
    balance: Balance
    at: datetime
    document: int


def try_out(*, seed: int, lot: str | None, at: datetime) -> dict[str, Any]:
    """What a recall of the lot finds, or of that which the seed draws of all released ones, and how long that took."""
    item, drawn_from = (ledger.find(lot, Kind.LOT), None) if lot is not None else _drawn(seed)
    begun = time.perf_counter()
    root = Root(item.id, None, None, f"{item.code} {item.name}", Kind.LOT, None, None)
    reach, spared = reach_of(root), spared_by(root)
    seconds = round(time.perf_counter() - begun, 6)
    found = _found(item, seed, seconds, reach, sum(one.parts for one in spared), _balance(root, reach), at)
    return {**found, "drawn_from": drawn_from}


def _drawn(seed: int) -> tuple[Item, str]:
    """The first lot in the seed's order that reached a part: a recall of one that reached none tries little out."""
    released = "SELECT id FROM item WHERE kind = 'L' AND state = ? ORDER BY id"
    ids = [number for (number,) in rows_of(released, str(State.RELEASED))]
    if not ids:
        raise WrongState("There is no released lot that could be called back.", way_out="Release a lot first.")
    order = random.Random(seed).sample(ids, len(ids))
    reached = next((number for number in order if Look.at(number, back=False).counts().get("part")), None)
    found: Item = Item.get_by_id(order[0] if reached is None else reached)
    return found, _NONE_REACHED if reached is None else _REACHED


def _found(
    item: Item, seed: int, seconds: float, reach: Reach, spared: int, balance: Balance, at: datetime
) -> dict[str, Any]:
    wheres = [where_it_is(piece.kind, piece.state) for piece in reach.pieces]
    shipped = [p for p, where in zip(reach.pieces, wheres, strict=True) if where == "shipped"]
    names = sorted((p.customer or NOBODY for p in shipped), reverse=True)
    return {
        "lot": item.code,
        "name": item.name,
        "seed": seed,
        "seconds": seconds,
        "pieces": len(reach.pieces),
        "to_find": sum(where != "no more" for where in wheres),
        "parts": sum(piece.kind == Kind.PART for piece in reach.pieces),
        "shipped": len(shipped),
        "customers": tuple(sorted({the_same(name): name for name in names}.values())),
        "spared": spared,
        "balance": balance,
        "at": at,
    }


def _balance(root: Root, reach: Reach) -> Balance:
    """All movements across the edge of the lot's own shelf, and what is left on it."""
    prefix, given = reaching(root)
    inside = "IN (SELECT id FROM stock)"
    rows = rows_of(
        f"{prefix} SELECT 'in', m.kind, m.unit, sum(m.amount) FROM movement m WHERE m.target_id {inside}"
        f" AND (m.source_id IS NULL OR m.source_id NOT {inside}) AND m.cancelled_by_id IS NULL AND m.amount IS NOT NULL"
        f" GROUP BY m.kind, m.unit UNION ALL SELECT 'out', m.kind, m.unit, sum(m.amount) FROM movement m"
        f" WHERE m.source_id {inside} AND (m.target_id IS NULL OR m.target_id NOT {inside})"
        " AND m.cancelled_by_id IS NULL AND m.amount IS NOT NULL GROUP BY m.kind, m.unit"
        f" UNION ALL SELECT 'left', '', i.unit, sum(i.balance) FROM item i WHERE i.id {inside} AND i.unit IS NOT NULL"
        " GROUP BY i.unit",
        *given,
    )
    unit = next((row[2] for row in rows if row[0] == "in"), "mg")
    said = [(way, kind, int(amount)) for way, kind, one, amount in rows if one == unit]
    came = sum(a for way, kind, a in said if way == "in" and kind != _FOUND_MORE)
    more = sum(a for way, kind, a in said if way == "in" and kind == _FOUND_MORE)
    less = sum(a for way, kind, a in said if way == "out" and kind == _NOT_FOUND)
    away = sum(a for way, kind, a in said if way == "out" and kind in _LOST)
    used = sum(a for way, kind, a in said if way == "out" and kind not in (*_LOST, _NOT_FOUND))
    left = sum(a for way, _, a in said if way == "left")
    pots = _pots(root, reach) if unit == Unit.MILLIGRAM else _Pots()
    return Balance(
        unit=unit,
        came=came,
        used=used,
        thrown_away=away,
        left=left,
        in_parts=round(pots.applied),
        in_pots=round(pots.still),
        lost_in_pots=round(pots.lost),
        missing_in_pots=round(pots.missing),
        unexplained=more + less + round(pots.missing),
        difference=came + more - less - away - used - left,
    )


@dataclass(slots=True)
class _Pots:
    """What became of that of the lot which left its shelf, in mg."""

    applied: float = 0.0
    still: float = 0.0
    lost: float = 0.0
    missing: float = 0.0


def _pots(root: Root, reach: Reach) -> _Pots:
    prefix, given = reaching(root)
    found, contents, stock = _Pots(), reach.contents, frozenset(reach.stock)
    kinds = {piece.id: piece.kind for piece in reach.pieces}
    for source, target, kind, estimated, amount in rows_of(
        f"{prefix} SELECT m.source_id, m.target_id, m.kind, m.estimated, m.amount FROM piece"
        f" {each('movement', 'm', 'm.source_id IN (piece.id)')} WHERE m.unit = 'mg' AND m.cancelled_by_id IS NULL",
        *given,
    ):
        of_it = amount * contents.share(source)
        if kinds.get(target) == Kind.PART:
            found.applied += of_it
        elif target is None and source not in stock:
            # The rest of a pot that nobody weighed is put down as an estimated loss when it is closed.
            if kind == _NOT_FOUND or (kind == MovementKind.LOSS and estimated):
                found.missing += of_it
            else:
                found.lost += of_it
    for piece in (one for one in reach.pieces if one.id not in stock):
        if piece.kind in (Kind.MIX, Kind.CONTAINER):
            found.still += piece.mass_mg or 0
        if piece.kind == Kind.MIX:
            more = sum(one.amount_mg or 0 for one in contents.into.get(piece.id, ()) if one.source is None)
            found.missing += more * contents.share(piece.id)
    return found
