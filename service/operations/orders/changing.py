"""Orders are changed and cancelled: what is only planned leaves the plan; what is begun is asked about, and stays."""

from collections.abc import Mapping, Sequence
from itertools import repeat
from typing import Annotated, Any

from peewee import fn

from schemas.words import State
from service.database import locked
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, ChangedMeanwhile, UnknownThing, Unprocessable, WrongState
from service.operations.door.rows import change_row, find_row
from service.operations.ledger import ledger
from service.operations.orders.customers import customer_for
from service.operations.orders.order import OrderView, view_order
from service.operations.orders.placing import (
    MOST_LINES,
    MOST_PARTS,
    add_lines,
    first_reference,
    refuse_serials,
    require_as_many,
)
from service.operations.orders.references import whose
from service.operations.orders.reservations import release_of_order
from service.operations.parts.designs import DESIGNS, find_design
from service.operations.parts.planned import (
    OUT_OF_THE_LINE,
    Planned,
    cancel_planned,
    plan_parts,
    serial_key,
    wanting,
)
from service.records.items import Item
from service.records.orders import Order, OrderLine
from service.records.parts import Part

# Of what is laid so many are named; all are counted.
_MOST_NAMED = 20


@operation
def change_order(
    work: Work, *, order: int, version: int, customer: str | None = None, **changes: Annotated[Any, Order]
) -> OrderView:
    """Change an order's customer, due date or remark. Parts that are begun keep the customer that they have."""
    row = _locked(work, order)
    _still_open(row)
    if customer is not None:
        who = customer_for(work, "", customer, None)
        if who is not None and who.id != row.customer_id:
            changes["customer"] = who.id
            planned = Item.select(Item.id).where((Item.kind == "P") & (Item.state == State.PLANNED))
            Part.update(customer=who.name).where(_of_order(row.id) & Part.item.in_(planned)).execute()
        elif not changes:
            _require_version(row, version)
            return _answered(work, row)
    change_row(work, row, version, changes, card=False)
    return _answered(work, row)


@operation
def add_order_lines(
    work: Work, *, order: int, first: int, lines: Sequence[Mapping[str, Any]], system: str | None = None
) -> OrderView:
    """Add lines to an order, from the number on that comes next, and plan their parts. Sent again it is refused."""
    row = _locked(work, order)
    _still_open(row)
    last = OrderLine.select(fn.MAX(OrderLine.number)).where(OrderLine.order == row.id).scalar()
    if first != last + 1:
        raise AlreadyThere(
            f"Order {row.id} has {last} lines; the next one is {last + 1}.",
            way_out="Read the order: if these lines are in it, they were added before.",
            pointer="/first",
            lines=last,
        )
    if last + len(lines) > MOST_LINES:
        raise Unprocessable(f"An order has at most {MOST_LINES} lines.", pointer="/lines", way_out="Place another one.")
    named = first_reference(row)
    owner = system or (named.system if named is not None else whose(work, None))
    add_lines(work, row, lines, owner=owner, reference=named.text if named is not None else str(row.id), first=first)
    return _changed(work, row)


@operation
def change_order_line(
    work: Work,
    *,
    order: int,
    line: int,
    version: int,
    serials: Sequence[str] = (),
    confirmed: bool = False,
    **changes: Annotated[Any, OrderLine],
) -> OrderView:
    """Change a line: how many, by which revision, until when, or who replaces what is scrapped.

    More parts are planned at once, with serials if they are given; fewer take planned ones out of the plan, the newest
    first. Where more than that are begun already it asks: what is begun stays, and goes on.
    """
    row = _locked(work, order)
    _still_open(row)
    _require_version(row, version)
    if not changes:
        raise Unprocessable("Give at least one field to change.")
    one = _line(row, line)
    before = {name: getattr(one, name) for name in changes}
    if "revision" in changes:
        design = find_design(design=None, part_number=one.part_number, revision=changes["revision"])
        DESIGNS.require_approved(design)
        Part.update(design=design.id).where((Part.line == one.id) & Part.started_at.is_null()).execute()
    OrderLine.update(**changes).where(OrderLine.id == one.id).execute()
    for name, value in changes.items():
        setattr(one, name, value)
    work.note(order=row.id, line=one.number, before=before, after=changes)
    _fit(work, row, one, serials=serials, confirmed=confirmed)
    return _changed(work, row)


@operation
def plan_replacements(work: Work, *, order: int, line: int, serials: Sequence[str] = ()) -> OrderView:
    """Plan as many parts as a line wants and does not have, for those scrapped. Sent again it plans none.

    With serials, if they are given: one for each.
    """
    row = _locked(work, order)
    _still_open(row)
    one = _line(row, line)
    more = wanting(one)
    if more > 0 or not _are_of(one, serials):
        _plan_more(work, row, one, more, serials=serials, replaces=_unreplaced(one, min(more, MOST_PARTS)))
    return _answered(work, row)


@operation
def cancel_order(work: Work, *, order: int, confirmed: bool = False) -> OrderView:
    """Cancel an order. Its planned parts vanish from the plan; what is begun is asked about, stays and goes on."""
    row = _locked(work, order)
    if row.cancelled_at is not None:
        return _answered(work, row)
    _ask_about_begun(_of_order(row.id), confirmed=confirmed)
    query = Item.select(Item.code).join(Part, on=(Part.item == Item.id))
    planned = query.where(_of_order(row.id) & (Item.state == State.PLANNED)).order_by(Item.id)
    _cancel(work, [item.code for item in planned])
    Order.update(cancelled_at=work.act.occurred_at, cancelled_in=work.deed, version=Order.version + 1).where(
        Order.id == row.id
    ).execute()
    row.cancelled_at, row.version = work.act.occurred_at, row.version + 1
    release_of_order(work, row.id, why="the order was cancelled")
    work.note(order=row.id, cancelled=True)
    return _answered(work, row)


