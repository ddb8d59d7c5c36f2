"""What the journal's entries tell other systems: events, read from the rows that each act wrote.

An event names one part at most, never what parts share, and no reason in anybody's words: whoever is told of it reads
the rest by a key, with the rights that it has.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import orjson

from schemas.words import KIND_NAMES, HookEvent, Kind, Referred, State, Unit
from service.database import each, rows_of
from service.operations.ledger.trace import Look
from service.records.base import instant
from service.records.closures import steps

# What a system may be told by its code; a pot, a cure or a kit stands between parts.
_NAMED = frozenset({Kind.LOT, Kind.CONTAINER, Kind.PART})
_OF_STATES = {
    State.RELEASED: HookEvent.PART_RELEASED,
    State.SHIPPED: HookEvent.PART_SHIPPED,
    State.SCRAPPED: HookEvent.PART_SCRAPPED,
}


@dataclass(frozen=True, slots=True)
class Happening:
    """One event: the entry that tells of it, what it is and its place among those of its kind in that entry.

    ``message`` is its name for good: the entry's hash stands in it, so that an account that was restored from a backup
    and went on otherwise gives no name a second time.
    """

    seq: int
    message: str
    event: HookEvent
    at: datetime
    data: dict[str, Any]

    @property
    def body(self) -> str:
        """The payload as it is sent, in every attempt the same to the letter."""
        told = {"type": self.event, "timestamp": self.at, "data": {"seq": self.seq, **self.data}}
        return orjson.dumps(told, option=orjson.OPT_UTC_Z | orjson.OPT_OMIT_MICROSECONDS).decode()


# What is told of an entry: its number, which of several of a kind in it, the event, when, and its facts.
_Told = tuple[int, int, HookEvent, datetime, dict[str, Any]]


def happenings(*, after: int, upto: int) -> list[Happening]:
    """The events of the entries behind ``after`` up to ``upto``, in their order. Within `reading()`."""
    told = [one for source in SOURCES for one in source(after, upto)]
    if not told:
        return []
    hashes = dict(rows_of("SELECT seq, hash FROM entry WHERE seq > ? AND seq <= ?", after, upto))
    order = list(HookEvent)
    return [
        Happening(seq, f"{seq}-{hashes[seq][:12]}-{event.replace('.', '-')}-{which}", event, at, data)
        for seq, which, event, at, data in sorted(told, key=lambda one: (one[0], order.index(one[2]), one[1]))
    ]


def _of_entries(table: str, alias: str, deed: str = "deed_id") -> str:
    """The entries of a span, each with the rows of a table that its deed wrote."""
    return f"FROM entry e {each(table, alias, f'{alias}.{deed} IN (e.deed_id)')}"


def _states(after: int, upto: int) -> Iterable[_Told]:
    """Parts that were released, shipped or scrapped."""
    states = ", ".join(f"'{state}'" for state in _OF_STATES)
    rows = rows_of(
        f"SELECT e.seq, s.id, s.state, s.occurred_at, i.code {_of_entries('state_change', 's')}"
        f" {each('item', 'i', 'i.id = s.item_id')}"
        f" WHERE e.seq > ? AND e.seq <= ? AND i.kind = '{Kind.PART}' AND s.state IN ({states})",
        after, upto,
    )  # fmt: skip
    for seq, row, state, at, code in rows:
        yield seq, row, _OF_STATES[State(state)], instant(at), {"part": code, "link": f"/v1/parts/{code}"}


def _failures(after: int, upto: int) -> Iterable[_Told]:
    """Parts of which somebody said that they failed."""
    rows = rows_of(
        f"SELECT e.seq, n.id, n.opened_at, n.in_service, i.code {_of_entries('nonconformance', 'n')}"
        f" {each('item', 'i', 'i.id = n.item_id')}"
        f" WHERE e.seq > ? AND e.seq <= ? AND n.failed AND i.kind = '{Kind.PART}'",
        after, upto,
    )  # fmt: skip
    for seq, row, at, in_service, code in rows:
        data = {"part": code, "in_service": bool(in_service), "link": f"/v1/parts/{code}"}
        yield seq, row, HookEvent.PART_FAILED, instant(at), data


def _holds(column: str, event: HookEvent) -> Callable[[int, int], Iterable[_Told]]:
    """One event for each act that placed holds on things, or lifted them."""

    def found(after: int, upto: int) -> Iterable[_Told]:
        rows = rows_of(
            "SELECT e.seq, e.deed_id, max(d.occurred_at), count(*), min(h.id), min(h.item_id), max(h.item_id),"
            f" max(h.since) {_of_entries('hold', 'h', column)} {each('deed', 'd', 'd.id = e.deed_id')}"
            " WHERE e.seq > ? AND e.seq <= ? AND h.item_id IS NOT NULL GROUP BY e.seq, e.deed_id",
            after, upto,
        )  # fmt: skip
        for seq, deed, at, holds, hold, item, last, since in rows:
            alone = item == last
            code, kind = rows_of("SELECT code, kind FROM item WHERE id = ?", item)[0] if alone else (None, None)
            from_then_on = instant(since) if since is not None and alone else None
            data = {
                "holds": holds,
                "hold": hold if holds == 1 else None,
                "item": code if kind in _NAMED else None,
                "kind": KIND_NAMES[Kind(kind)] if kind is not None else None,
                "since": from_then_on,
                "reaches": _reached(column, deed, item if from_then_on is not None else None, from_then_on),
                "link": _in_the_feed(seq),
            }
            yield seq, 0, event, instant(at), data

    return found


def _reached(column: str, deed: int, item: int | None, since: datetime | None) -> dict[str, int]:
    """How many things of each kind an act's holds reach, those that it held themselves among them."""
    if item is not None and since is not None:
        # From a time on: what was taken since, and the thing itself, which is used no more.
        own = KIND_NAMES[Kind(rows_of("SELECT kind FROM item WHERE id = ?", item)[0][0])]
        counts = Look.at(item, back=False, since=since).counts()
        return counts | {own: counts.get(own, 0) + 1}
    held = f"SELECT h.item_id FROM hold h WHERE h.{column} = ? AND h.item_id IS NOT NULL"
    rows = rows_of(
        f"WITH RECURSIVE {steps(held, back=False)} SELECT i.kind, count(*) FROM reach r"
        f" {each('item', 'i', 'i.id = r.id')} GROUP BY i.kind",
        deed,
    )
    return _by_name(rows)


