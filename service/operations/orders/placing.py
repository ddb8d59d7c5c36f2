"""An order is placed once: its parts are planned with it, and have their codes.

An order system that heard no answer sends its order again. The same order under the same reference is answered with
what is there; another one under that reference is refused, so that no part is ever planned twice.
"""

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import rfc8785
from peewee import chunked

from schemas.words import Referred, ReplacedBy
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.plain import plain
from service.operations.door.refusals import AlreadyThere, OrderedOtherwise, Unprocessable
from service.operations.door.rows import find_row
from service.operations.orders.customers import customer_for
from service.operations.orders.order import OrderView, view_order
from service.operations.orders.references import folded, keep, standing, taken, whose
from service.operations.parts.designs import DESIGNS, find_design
from service.operations.parts.planned import Planned, plan_parts, serial_key
from service.records.items import Item
from service.records.orders import ExternalReference, Order, OrderLine
from service.records.parts import Design, Part

# So many parts one act plans; a larger order has lines added to it.
MOST_PARTS = 1000
MOST_LINES = 1000

Line = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class OrderPlaced:
    """The order, and whether it was there already.

    Attributes
    ----------
    already_there
        The same order was placed before under this reference: nothing was planned again.
    """

    order: OrderView
    already_there: bool


@operation
def place_order(
    work: Work,
    *,
    reference: str,
    lines: Sequence[Line],
    system: str | None = None,
    customer: str | None = None,
    customer_reference: str | None = None,
    due: date | None = None,
    remark: str | None = None,
) -> OrderPlaced:
    """Place an order under the order system's own reference, and plan its parts. Sent again it is answered again.

    Another order under the same reference is refused. What is to change of an order is changed by its number.
    """
    owner = whose(work, system)
    content = _content(customer, customer_reference, due, remark, lines)
    there = standing(Referred.ORDER, owner, [reference]).get(folded(reference))
    if there is not None:
        return OrderPlaced(_same(work, there.subject, there.text, content), already_there=True)
    who = customer_for(work, owner, customer, customer_reference)
    row = Order.create(
        customer=who,
        due=due,
        remark=remark,
        content=content,
        placed_at=work.act.occurred_at,
        placed_by=work.act.person,
        deed=work.deed,
    )
    keep(work, Referred.ORDER, owner, {reference: row.id})
    work.note(order=row.id, system=owner, reference=reference, customer=who.name if who is not None else None)
    add_lines(work, row, lines, owner=owner, reference=reference, first=1)
    return OrderPlaced(view_order(row, at=work.act.occurred_at), already_there=False)


def _same(work: Work, number: int, reference: str, content: str) -> OrderView:
    row = find_row(Order, number, "order")
    if row.content != content:
        raise OrderedOtherwise(
            f"{reference} is order {row.id} already, and was placed with another content.",
            way_out="Give a new order a reference of its own; change one that is there by its number.",
            pointer="/reference",
            order=row.id,
        )
    return view_order(row, at=work.act.occurred_at)


def _content(*asked: Any) -> str:
    """What was asked, as one hash: that of the same order is the same, whenever and by whom it is sent."""
    return hashlib.sha256(rfc8785.dumps(plain(asked))).hexdigest()


def add_lines(work: Work, row: Order, lines: Sequence[Line], *, owner: str, reference: str, first: int) -> None:
    """Write these lines and plan their parts, in a number of statements that does not grow with them."""
    if sum(line["quantity"] for line in lines) > MOST_PARTS:
        raise Unprocessable(
            f"At most {MOST_PARTS} parts are planned in one act.",
            pointer="/lines",
            way_out="Place the order with its first lines, and add the others to it.",
        )
    designs = _designs(lines)
    for n, line in enumerate(lines):
        require_as_many(line.get("serials"), line["quantity"], f"/lines/{n}/serials")
    refuse_serials(
        (line["part_number"], f"/lines/{n}/serials", line.get("serials") or ()) for n, line in enumerate(lines)
    )
    _refuse_line_references(owner, lines)
    rows = [
        {
            "order": row.id,
            "number": first + n,
            "part_number": line["part_number"],
            "revision": line.get("revision"),
            "quantity": line["quantity"],
            "due": line.get("due"),
            "replaced_by": line.get("replaced_by", ReplacedBy.SHOP),
            "deed": work.deed,
        }
        for n, line in enumerate(lines)
    ]
    kept: list[OrderLine] = []
    for some in chunked(rows, AT_ONCE):
        kept += OrderLine.insert_many(some).returning(OrderLine).execute()
    kept.sort(key=lambda one: one.number)
    named = {line["reference"]: one.id for line, one in zip(lines, kept, strict=True) if line.get("reference")}
    if named:
        keep(work, Referred.LINE, owner, named)
    who = row.customer.name if row.customer is not None else None
    plain_part = [
        Planned(one, design, order=reference, customer=who) for one, design in zip(kept, designs, strict=True)
    ]
    wanted = [
        replace(part, serial=serial)
        for part, line in zip(plain_part, lines, strict=True)
        for serial in (line.get("serials") or [None] * line["quantity"])
    ]
    plan_parts(work, wanted)
    for one in kept:
        work.note(order=row.id, line=one.number, part_number=one.part_number, planned=one.quantity)


