"""Parts that are planned for a line of an order, before anybody begins them: each has its code, and no piece yet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from peewee import chunked, fn

from schemas.words import Kind, ReplacedBy, State, Unit
from service.database import locked
from service.operations.door.operation import Work
from service.operations.ledger import ledger
from service.operations.parts.designs import find_design
from service.records.base import known
from service.records.items import Item
from service.records.orders import Order, OrderLine
from service.records.parts import Design, Part

# Rows a statement; the columns of a part make some thousands of values of them.
_ROWS = 500
# A part in one of these takes no place in its line any more.
OUT_OF_THE_LINE = (State.SCRAPPED, State.CANCELLED, State.ABANDONED)


@dataclass(frozen=True, slots=True)
class Planned:
    """One part that is to be planned."""

    line: OrderLine
    design: Design
    order: str | None
    customer: str | None
    serial: str | None = None
    replaces: int | None = None


def serial_key(part_number: str, serial: str) -> str:
    """How a serial is told apart: within its part number, in any case of its letters."""
    return f"{part_number}\n{serial}".casefold()


def plan_parts(work: Work, wanted: Sequence[Planned]) -> list[Item]:
    """Make these parts, each with its code, in a number of statements that does not grow with the lines."""
    if not wanted:
        return []
    items = ledger.new_items(
        work, Kind.PART, [State.PLANNED] * len(wanted), name=[one.design.name for one in wanted], unit=Unit.PIECE
    )
    rows = [
        {
            "item": item.id,
            "design": one.design.id,
            "order": one.order,
            "customer": one.customer,
            "line": one.line.id,
            "serial": one.serial,
            "serial_key": serial_key(one.line.part_number, one.serial) if one.serial is not None else None,
            "replaces": one.replaces,
        }
        for item, one in zip(items, wanted, strict=True)
    ]
    for some in chunked(rows, _ROWS):
        Part.insert_many(some).execute()
    return items


def place_in_line(item: Item) -> tuple[Part, OrderLine | None]:
    """The row of a part, and the line that it is of, locked with its order."""
    row = Part.get_by_id(item.id)
    return row, lock_line(row.line_id) if row.line_id is not None else None


def plan_replacement(work: Work, scrapped: Item, row: Part, line: OrderLine | None) -> None:
    """Another part in the place of one that was scrapped, where the shop sees to that and the line wants it."""
    if line is None or line.replaced_by != ReplacedBy.SHOP or line.order.cancelled_at is not None:
        return
    if wanting(line, but=scrapped.id) < 1:
        return
    (item,) = plan_parts(work, [another(line, row, replaces=scrapped.id)])
    work.note(part=scrapped.code, replaced_by=item.code, order=line.order_id, line=line.number)


def another(line: OrderLine, like: Part, *, replaces: int | None = None) -> Planned:
    """One more part of a line, for the same order and customer as a part that it had."""
    design = find_design(design=None, part_number=line.part_number, revision=line.revision)
    return Planned(line, design, order=like.order, customer=like.customer, replaces=replaces)


def lock_line(number: int) -> OrderLine:
    """A line with its order, which is locked: whoever changes an order, or plans for it, waits for the other."""
    order = OrderLine.select(OrderLine.order).where(OrderLine.id == number)
    locked(Order.select(Order.id).where(Order.id == order)).get()
    row: OrderLine = OrderLine.select(OrderLine, Order).join(Order).where(OrderLine.id == number).get()
    return row


def wanting(line: OrderLine, *, but: int | None = None) -> int:
    """How many parts a line wants beyond those that it has; less than nothing where it has too many.

    ``but`` is a part that an act has just taken out of the line.
    """
    return line.quantity - in_line([line.id], but=but).get(line.id, 0)


def in_line(lines: Iterable[int], *, but: int | None = None) -> dict[int, int]:
    """How many parts each of these lines has that were neither scrapped nor cancelled."""
    query = (
        Part.select(Part.line, fn.COUNT(Part.item))
        .join(Item, on=(Part.item == Item.id))
        .where(Part.line.in_(list(lines)) & Item.state.not_in(OUT_OF_THE_LINE))
        .group_by(Part.line)
    )
    if but is not None:
        query = query.where(Part.item != but)
    return {known(line): count for line, count in query.tuples()}


def cancel_planned(work: Work, items: Sequence[Item]) -> None:
    """Planned parts vanish from the plan; their codes stay in the record, and their serials are free again."""
    for some in chunked(sorted(items, key=lambda i: i.id), _ROWS):
        Part.update(serial_key=None).where(Part.item.in_([item.id for item in some])).execute()
    ledger.set_states(work, items, State.CANCELLED)
