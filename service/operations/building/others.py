"""What other orders take first: the planned parts of open orders, by due date, and what each line of them asks for."""

from collections.abc import Sequence
from datetime import date, datetime

from peewee import JOIN, fn

from schemas.words import State
from service.operations.building.wanted import Line
from service.records.items import Item
from service.records.orders import Order, OrderLine
from service.records.parts import Design, Part
from service.records.promises import Reservation, ReservedAmount

MOST_OTHERS = 500
"""So many planned parts of other orders are given theirs first, the ones that are due first."""


def read_others(*, until: date | None, but_order: int | None, at: datetime) -> tuple[list[Line], int]:
    """Planned parts of open orders that are due by ``until`` (all, where it is nothing), as lines of their own.

    Each is built by the design that it would be started by: that of its line's revision, else the one approved last.
    Those whose materials are reserved stand apart. Also how many there are beyond those that are looked at.
    """
    due = fn.COALESCE(OrderLine.due, Order.due)
    standing = Reservation.released_at.is_null() & (Reservation.expires_at > at)
    kept = (
        ReservedAmount.select(ReservedAmount.part.alias("part_id"))
        .join(Reservation)
        .where(standing & ReservedAmount.released_in.is_null())
        .distinct()
        .alias("kept")
    )
    unreserved = kept.c.part_id.is_null()
    query = (
        Part.select(
            OrderLine.part_number,
            OrderLine.revision,
            due.alias("due"),
            unreserved.alias("unreserved"),
            fn.COUNT(Part.item).alias("parts"),
        )
        .join(Item, on=(Part.item == Item.id))
        .switch(Part)
        .join(OrderLine)
        .join(Order)
        .join(kept, JOIN.LEFT_OUTER, on=(kept.c.part_id == Part.item))
        .where((Item.state == State.PLANNED) & Order.cancelled_at.is_null())
        .group_by(OrderLine.part_number, OrderLine.revision, due, unreserved)
        .order_by(due.is_null(), due)
    )
    if until is not None:
        query = query.where(due <= until)
    if but_order is not None:
        # Of what is due alike the order that was placed first comes first, so that two never wait for each other.
        alike = due.is_null() if until is None else due == until
        query = query.where((Order.id != but_order) & ((Order.id < but_order) | ~alike))
    rows = list(query.tuples())
    designs = _designs(sorted({row[0] for row in rows}))
    lines: list[Line] = []
    left = MOST_OTHERS
    beyond = 0
    for number, (part_number, revision, on, unkept, parts) in enumerate(rows, 1):
        design = designs.get((part_number, revision))
        taken = min(parts, left)
        beyond += parts - taken
        left -= taken
        if design is not None and taken:
            lines.append(Line(-number, design, taken, None, on, None, not unkept))
    return lines, beyond


def _designs(part_numbers: Sequence[str]) -> dict[tuple[str, str | None], Design]:
    """The approved designs of these part numbers: each under its revision, the one approved last under none too."""
    rows = Design.select().where(Design.part_number.in_(part_numbers) & Design.approved_at.is_null(False))
    found: dict[tuple[str, str | None], Design] = {}
    for row in rows.order_by(Design.approved_at, Design.id):
        found[(row.part_number, row.revision)] = row
        found[(row.part_number, None)] = row
    return found