def _are_of(line: OrderLine, serials: Sequence[str]) -> bool:
    """Has the line a part with each of these, as it has where the same is sent again?"""
    keys = {serial_key(line.part_number, serial) for serial in serials}
    return Part.select().where((Part.line == line.id) & Part.serial_key.in_(keys)).count() == len(keys)


def _fit(work: Work, row: Order, line: OrderLine, *, serials: Sequence[str], confirmed: bool) -> None:
    """As many parts as the line wants now: planned anew, or taken out of the plan."""
    more = wanting(line)
    if more >= 0:
        _plan_more(work, row, line, more, serials=serials)
        return
    require_as_many(serials, 0, "/serials")
    query = Item.select(Item.code).join(Part, on=(Part.item == Item.id))
    planned = query.where((Part.line == line.id) & (Item.state == State.PLANNED)).order_by(Item.id.desc())
    codes = [item.code for item in planned.limit(-more)]
    if len(codes) < -more:
        _ask_about_begun(Part.line == line.id, confirmed=confirmed)
    _cancel(work, codes)


def _unreplaced(line: OrderLine, most: int) -> list[int]:
    """Parts of a line that were scrapped and in whose place no other was planned, or one that was cancelled; the oldest
    first."""
    if most < 1:
        return []
    other, thing = Part.alias(), Item.alias()
    replaced = (
        other.select(other.replaces)
        .join(thing, on=(other.item == thing.id))
        .where((other.line == line.id) & other.replaces.is_null(False) & (thing.state != State.CANCELLED))
    )
    query = Part.select(Part.item).join(Item, on=(Part.item == Item.id))
    scrapped = query.where((Part.line == line.id) & (Item.state == State.SCRAPPED) & Part.item.not_in(replaced))
    return [item for (item,) in scrapped.order_by(Part.item).limit(most).tuples()]


def _plan_more(
    work: Work, row: Order, line: OrderLine, count: int, *, serials: Sequence[str], replaces: Sequence[int] = ()
) -> None:
    require_as_many(serials, max(count, 0), "/serials")
    if serials:
        refuse_serials([(line.part_number, "/serials", serials)])
    if count > MOST_PARTS:
        raise Unprocessable(f"At most {MOST_PARTS} parts are planned in one act.", pointer="/quantity")
    if count < 1:
        return
    design = find_design(design=None, part_number=line.part_number, revision=line.revision)
    named = first_reference(row)
    who = row.customer.name if row.customer is not None else None
    order = named.text if named is not None else str(row.id)
    places = zip([*replaces, *repeat(None, count - len(replaces))], serials or repeat(None, count), strict=True)
    plan_parts(
        work,
        [Planned(line, design, order=order, customer=who, serial=own, replaces=scrapped) for scrapped, own in places],
    )
    work.note(order=row.id, line=line.number, planned=count)


def _cancel(work: Work, codes: Sequence[str]) -> None:
    """Somebody may have begun one of them a moment ago: that one is no longer in the plan, and stays."""
    items = [item for item in ledger.lock(work, *codes).values() if item.state == State.PLANNED] if codes else []
    cancel_planned(work, items)
    work.note(cancelled=len(items))


def _ask_about_begun(where: Any, *, confirmed: bool) -> None:
    if confirmed:
        return
    query = Item.select(Item.code).join(Part, on=(Part.item == Item.id))
    begun = query.where(where & Item.state.not_in((*OUT_OF_THE_LINE, State.PLANNED))).order_by(Item.id)
    count = begun.count()
    if count:
        codes = [item.code for item in begun.limit(_MOST_NAMED)]
        raise WrongState(
            f"{codes[0]}{f' and {count - 1} more' if count > 1 else ''} {'is' if count == 1 else 'are'} begun already.",
            way_out="Confirm it: what is begun stays with the order and goes on; scrap as not wanted what is to stop.",
            answer_with={"confirmed": True},
            begun=codes,
            begun_count=count,
        )


def _of_order(order: int) -> Any:
    return Part.line.in_(OrderLine.select(OrderLine.id).where(OrderLine.order == order))


def _locked(work: Work, order: int) -> Order:
    row = locked(Order.select().where(Order.id == order)).get_or_none()
    if row is None:
        row = find_row(Order, order, "order")
    ledger.refuse_before(work, row.placed_at, f"Order {row.id} was placed")
    return row


def _line(row: Order, number: int) -> OrderLine:
    one = OrderLine.get_or_none((OrderLine.order == row.id) & (OrderLine.number == number))
    if one is None:
        raise UnknownThing(f"Order {row.id} has no line {number}.", way_out="Read the order: it lists its lines.")
    return one


def _still_open(row: Order) -> None:
    if row.cancelled_at is not None:
        raise WrongState(f"Order {row.id} was cancelled.", way_out="Place a new one, under a reference of its own.")


def _require_version(row: Order, version: int) -> None:
    if row.version != version:
        raise ChangedMeanwhile(
            "Someone changed this since you read it.", way_out="Read it again, then repeat your change."
        )


def _changed(work: Work, row: Order) -> OrderView:
    Order.update(version=Order.version + 1).where(Order.id == row.id).execute()
    row.version += 1
    return _answered(work, row)


def _answered(work: Work, row: Order) -> OrderView:
    """The order as it is with all that the act has changed."""
    work.write_items()
    return view_order(row, at=work.act.occurred_at)