def _in_the_feed(seq: int) -> str:
    """Where the feed tells of each part and lot that an act concerns; where it concerns none, the act itself.

    The feed has no index by entry, but its numbers rise as the entries do: a score of steps finds the place.
    """

    def row(number: int) -> tuple[int, int]:
        found = rows_of("SELECT id, seq FROM item_change WHERE id >= ? ORDER BY id LIMIT 1", number)
        return found[0] if found else (number, seq + 1)

    before, behind = 0, (rows_of("SELECT max(id) FROM item_change")[0][0] or 0) + 1
    while behind - before > 1:
        middle = (before + behind) // 2
        number, told = row(middle)
        before, behind = (number, behind) if told < seq else (before, middle)
    concerns = row(before + 1)[1] == seq
    return f"/v1/changes?since={before}" if concerns else f"/v1/journal?since={seq - 1}"


def _by_name(rows: Sequence[tuple[Any, ...]]) -> dict[str, int]:
    return dict(sorted((KIND_NAMES[Kind(kind)], number) for kind, number in rows))


def _recalls(column: str, when: str, event: HookEvent) -> Callable[[int, int], Iterable[_Told]]:
    """Recalls that were opened, or closed."""

    def found(after: int, upto: int) -> Iterable[_Told]:
        rows = rows_of(
            f"SELECT e.seq, r.id, r.{when}, i.code, i.kind {_of_entries('recall', 'r', column)}"
            " LEFT JOIN item i ON i.id = r.item_id WHERE e.seq > ? AND e.seq <= ?",
            after, upto,
        )  # fmt: skip
        for seq, recall, at, code, kind in rows:
            pieces = rows_of(
                f"SELECT i.kind, count(*) FROM recall_piece p {each('item', 'i', 'i.id = p.item_id')}"
                " WHERE p.recall_id = ? GROUP BY i.kind",
                recall,
            )
            data = {
                "recall": recall,
                "item": code if kind in _NAMED else None,
                "pieces": _by_name(pieces),
                "link": f"/v1/recalls/{recall}",
            }
            yield seq, recall, event, instant(at), data

    return found


