"""What could be thought to be affected and is proved not to be: of another time, another lot, another tool."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from schemas.words import Kind
from service.database import each, rows_of
from service.operations.ledger.done_with import STANDS, moved_in, said_alike
from service.operations.ledger.recalled import Reach, Root, reaching
from service.records.base import known
from service.records.closures import steps

MOST_SPARED = 50
"""So many other lots, tools or things of a kind are named, the newest lots of them."""


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


def spared_by(root: Root) -> tuple[Spared, ...]:
    """What could be thought to be affected and is proved not to be: of another time, another lot, another tool."""
    found = [*_of_another_time(root)]
    # Of what got some of it at another time it may only be said when that was, which the first of them does.
    ever = replace(root, since=None, until=None)
    if root.kind in (Kind.LOT, Kind.CONTAINER):
        found += _of_other_lots(ever)
    elif root.item is not None and not root.goes_into_things:
        found += _with_other_tools(root)
    if root.kind in (Kind.MIX, Kind.KIT, Kind.CURE, Kind.PART, Kind.CONTAINER):
        found += _of_the_same_things(ever)
    if root.person is not None:
        found += _by_other_hands(ever)
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
        f" ORDER BY o.lot_id DESC LIMIT {MOST_SPARED})"
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
        f" WHERE p.item_id NOT IN (SELECT id FROM piece) GROUP BY i.code, i.name ORDER BY i.code LIMIT {MOST_SPARED}",
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
        f" WHERE p.item_id NOT IN (SELECT id FROM piece) GROUP BY i.code, i.name ORDER BY i.code LIMIT {MOST_SPARED}",
        *given,
    ):
        shared = "are of the same lot" if root.kind == Kind.CONTAINER else "share this with it"
        yield Spared(f"{code} {name}", parts, f"They {shared}; nothing of {root.name} itself went into them.")


def _by_other_hands(root: Root) -> Iterable[Spared]:
    prefix, given = reaching(root)
    words = said_alike([known(root.task)])
    others = (
        f"others(id) AS (SELECT w.item_id FROM made_with w WHERE w.role IN ({', '.join('?' for _ in words)})"
        f" AND w.person_id IS NOT NULL AND w.person_id <> ? UNION SELECT m.target_id FROM deed d {moved_in(words)}"
        f" WHERE d.person_id <> ? AND {STANDS})"
    )
    away = steps("SELECT id FROM others", back=False, name="away")
    ((parts,),) = rows_of(
        f"{prefix}, {others}, {away} SELECT count(*) FROM away {each('part', 'p', 'p.item_id = away.id')}"
        " WHERE p.item_id NOT IN (SELECT id FROM piece)",
        *given,
        *words,
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
