"""What is to be started next: the parts that are planned and that nobody has begun, the first due first."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from peewee import SQL, fn

from schemas.words import Kind, State
from service.records.items import Item
from service.records.orders import Order, OrderLine
from service.records.parts import Part

# As the partial index has it, to the letter: it is used only where the query says the same.
_PLANNED = SQL(f"kind = '{Kind.PART}' AND state = '{State.PLANNED}'")


@dataclass(frozen=True, slots=True)
class ToStart:
    """What is left to start of one line of an order.

    Attributes
    ----------
    part
        The first of the parts that are to be started.
    count
        How many of the line are planned and not begun.
    due
        The line's day, or else its order's.
    """

    part: str
    name: str
    part_number: str
    count: int
    due: date | None
    order: str | None
    customer: str | None


def to_start(*, limit: int) -> tuple[ToStart, ...]:
    """The lines with parts that nobody has begun, the earliest due first, those without a day last."""
    planned = Item.select(Item.id).where(_PLANNED)
    due = fn.COALESCE(OrderLine.due, Order.due)
    lines: Any = (
        Part.select(fn.MIN(Part.item), fn.COUNT(Part.item), OrderLine.due, Order.due)
        .join(OrderLine)
        .join(Order)
        .where(Part.item.in_(planned))
        .group_by(OrderLine.id, OrderLine.due, Order.id, Order.due, OrderLine.number)
        .order_by(due.is_null(), due, Order.id, OrderLine.number)
        .limit(limit)
    )
    found = {first: (count, of_line or of_order) for first, count, of_line, of_order in lines.tuples()}
    if not found:
        return ()
    query = Part.select(Part, Item, OrderLine).join(Item, attr="thing").switch(Part).join(OrderLine)
    rows: Any = {row.item_id: row for row in query.where(Part.item.in_(list(found)))}
    return tuple(
        ToStart(
            part=rows[first].thing.code,
            name=rows[first].thing.name,
            part_number=rows[first].line.part_number,
            count=count,
            due=due_on,
            order=rows[first].order,
            customer=rows[first].customer,
        )
        for first, (count, due_on) in found.items()
    )