def _designs(lines: Sequence[Line]) -> list[Design]:
    """By which revision each line is planned; all looked up together."""
    numbers = sorted({line["part_number"] for line in lines})
    found: dict[str, list[Design]] = {number: [] for number in numbers}
    for some in chunked(numbers, AT_ONCE):
        columns = (Design.id, Design.part_number, Design.revision, Design.name, Design.approved_at)
        for row in Design.select(*columns).where(Design.part_number.in_(some)).order_by(Design.approved_at, Design.id):
            found[row.part_number].append(row)
    return [_design(found[line["part_number"]], line, n) for n, line in enumerate(lines)]


def _design(rows: Sequence[Design], line: Line, n: int) -> Design:
    revision = line.get("revision")
    fitting = [row for row in rows if row.approved_at is not None and revision in (None, row.revision)]
    if fitting:
        return fitting[-1]
    try:
        # Why there is none is said by who looks one up alone.
        DESIGNS.require_approved(find_design(design=None, part_number=line["part_number"], revision=revision))
    except Unprocessable as refusal:
        refusal.pointer = f"/lines/{n}/part_number"
        raise
    raise AssertionError("a design that is approved was not found")


def require_as_many(serials: Sequence[str] | None, parts: int, pointer: str) -> None:
    """So many serials as parts that are planned, or none."""
    if serials and len(serials) != parts:
        planned = {0: "No part is planned", 1: "1 part has 1 serial, or none"}
        raise Unprocessable(
            f"{planned.get(parts, f'{parts} parts have {parts} serials, or none')}; "
            f"{len(serials)} {'is' if len(serials) == 1 else 'are'} given.",
            pointer=pointer,
        )


def refuse_serials(asked: Iterable[tuple[str, str, Sequence[str]]]) -> None:
    """Of each part number, by the place where they stand: each serial once, and none that a part of that number has."""
    places: dict[str, str] = {}
    for part_number, pointer, serials in asked:
        for m, serial in enumerate(serials):
            key, place = serial_key(part_number, serial), f"{pointer}/{m}"
            if key in places:
                raise Unprocessable(f"The serial {serial} of {part_number} is given twice.", pointer=place)
            places[key] = place
    for some in chunked(places, AT_ONCE):
        query = Part.select(Part.serial, Part.serial_key, Item.code).join(Item, on=(Part.item == Item.id))
        row = query.where(Part.serial_key.in_(some)).order_by(Part.item).objects().first()
        if row is not None:
            raise AlreadyThere(
                f"{row.code} has the serial {row.serial} already.",
                way_out="Give the part another serial; if it is the same order, send it under its reference.",
                pointer=places[row.serial_key],
                part=row.code,
            )


def _refuse_line_references(owner: str, lines: Sequence[Line]) -> None:
    named = [(f"/lines/{n}/reference", line["reference"]) for n, line in enumerate(lines) if line.get("reference")]
    twice = [key for key, count in Counter(folded(text) for _, text in named).items() if count > 1]
    if twice:
        place = [place for place, text in named if folded(text) == twice[0]][1]
        raise Unprocessable("Two lines have one reference.", pointer=place)
    there = standing(Referred.LINE, owner, [text for _, text in named]) if named else {}
    for place, text in named:
        row = there.get(folded(text))
        if row is not None:
            refusal = taken(row)
            refusal.pointer = place
            refusal.way_out = "A line's reference is its own among all orders, such as the order's with its number."
            raise refusal


def first_reference(row: Order) -> ExternalReference | None:
    """What is written on parts as their order: the reference that was given first."""
    named = (ExternalReference.kind == Referred.ORDER) & (ExternalReference.subject == row.id)
    standing_ones = ExternalReference.select().where(named & ExternalReference.withdrawn_in.is_null())
    return standing_ones.order_by(ExternalReference.id).first()
