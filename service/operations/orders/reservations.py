"""What is reserved for orders, as it is read and released; it is made where it is checked whether it can be kept."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from schemas.words import ReservationState, Unit
from service.database import locked
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.stock.reserved import called, of_reservation
from service.records.items import Item
from service.records.materials import Material
from service.records.orders import Order, OrderLine
from service.records.parts import Part
from service.records.people import Person
from service.records.promises import Reservation, ReservedAmount


@dataclass(frozen=True, slots=True)
class AmountReserved:
    """So much of one material for the parts of one line, wanted on one day.

    Attributes
    ----------
    line
        Number of the order's line.
    parts
        How many parts of the line it is for.
    reserved_mg
        What was reserved.
    left_mg
        What of it is still kept: the parts have not taken it, and are still planned or being laid up.
    """

    line: int
    part_number: str
    material: int
    name: str
    parts: int
    needed_on: date
    reserved_mg: int | None
    reserved_mm: int | None
    left_mg: int | None
    left_mm: int | None


@dataclass(frozen=True, slots=True)
class ReservationRow:
    """A reservation in one line.

    Attributes
    ----------
    state
        Standing, released, or expired: after `expires_at` nothing is kept by it.
    """

    id: int
    order_id: int
    state: ReservationState
    remark: str | None
    placed_at: datetime
    expires_at: datetime
    released_at: datetime | None
    released_why: str | None


@dataclass(frozen=True, slots=True)
class ReservationView:
    """A reservation with its amounts.

    Attributes
    ----------
    called
        The order by its first reference.
    state
        Standing, released, or expired: after `expires_at` nothing is kept by it.
    amounts
        What is reserved, material by material.
    """

    id: int
    order_id: int
    called: str
    state: ReservationState
    remark: str | None
    placed_at: datetime
    placed_by: str
    expires_at: datetime
    released_at: datetime | None
    released_why: str | None
    amounts: tuple[AmountReserved, ...]


@operation
def release_reservation(work: Work, *, reservation: int) -> ReservationView:
    """Release what a reservation keeps: others may take it. Sent again it is answered again."""
    row = _locked(reservation)
    ledger.refuse_before(work, row.placed_at, f"Reservation {row.id} was made")
    if row.released_at is None:
        if row.expires_at <= work.act.occurred_at:
            raise WrongState(f"Reservation {row.id} has expired; nothing is kept by it.", way_out="Leave it so.")
        let_go(work, [row], why=work.act.why or "released")
    return view_reservation(row, at=work.act.occurred_at)


def release_of_order(work: Work, order: int, *, why: str) -> None:
    """Release all that stands reserved for an order that is cancelled."""
    rows = Reservation.select().where((Reservation.order == order) & Reservation.released_at.is_null())
    let_go(work, list(rows), why=why)


def let_go(work: Work, rows: Iterable[Reservation], *, why: str) -> None:
    for row in rows:
        row.released_at, row.released_in_id, row.released_why = work.act.occurred_at, work.deed, why
        work.note(reservation=row.id, order=row.order_id, released=why)
    numbers = [row.id for row in rows]
    if numbers:
        Reservation.update(released_at=work.act.occurred_at, released_in=work.deed, released_why=why).where(
            Reservation.id.in_(numbers)
        ).execute()


def _locked(number: int) -> Reservation:
    row = locked(Reservation.select().where(Reservation.id == number)).get_or_none()
    return row if row is not None else find_row(Reservation, number, "reservation")


def read_reservation(reservation: int, *, at: datetime) -> ReservationView:
    """One reservation: what it keeps of which material, and what of it was taken."""
    return view_reservation(find_row(Reservation, reservation, "reservation"), at=at)


def list_reservations(
    *,
    at: datetime,
    after: int | None,
    limit: int,
    order: int | None = None,
    material: int | None = None,
    standing: bool | None = None,
) -> Page[ReservationRow]:
    """List reservations: of an order, of a material, those that stand or those that do not."""
    query = Reservation.select()
    if order is not None:
        query = query.where(Reservation.order == order)
    if material is not None:
        of_it = ReservedAmount.select(ReservedAmount.reservation).where(ReservedAmount.material == material)
        query = query.where(Reservation.id.in_(of_it))
    if standing is True:
        query = query.where(Reservation.released_at.is_null() & (Reservation.expires_at > at))
    elif standing is False:
        query = query.where(Reservation.released_at.is_null(False) | (Reservation.expires_at <= at))
    return page(query, Reservation.id, after=after, limit=limit, view=lambda row: _row(row, at), newest_first=True)


def _state(row: Reservation, at: datetime) -> ReservationState:
    if row.released_at is not None:
        return ReservationState.RELEASED
    return ReservationState.STANDING if row.expires_at > at else ReservationState.EXPIRED


def _row(row: Reservation, at: datetime) -> ReservationRow:
    return ReservationRow(
        id=row.id,
        order_id=row.order_id,
        state=_state(row, at),
        remark=row.remark,
        placed_at=row.placed_at,
        expires_at=row.expires_at,
        released_at=row.released_at,
        released_why=row.released_why,
    )


def view_reservation(row: Reservation, *, at: datetime) -> ReservationView:
    state = _state(row, at)
    ((placed_by,),) = Person.select(called_then(Person, row.placed_at)).where(Person.id == row.placed_by_id).tuples()
    return ReservationView(
        id=row.id,
        order_id=row.order_id,
        called=called([row.order_id])[row.order_id],
        state=state,
        remark=row.remark,
        placed_at=row.placed_at,
        placed_by=placed_by,
        expires_at=row.expires_at,
        released_at=row.released_at,
        released_why=row.released_why,
        amounts=tuple(_amounts(row, stands=state == ReservationState.STANDING)),
    )


def _amounts(row: Reservation, *, stands: bool) -> Iterable[AmountReserved]:
    rows = of_reservation(row.id)
    lines = OrderLine.select(Part.item, OrderLine.number, OrderLine.part_number).join(Part).tuples()
    line_of: dict[int, Any] = {part: (number, name) for part, number, name in lines.where(OrderLine.order == row.order)}
    names = dict(Material.select(Material.id, Material.name).where(_any_of({one.material for one in rows})).tuples())
    alike: dict[tuple[Any, int, date], list[Any]] = {}
    for one in rows:
        alike.setdefault((line_of[one.part], one.material, one.needed_on), []).append(one)
    for ((number, part_number), material, day), some in sorted(alike.items()):
        by_length = some[0].unit == Unit.MILLIMETRE
        reserved = sum(one.amount for one in some)
        left = sum(one.left for one in some) if stands else 0
        yield AmountReserved(
            line=number,
            part_number=part_number,
            material=material,
            name=names[material],
            parts=len({one.part for one in some}),
            needed_on=day,
            reserved_mg=None if by_length else reserved,
            reserved_mm=reserved if by_length else None,
            left_mg=None if by_length else left,
            left_mm=left if by_length else None,
        )


def _any_of(numbers: Iterable[int]) -> Any:
    return Material.id.in_(sorted(numbers))


def planned_parts(order: Order, lines: Iterable[int] | None) -> dict[int, tuple[OrderLine, list[int]]]:
    """The parts of an order that are only planned, by line: those of these line numbers, or all."""
    query = (
        OrderLine.select(OrderLine, Part.item.alias("planned"))
        .join(Part)
        .join(Item, on=(Part.item == Item.id))
        .where((OrderLine.order == order.id) & (Item.state == "planned"))
        .order_by(OrderLine.number, Part.item)
    )
    if lines is not None:
        query = query.where(OrderLine.number.in_(list(lines)))
    found: dict[int, tuple[OrderLine, list[int]]] = {}
    for row in query.objects():
        found.setdefault(row.number, (row, []))[1].append(row.planned)
    return found
