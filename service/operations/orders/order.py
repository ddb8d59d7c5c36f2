"""An order as it is read: its lines, and how many parts of each stand where."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import JOIN

from schemas.words import OrderState, PartState, Referred, ReplacedBy, State
from service.database import each, listed, looked_up, rows_of
from service.operations.door.formerly import called_then
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.orders.references import folded, references_of
from service.records.base import as_word, microseconds
from service.records.items import Item
from service.records.orders import Customer, ExternalReference, Order, OrderLine
from service.records.parts import Part
from service.records.people import Person

# Where a part stands, in the words of a line's account.
_COUNTED = {
    State.PLANNED: "planned",
    State.LAYING: "laying",
    State.LAID_UP: "laying",
    State.CURING: "curing",
    State.CURED: "to_release",
    State.DEMOULDED: "to_release",
    State.TRIMMED: "to_release",
    State.RELEASED: "released",
    State.SHIPPED: "shipped",
    State.RETURNED: "returned",
    State.FITTED: "fitted",
    State.SCRAPPED: "scrapped",
    State.CANCELLED: "cancelled",
    State.ABANDONED: "cancelled",
}
# Of these a hold is told; what is gone is where it is, and what came back says so.
_MAY_BE_HELD = tuple(
    s for s, said in _COUNTED.items() if said in ("planned", "laying", "curing", "to_release", "released")
)


@dataclass(frozen=True, slots=True)
class OrderReference:
    """What one system calls an order or a line."""

    system: str
    reference: str


@dataclass(frozen=True, slots=True)
class LineCounts:
    """The parts of a line by where they stand; each is counted once, and one that a hold reaches as held."""

    planned: int = 0
    laying: int = 0
    curing: int = 0
    to_release: int = 0
    held: int = 0
    released: int = 0
    shipped: int = 0
    returned: int = 0
    fitted: int = 0
    scrapped: int = 0
    cancelled: int = 0


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of an order.

    Attributes
    ----------
    number
        Within its order.
    revision
        Nothing means: the one approved last when a part is started.
    replaced_by
        Who plans another part when one is scrapped.
    wanting
        How many more parts the line wants than it has: those scrapped that nobody has planned anew.
    """

    id: int
    number: int
    part_number: str
    revision: str | None
    quantity: int
    due: date | None
    replaced_by: ReplacedBy
    counts: LineCounts
    wanting: int
    references: tuple[OrderReference, ...]


@dataclass(frozen=True, slots=True)
class OrderRow:
    """An order in one line."""

    id: int
    references: tuple[OrderReference, ...]
    customer: str | None
    due: date | None
    state: OrderState
    counts: LineCounts
    wanting: int
    placed_at: datetime
    version: int


@dataclass(frozen=True, slots=True)
class OrderView:
    """An order with its lines.

    Attributes
    ----------
    state
        Done when of every line as many parts as it wants were shipped, or fitted here; cancelled when all of it was.
    """

    id: int
    references: tuple[OrderReference, ...]
    customer: str | None
    customer_number: int | None
    due: date | None
    remark: str | None
    state: OrderState
    lines: tuple[LineView, ...]
    placed_at: datetime
    placed_by: str
    cancelled_at: datetime | None
    version: int


@dataclass(frozen=True, slots=True)
class OrderPart:
    """A part of an order.

    Attributes
    ----------
    line
        The number of its line within the order.
    replaces
        The scrapped part in whose place it was planned.
    """

    code: str
    line: int
    state: PartState
    serial: str | None
    replaces: str | None


def read_order(order: int, *, at: datetime) -> OrderView:
    """One order: its lines, and where the parts of each stand."""
    return view_order(find_row(Order, order, "order"), at=at)


def list_orders(
    *,
    at: datetime,
    after: int | None,
    limit: int,
    reference: str | None = None,
    system: str | None = None,
    customer: str | None = None,
    due_by: date | None = None,
    cancelled: bool | None = None,
) -> Page[OrderRow]:
    """List orders: all, or by a reference (in any case of its letters), customer or due date."""
    query = Order.select(Order, Customer).join(Customer, JOIN.LEFT_OUTER)
    if reference is not None or system is not None:
        named = ExternalReference.select(ExternalReference.subject).where(
            (ExternalReference.kind == Referred.ORDER) & ExternalReference.withdrawn_in.is_null()
        )
        if reference is not None:
            named = named.where(ExternalReference.text_key == folded(reference))
        if system is not None:
            named = named.where(ExternalReference.system_key == folded(system))
        query = query.where(Order.id.in_(named))
    if customer is not None:
        query = query.where(Customer.name_key == folded(customer))
    if due_by is not None:
        query = query.where(Order.due <= due_by)
    if cancelled is not None:
        query = query.where(Order.cancelled_at.is_null(not cancelled))
    return page_of(query, Order.id, after=after, limit=limit, views=lambda rows: _rows(rows, at=at))


def _rows(rows: Sequence[Order], *, at: datetime) -> Iterator[OrderRow]:
    ids = [row.id for row in rows]
    lines: dict[int, list[OrderLine]] = {number: [] for number in ids}
    for line in OrderLine.select().where(OrderLine.order.in_(ids)).order_by(OrderLine.order, OrderLine.number):
        lines[line.order_id].append(line)
    counts, names = counts_of(ids, at=at), references_of(Referred.ORDER, ids)
    return (_row(row, lines[row.id], counts, names[row.id]) for row in rows)


