"""Whose answers an act has changed: worked out from the rows that it wrote, as each of them is written.

A part tells of what it was made of: flags and holds behind it, the pots that went in, its cures and its mould. So each
table says here where a row of it leads: to an item itself (``own``), to an item and all that was made of it
(``onward``), or by a row of a register (``through``) to whatever names that row. A table that is not here changes no
part's, lot's or order's answer; tests/budgets renders them all before and after each act of a whole job.

An order tells where its parts stand and how many of them are held. So it is concerned by each of its parts that moves
from one state to another (``moved``), and by what reaches a part of it: always where the act writes a hold, and
otherwise while any hold stands that what was made anew could lead to.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from schemas.words import FollowedKind, Kind, MovementKind, Referred
from service.database import listed, looked_up
from service.records.closures import steps

Row = Mapping[str, Any]


class Concerned:
    """Numbers of items, and of rows by which items are found, that an act has come upon so far."""

    def __init__(self) -> None:
        self.own: set[int] = set()
        self.onward: set[int] = set()
        self.through: dict[str, set[int]] = {}
        self.moved: set[int] = set()
        self.holds = False
        self._new: set[int] = set()

    def saw(self, table: str, before: Row | None, after: Row | None) -> None:
        """One row as it was and as it is; nothing for a row that is new, or that is gone."""
        if table == "item" and before is None and after is not None:
            self._new.add(after["id"])
        LEADS[table](self, before, after)

    def leads_to(self, item: int | None) -> None:
        if item is not None:
            self.own.add(item)

    def leads_onward_from(self, item: int | None) -> None:
        """To the item and all that was made of it; of one that is only just made nothing can have been made."""
        if item in self._new:
            self.own.add(item)
        elif item is not None:
            self.onward.add(item)

    def leads_through(self, what: str, number: int) -> None:
        self.through.setdefault(what, set()).add(number)

    def __bool__(self) -> bool:
        return bool(self.own or self.onward or self.through or self.moved)

    def surely(self, item: int) -> bool:
        """Is this item among them without looking further?"""
        return item in self.own or item in self.onward

    def telling(self, seq: int) -> Iterator[tuple[str, list[Any]]]:
        """What writes down, under the number of an entry, each part, lot and order that is concerned, once.

        One statement, but for an act on very many items: none carries a list that grows with them.
        """
        own, onward, moved = sorted(self.own), sorted(self.onward), sorted(self.moved)
        for n in range(0, max(len(own), len(onward), len(moved), 1), _AT_ONCE):
            some, all_of_some = own[n : n + _AT_ONCE], onward[n : n + _AT_ONCE]
            through = self.through if n == 0 else {}
            yield _telling(seq, some, all_of_some, moved[n : n + _AT_ONCE], through, holds=self.holds, again=n > 0)


_AT_ONCE = 500


def _telling(
    seq: int,
    own: list[int],
    onward: list[int],
    moved: list[int],
    through: Mapping[str, set[int]],
    *,
    holds: bool,
    again: bool,
) -> tuple[str, list[Any]]:
    starts, values = [f"SELECT id FROM {looked_up()}"], [listed(onward)]
    for what, numbers in sorted(through.items()):
        text = _ONWARD_THROUGH.get(what)
        if text is not None:
            starts.append(text.format(given=looked_up()))
            values += [listed(sorted(numbers))] * text.count("{given}")
    ends = [f"SELECT id FROM {looked_up()}"]
    values.append(listed(own))
    for what, numbers in sorted(through.items()):
        text = _OWN_THROUGH.get(what)
        if text is not None:
            ends.append(text.format(given=looked_up()))
            values += [listed(sorted(numbers))] * text.count("{given}")
    concerned = " UNION ".join(["SELECT id FROM reach", *ends])
    # UNION within the start of a recursive table would be taken for its step.
    start = f"SELECT id FROM ({' UNION '.join(starts)}) AS started"
    found = (
        "SELECT i.id AS number, i.kind AS kind, 1 AS place"
        f" FROM ({concerned}) AS c CROSS JOIN item i WHERE i.id = c.id AND i.kind IN ('{Kind.PART}', '{Kind.LOT}')"
    )
    orders, given = _orders(moved, through, onward=bool(onward or len(starts) > 1), holds=holds)
    if orders:
        found += f" UNION ALL SELECT o.id, '{FollowedKind.ORDER}', 2 FROM ({' UNION '.join(orders)}) AS o"
    told = f"SELECT 1 FROM item_change t WHERE t.number = f.number AND t.kind = f.kind AND t.seq = {int(seq)}"
    return (
        f"INSERT INTO item_change (seq, number, kind) WITH RECURSIVE {steps(start, back=False)}"
        f" SELECT {int(seq)}, f.number, f.kind FROM ({found}) AS f"
        f"{f' WHERE NOT EXISTS ({told})' if again else ''} ORDER BY f.place, f.number",
        values + given,
    )


def _orders(
    moved: list[int], through: Mapping[str, set[int]], *, onward: bool, holds: bool
) -> tuple[list[str], list[Any]]:
    """What selects the orders that are concerned, and the values in it; nothing where none can be."""
    texts, values = [], []
    if moved:
        texts.append(_ORDERS_OF.format(parts=looked_up()))
        values.append(listed(moved))
    if onward:
        standing = "" if holds else " AND EXISTS (SELECT 1 FROM hold WHERE item_id IS NOT NULL AND lifted_at IS NULL)"
        texts.append(_ORDERS_OF.format(parts="reach AS given") + standing)
    for what, numbers in sorted(through.items()):
        text = _ORDERS_THROUGH.get(what)
        if text is not None:
            texts.append(text.format(given=looked_up()))
            values.append(listed(sorted(numbers)))
    return texts, values


_ORDERS_OF = (
    "SELECT l.order_id AS id FROM {parts} CROSS JOIN part p CROSS JOIN order_line l"
    " WHERE p.item_id = given.id AND l.id = p.line_id"
)
_ORDERS_THROUGH = {
    "customer": "SELECT id FROM shop_order WHERE customer_id IN (SELECT id FROM {given})",
    "line": "SELECT order_id AS id FROM order_line WHERE id IN (SELECT id FROM {given})",
    "order": "SELECT id FROM {given}",
}


# Registers and what names a row of them.
_OWN_THROUGH = {
    "design": "SELECT item_id FROM part WHERE design_id IN (SELECT id FROM {given})",
    "material": "SELECT item_id FROM lot WHERE material_id IN (SELECT id FROM {given})",
    "mould": "SELECT item_id FROM part WHERE mould_id IN (SELECT id FROM {given})",
    "place": "SELECT id FROM item WHERE place_id IN (SELECT id FROM {given})",
    "supplier": "SELECT item_id FROM lot WHERE supplier_id IN (SELECT id FROM {given})"
    " UNION SELECT lot_id FROM receipt WHERE supplier_id IN (SELECT id FROM {given})",
}
# What an entry that is corrected was about; what was in the cans that it touched comes by its movements.
_ONWARD_THROUGH = {
    "deed": f"SELECT t.item_id FROM touched t JOIN item i ON i.id = t.item_id WHERE i.kind <> '{Kind.CONTAINER}'"
    " AND t.deed_id IN (SELECT id FROM {given})",
    "flag": "SELECT item_id FROM flag WHERE id IN (SELECT id FROM {given})",
}


def _onward(column: str) -> Callable[[Concerned, Row | None, Row | None], None]:
    def lead(concerned: Concerned, before: Row | None, after: Row | None) -> None:
        concerned.leads_onward_from((after or before or {})[column])

    return lead


def _own(column: str, *, when_new: bool = False) -> Callable[[Concerned, Row | None, Row | None], None]:
    def lead(concerned: Concerned, before: Row | None, after: Row | None) -> None:
        if before is None or not when_new:
            concerned.leads_to((after or before or {})[column])

    return lead


def _when_changed(what: str, *columns: str) -> Callable[[Concerned, Row | None, Row | None], None]:
    """A row of a register that is new is named by nothing yet."""

    def lead(concerned: Concerned, before: Row | None, after: Row | None) -> None:
        if before is not None and after is not None and _differ(before, after, columns):
            concerned.leads_through(what, after["id"])

    return lead


def _differ(before: Row, after: Row, columns: tuple[str, ...]) -> bool:
    return not columns or any(before[column] != after[column] for column in columns)


def _of_item(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    row = after or before or {}
    kind, number = row["kind"], row["id"]
    if kind in (Kind.PART, Kind.LOT):
        concerned.leads_to(number)
        if kind == Kind.PART and (before is None or after is None or before["state"] != after["state"]):
            concerned.moved.add(number)
    elif before is None or after is None or not _differ(before, after, ("name", "state")):
        return
    elif kind == Kind.CURE:
        concerned.leads_onward_from(number)
    elif kind in (Kind.MOULD, Kind.PLACE):
        concerned.leads_through("mould" if kind == Kind.MOULD else "place", number)


# What goes into a part, or from a part into another. Of a pot the others are concerned, too, among which it is shared.
_INTO_PARTS = frozenset({MovementKind.LAYING, MovementKind.TREATMENT, MovementKind.BONDING, MovementKind.CURE})


def _of_movement(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    row = after or before or {}
    kind, source, target = row["kind"], row["source_id"], row["target_id"]
    if before is not None:  # it was taken back, or what took it back was
        concerned.leads_onward_from(target)
        concerned.leads_to(source)
    elif kind in _INTO_PARTS or kind == MovementKind.DECANT:
        concerned.leads_onward_from(target)
    elif kind == MovementKind.RECEIPT:
        concerned.leads_to(target)
    if kind == MovementKind.BONDING:
        concerned.leads_to(source)
    if kind == MovementKind.APPLICATION:
        concerned.leads_onward_from(source)
        concerned.leads_onward_from(target)


def _of_permission(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    row = after or before or {}
    concerned.leads_onward_from(row["item_id"])
    for flag in _numbers(row["flags"]):
        concerned.leads_through("flag", flag)


def _of_hold(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    concerned.holds = True
    concerned.leads_onward_from((after or before or {})["item_id"])


def _of_part(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    row = after or before or {}
    concerned.leads_onward_from(row["item_id"])
    if row["line_id"] is not None and (before is None or after is None or before["line_id"] != after["line_id"]):
        concerned.moved.add(row["item_id"])


def _of_reference(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    row = after or before or {}
    if row["kind"] in (Referred.ORDER, Referred.LINE):
        concerned.leads_through("order" if row["kind"] == Referred.ORDER else "line", row["subject"])


def _through(what: str, column: str) -> Callable[[Concerned, Row | None, Row | None], None]:
    def lead(concerned: Concerned, before: Row | None, after: Row | None) -> None:
        concerned.leads_through(what, (after or before or {})[column])

    return lead


def _numbers(text: str) -> list[int]:
    return [int(number) for number in text.strip("[]").split(",") if number.strip()]


def _of_deed(concerned: Concerned, before: Row | None, after: Row | None) -> None:
    if after is not None and after["corrects_id"] is not None:
        concerned.leads_through("deed", after["corrects_id"])


LEADS: dict[str, Callable[[Concerned, Row | None, Row | None], None]] = {
    "certificate": _own("lot_id"),
    "closing": _onward("mix_id"),
    "container": _own("lot_id", when_new=True),
    "cure": _onward("item_id"),
    "customer": _when_changed("customer", "name"),
    "deed": _of_deed,
    "defect": _own("part_id"),
    "design": _when_changed("design"),
    "external_reference": _of_reference,
    "flag": _onward("item_id"),
    "hold": _of_hold,
    "incoming_check": _own("lot_id"),
    "inspection": _own("part_id"),
    "item": _of_item,
    "kit": _onward("item_id"),
    "lot": _own("item_id"),
    "material": _when_changed("material", "name", "kind"),
    "movement": _of_movement,
    "nonconformance": _onward("item_id"),
    "order_line": _through("order", "order_id"),
    "part": _of_part,
    "part_step": _own("part_id"),
    "permission": _of_permission,
    "ply_laid": _own("part_id"),
    "receipt": _own("lot_id"),
    "shipment": _own("part_id"),
    "shop_order": _through("order", "id"),
    "supplier": _when_changed("supplier", "name"),
}