def _orders(after: int, upto: int) -> Iterable[_Told]:
    """Orders whose last part was shipped, or fitted here, by that act, and of which nothing is wanting."""
    gone = f"('{State.SHIPPED}', '{State.FITTED}')"
    rows = rows_of(
        f"SELECT e.seq, l.order_id, max(s.id), max(s.occurred_at) {_of_entries('state_change', 's')}"
        f" {each('part', 'p', 'p.item_id = s.item_id')} {each('order_line', 'l', 'l.id = p.line_id')}"
        f" WHERE e.seq > ? AND e.seq <= ? AND s.state IN {gone} GROUP BY e.seq, l.order_id",
        after, upto,
    )  # fmt: skip
    for seq, order, change, at in rows:
        wanting = rows_of(
            "SELECT 1 FROM shop_order o JOIN order_line l ON l.order_id = o.id WHERE o.id = ? AND"
            " (o.cancelled_at IS NOT NULL OR l.quantity > (SELECT count(*) FROM part p JOIN item i ON i.id = p.item_id"
            f" WHERE p.line_id = l.id AND i.state IN {gone})) LIMIT 1",
            order,
        )
        last = rows_of(
            "SELECT max(s.id) FROM order_line l JOIN part p ON p.line_id = l.id"
            f" JOIN state_change s ON s.item_id = p.item_id WHERE l.order_id = ? AND s.state IN {gone}",
            order,
        )[0][0]
        if not wanting and last == change:
            names = rows_of(
                "SELECT system, text FROM external_reference WHERE kind = ? AND subject = ? AND withdrawn_in_id IS NULL"
                " ORDER BY id LIMIT 10",
                Referred.ORDER, order,
            )  # fmt: skip
            references = [{"system": system, "reference": text} for system, text in names]
            data = {"order": order, "references": references, "link": f"/v1/orders/{order}"}
            yield seq, order, HookEvent.ORDER_DONE, instant(at), data


def _warnings(after: int, upto: int) -> Iterable[_Told]:
    """What a look over the stock found for the first time."""
    rows = rows_of(
        "SELECT e.seq, w.id, w.found_at, w.material_id, m.name, i.code, w.good_until, w.free, w.least, w.unit"
        f" {_of_entries('stock_warning', 'w')} {each('material', 'm', 'm.id = w.material_id')}"
        " LEFT JOIN item i ON i.id = w.item_id WHERE e.seq > ? AND e.seq <= ?",
        after, upto,
    )  # fmt: skip
    for seq, row, at, material, name, code, good_until, free, least, unit in rows:
        data: dict[str, Any] = {"warning": row, "material": material, "name": name}
        if code is not None:
            data |= {"container": code, "good_until": str(good_until), "link": f"/v1/containers/{code}"}
            yield seq, row, HookEvent.CONTAINER_EXPIRING, instant(at), data
            continue
        shown, of = ("g", 1000) if unit == Unit.MILLIGRAM else ("mm", 1)
        amounts = {
            f"{what}_{shown}": amount / of if of > 1 else amount for what, amount in (("free", free), ("least", least))
        }
        data |= {**amounts, "link": f"/v1/availability?material={material}"}
        yield seq, row, HookEvent.STOCK_SHORT, instant(at), data


# Each reads one kind of row that an act writes. What comes later is one line here and a word in HookEvent.
SOURCES: tuple[Callable[[int, int], Iterable[_Told]], ...] = (
    _states,
    _failures,
    _holds("placed_by_id", HookEvent.HOLD_PLACED),
    _holds("lifted_by_id", HookEvent.HOLD_LIFTED),
    _recalls("deed_id", "opened_at", HookEvent.RECALL_OPENED),
    _recalls("closed_in_id", "closed_at", HookEvent.RECALL_CLOSED),
    _orders,
    _warnings,
)