def _row(
    row: Order, lines: list[OrderLine], counts: Mapping[int, LineCounts], names: Iterable[ExternalReference]
) -> OrderRow:
    of_lines = [(line, counts.get(line.id, LineCounts())) for line in lines]
    return OrderRow(
        id=row.id,
        references=_called(names),
        customer=row.customer.name if row.customer is not None else None,
        due=row.due,
        state=_state(row, of_lines),
        counts=LineCounts(*(sum(getattr(c, name) for _, c in of_lines) for name in LineCounts.__slots__)),
        wanting=0 if row.cancelled_at else sum(_wanting(line, c) for line, c in of_lines),
        placed_at=row.placed_at,
        version=row.version,
    )


def list_order_parts(
    order: int,
    *,
    after: int | None,
    limit: int,
    line: int | None = None,
    state: PartState | None = None,
    serial: str | None = None,
) -> Page[OrderPart]:
    """List the parts of an order, all that were ever planned for it, by line, state or serial."""
    find_row(Order, order, "order")
    query = (
        Part.select(Part, Item, OrderLine)
        .join(Item, on=(Part.item == Item.id), attr="thing")
        .switch(Part)
        .join(OrderLine)
        .where(OrderLine.order == order)
    )
    for column, wanted in ((OrderLine.number, line), (Item.state, state), (Part.serial, serial)):
        if wanted is not None:
            query = query.where(column == wanted)
    return page_of(query, Part.item, after=after, limit=limit, views=_order_parts)


def _order_parts(rows: Sequence[Any]) -> Iterator[OrderPart]:
    scrapped = {row.replaces_id for row in rows if row.replaces_id is not None}
    codes = {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_(scrapped))} if scrapped else {}
    return (
        OrderPart(row.thing.code, row.line.number, row.thing.state, row.serial, codes.get(row.replaces_id or 0))
        for row in rows
    )


def view_order(row: Order, *, at: datetime) -> OrderView:
    lines = list(OrderLine.select().where(OrderLine.order == row.id).order_by(OrderLine.number))
    counts = counts_of([row.id], at=at)
    names = references_of(Referred.LINE, [line.id for line in lines])
    ((placed_by,),) = Person.select(called_then(Person, row.placed_at)).where(Person.id == row.placed_by_id).tuples()
    return OrderView(
        id=row.id,
        references=_called(references_of(Referred.ORDER, [row.id])[row.id]),
        customer=row.customer.name if row.customer is not None else None,
        customer_number=row.customer_id,
        due=row.due,
        remark=row.remark,
        state=_state(row, [(line, counts.get(line.id, LineCounts())) for line in lines]),
        lines=tuple(_line(row, line, counts.get(line.id, LineCounts()), names[line.id]) for line in lines),
        placed_at=row.placed_at,
        placed_by=placed_by,
        cancelled_at=row.cancelled_at,
        version=row.version,
    )


def _line(order: Order, line: OrderLine, counts: LineCounts, names: Iterable[ExternalReference]) -> LineView:
    return LineView(
        id=line.id,
        number=line.number,
        part_number=line.part_number,
        revision=line.revision,
        quantity=line.quantity,
        due=line.due,
        replaced_by=as_word(ReplacedBy, line.replaced_by),
        counts=counts,
        wanting=0 if order.cancelled_at else _wanting(line, counts),
        references=_called(names),
    )


def _called(names: Iterable[ExternalReference]) -> tuple[OrderReference, ...]:
    return tuple(OrderReference(row.system, row.text) for row in names)


def _wanting(line: OrderLine, counts: LineCounts) -> int:
    there = sum(getattr(counts, name) for name in LineCounts.__slots__) - counts.scrapped - counts.cancelled
    return max(0, line.quantity - there)


def _state(row: Order, lines: Iterable[tuple[OrderLine, LineCounts]]) -> OrderState:
    if row.cancelled_at is not None:
        return OrderState.CANCELLED
    done = all(counts.shipped + counts.fitted >= line.quantity for line, counts in lines)
    return OrderState.DONE if done else OrderState.OPEN


def counts_of(orders: Iterable[int], *, at: datetime) -> dict[int, LineCounts]:
    """For each line of these orders how many parts stand where, in one statement; holds behind a part count."""
    found: dict[int, dict[str, int]] = {}
    states = ", ".join(f"'{state}'" for state in _MAY_BE_HELD)
    said = rows_of(
        "WITH RECURSIVE their(id, line_id, state) AS"
        f" (SELECT p.item_id, p.line_id, i.state FROM {looked_up()}"
        f" {each('order_line', 'l', 'l.order_id IN (given.id)')} {each('part', 'p', 'p.line_id IN (l.id)')}"
        f" {each('item', 'i', 'i.id IN (p.item_id)')}),"
        " reach(root, id, at) AS (SELECT id, id, CAST(0 AS BIGINT) FROM their"
        f" WHERE state IN ({states})"
        " AND EXISTS (SELECT 1 FROM hold WHERE item_id IS NOT NULL AND lifted_at IS NULL)"
        " UNION SELECT reach.root, m.source_id, m.occurred_at FROM reach"
        f" {each('movement', 'm', 'm.target_id IN (reach.id)')}"
        " WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL),"
        " held(root) AS (SELECT DISTINCT reach.root FROM reach"
        f" {each('hold', 'h', 'h.item_id IN (reach.id)')} WHERE h.lifted_at IS NULL AND"
        " (h.since IS NULL OR h.since <= CASE WHEN reach.root = reach.id THEN CAST(? AS BIGINT) ELSE reach.at END))"
        " SELECT their.line_id, their.state, COUNT(*), COUNT(held.root)"
        " FROM their LEFT JOIN held ON held.root = their.id GROUP BY their.line_id, their.state",
        listed(orders),
        microseconds(at),
    )
    for line, state, count, held in said:
        of_line = found.setdefault(line, dict.fromkeys(LineCounts.__slots__, 0))
        of_line[_COUNTED[State(state)]] += count - held
        of_line["held"] += held
    return {line: LineCounts(**counts) for line, counts in found.items()}
