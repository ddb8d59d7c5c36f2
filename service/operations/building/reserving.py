"""A build check that reserves: what it allocates to an order's planned parts is kept for them, until it expires.

The check takes its time and writes nothing, so it is made before the act begins. Within the act the cans are locked,
and it is asked once more whether all that is reserved can be kept: of two who reserve the last can one gets it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from peewee import chunked

from schemas.words import BuildAnswer, Unit
from service.database import locked, reading
from service.formulas._promises import Reserved, kept
from service.formulas._stock import Need, granted, ungranted
from service.operations.building.checking import check_build
from service.operations.building.view import BuildCheck
from service.operations.door.act import Act
from service.operations.door.operation import AT_ONCE, Work, beforehand, operation
from service.operations.door.refusals import NotKept, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.shop import day_in_shop, the_site
from service.operations.ledger import ledger
from service.operations.orders.reservations import ReservationView, planned_parts, view_reservation
from service.operations.stock.picking import on_shelf
from service.operations.stock.reserved import expected_of, standing, wanted_by
from service.operations.stock.shelf import read_shelf
from service.records.items import Item
from service.records.materials import Material
from service.records.orders import Order, OrderLine
from service.records.parts import Design
from service.records.promises import Reservation, ReservedAmount

LONGEST = timedelta(days=366)
"""Nothing is kept longer than this by one reservation."""
_ASKED = ("temperature_c", "wet_out_rate_g_min", "working_share", "hardeners", "gap_mm")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be reserved of one material for one part, on the day on which it is used."""

    part: int
    material: int
    unit: Unit
    amount: int
    needed_on: date
    known_lot: bool


@dataclass(frozen=True, slots=True)
class Checked:
    """The check that was made for it, and the planned parts that it was made for, by line."""

    check: BuildCheck
    parts: dict[int, tuple[OrderLine, list[int]]]
    traceable: frozenset[int]
    needs: frozenset[tuple[int, str]]


@dataclass(frozen=True, slots=True)
class Reserving:
    """What was reserved, and the check that it rests on.

    Attributes
    ----------
    instead_of
        Reservations of this order that had these parts before: they are released as far as that.
    """

    reservation: ReservationView
    check: BuildCheck
    instead_of: tuple[int, ...]


def _checked(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    with reading():
        order = find_row(Order, asked["order"], "order")
        _require_open(order)
        parts = planned_parts(order, asked.get("lines"))
        _require_lines(order, parts, asked.get("lines"))
        today = day_in_shop(act.recorded_at, the_site())
        lines = [
            {
                "part_number": line.part_number,
                "revision": line.revision,
                "quantity": len(own),
                "due_on": _due(order, line, today),
            }
            for line, own in parts.values()
        ]
        more = {name: asked[name] for name in _ASKED if name in asked}
        check = check_build(at=act.occurred_at, lines=lines, order=order.id, within_days=0, **more)
        designs = {row.id: row for row in Design.select().where(Design.id.in_({d.design.id for d in check.lines}))}
        traceable = frozenset(number for number, row in designs.items() if row.traceable)
        needs = {(d.number, need["purpose"]) for d in check.lines for need in designs[d.design.id].resin_need}
        return {**asked, "checked": Checked(check, parts, traceable, frozenset(needs))}


def _require_open(order: Order) -> None:
    if order.cancelled_at is not None:
        raise WrongState(f"Order {order.id} was cancelled.", way_out="Reserve for an order that is open.")


def _require_lines(order: Order, parts: Mapping[int, Any], asked: Sequence[int] | None) -> None:
    for index, number in enumerate(asked or ()):
        if number not in parts:
            raise Unprocessable(
                f"Line {number} of order {order.id} has no part that is only planned.", pointer=f"/lines/{index}"
            )
    if not parts:
        raise WrongState(
            f"Order {order.id} has no part that is only planned.",
            way_out="What is begun takes its materials from now on; there is nothing to reserve.",
        )


def _due(order: Order, line: OrderLine, today: date) -> date | None:
    """What is due is planned by its day; what is late already as early as it can be."""
    due = line.due or order.due
    return due if due is not None and due >= today else None


@operation
@beforehand(_checked, gives="checked")
def reserve_for_order(
    work: Work,
    *,
    order: int,
    expires_at: datetime,
    temperature_c: float,
    wet_out_rate_g_min: float,
    checked: Checked,
    working_share: float = 0.5,
    hardeners: Sequence[int] = (),
    gap_mm: int = 10,
    lines: Sequence[int] | None = None,
    with_conditions: bool = False,
    remark: str | None = None,
) -> Reserving:
    """Check whether an order's planned parts can be built, and if so reserve what they take, until it expires.

    Amounts are reserved, not cans. A "yes, if" is reserved where `with_conditions` says so: it rests on them. What was
    reserved for these parts before is released by it, so that sent again it reserves nothing twice.
    """
    at = work.act.occurred_at
    _require_span(expires_at, work.act)
    row = locked(Order.select().where(Order.id == order)).get()
    ledger.refuse_before(work, row.placed_at, f"Order {row.id} was placed")
    _require_open(row)
    _require_as_checked(row, checked, lines)
    _require_possible(checked, with_conditions=with_conditions)
    wanted = list(_wanted(checked))
    _lock_cans({one.material for one in wanted})
    before = _release_before(work, row.id, {one.part for one in wanted})
    _require_kept(work, wanted, with_conditions=with_conditions)
    made = Reservation.create(
        order=row.id,
        remark=remark,
        placed_at=at,
        placed_by=work.act.person,
        expires_at=expires_at,
        deed=work.deed,
    )
    rows = [
        {
            "reservation": made.id,
            "material": one.material,
            "part": one.part,
            "unit": one.unit,
            "amount": one.amount,
            "needed_on": one.needed_on,
            "known_lot": one.known_lot,
        }
        for one in wanted
    ]
    for some in chunked(rows, AT_ONCE):
        ReservedAmount.insert_many(some).execute()
    sums: dict[int, int] = {}
    for one in wanted:
        sums[one.material] = sums.get(one.material, 0) + one.amount
    work.note(reservation=made.id, order=row.id, expires_at=expires_at, reserved=sums, instead_of=before)
    return Reserving(view_reservation(made, at=at), checked.check, tuple(before))


def _require_span(expires_at: datetime, act: Act) -> None:
    if expires_at <= act.recorded_at:
        raise Unprocessable("It would have expired already.", pointer="/expires_at")
    if expires_at - act.recorded_at > LONGEST:
        raise Unprocessable(
            f"Nothing is reserved for longer than {LONGEST.days} days.",
            way_out="Reserve anew before it expires.",
            pointer="/expires_at",
        )


def _require_as_checked(order: Order, checked: Checked, lines: Sequence[int] | None) -> None:
    """Somebody may have changed the order, or begun one of its parts, since it was checked a moment ago."""
    now = {number: own for number, (_, own) in planned_parts(order, lines).items()}
    if now != {number: own for number, (_, own) in checked.parts.items()}:
        raise NotKept(
            f"Order {order.id} was changed, or one of its parts begun, while it was checked.",
            way_out="Send it again.",
            answer=checked.check.answer,
        )


def _require_possible(checked: Checked, *, with_conditions: bool) -> None:
    """By its materials: where only the hours of a mould are not known, what there is can be kept all the same."""
    check = checked.check
    answers = {one.answer for one in check.materials}
    unmixed = checked.needs - {(pot.line, str(pot.purpose)) for pot in check.pots}
    if not answers and not unmixed and check.answer != BuildAnswer.NO:
        raise NotKept(
            "Nothing is left to reserve: these parts take nothing more from the shelf.",
            way_out="Start them; kits that are cut for them are theirs.",
            answer=check.answer,
        )
    if unmixed or check.answer == BuildAnswer.NO or answers & {BuildAnswer.NO, BuildAnswer.NOT_SHOWN}:
        raise NotKept(
            f"Nothing is reserved. {check.sentence}",
            way_out="Ask a build check what is short and what would help, or when it can be built.",
            answer=check.answer,
        )
    if BuildAnswer.YES_IF in answers and not with_conditions:
        raise NotKept(
            f"It rests on what has not come yet. {check.sentence}",
            way_out="See to it first; or say that it is to be reserved on these conditions.",
            answer_with={"with_conditions": True},
            answer=check.answer,
        )


def _wanted(checked: Checked) -> Iterable[Wanted]:
    """What the check draws for each part: masses of a material together, pieces of a cloth one by one."""
    numbers = list(checked.parts)
    design_of = {line.number: line.design.id for line in checked.check.lines}
    for material in checked.check.materials:
        masses: dict[tuple[int, int], int] = {}
        days: dict[tuple[int, int], date] = {}
        for draw in material.draws:
            part = checked.parts[numbers[draw.line - 1]][1][draw.part_in_line - 1]
            if draw.length_mm is not None:
                known_lot = design_of[draw.line] in checked.traceable
                yield Wanted(part, material.material, Unit.MILLIMETRE, draw.length_mm, draw.used_on, known_lot)
                continue
            key = (part, draw.line)
            masses[key] = masses.get(key, 0) + (draw.mass_mg or 0)
            days[key] = min(days.get(key, draw.used_on), draw.used_on)
        for (part, line), mass in masses.items():
            known_lot = design_of[line] in checked.traceable
            yield Wanted(part, material.material, Unit.MILLIGRAM, mass, days[part, line], known_lot)


def _lock_cans(materials: Iterable[int]) -> None:
    """Who starts a pot with one of these, or reserves of them too, waits until this is settled."""
    numbers = sorted(materials)
    list(locked(Material.select(Material.id).where(Material.id.in_(numbers)).order_by(Material.id)))
    for some in chunked(sorted(item.id for item in on_shelf(numbers)), AT_ONCE):
        list(locked(Item.select(Item.id).where(Item.id.in_(some)).order_by(Item.id)))


def _release_before(work: Work, order: int, parts: set[int]) -> list[int]:
    """What this order had reserved for these parts; a reservation that keeps nothing else is released whole."""
    stands = Reservation.released_at.is_null() & (Reservation.expires_at > work.act.recorded_at)
    earlier = [row.id for row in Reservation.select(Reservation.id).where((Reservation.order == order) & stands)]
    if not earlier:
        return []
    unreleased = ReservedAmount.reservation.in_(earlier) & ReservedAmount.released_in.is_null()
    touched: set[int] = set()
    for some in chunked(sorted(parts), AT_ONCE):
        own = unreleased & ReservedAmount.part.in_(some)
        touched |= {n for (n,) in ReservedAmount.select(ReservedAmount.reservation).where(own).distinct().tuples()}
        ReservedAmount.update(released_in=work.deed).where(own).execute()
    still = {n for (n,) in ReservedAmount.select(ReservedAmount.reservation).where(unreleased).distinct().tuples()}
    gone = sorted(touched - still)
    if gone:
        Reservation.update(released_at=work.act.occurred_at, released_in=work.deed, released_why="reserved anew").where(
            Reservation.id.in_(gone)
        ).execute()
    return sorted(touched)


def _require_kept(work: Work, wanted: Sequence[Wanted], *, with_conditions: bool) -> None:
    """Now that nobody else can take of these cans: is there enough beside what others have reserved?"""
    materials = {row.id: row for row in Material.select().where(Material.id.in_({one.material for one in wanted}))}
    today = day_in_shop(work.act.occurred_at, work.site)
    lives = {number: row.opened_life_days for number, row in materials.items()}
    shelf = read_shelf(materials, expected_of(materials), lives, at=work.act.occurred_at, site=work.site)
    others = standing(materials, at=work.act.recorded_at)
    for number, material in materials.items():
        own = [one for one in wanted if one.material == number]
        whole = own[0].unit == Unit.MILLIMETRE
        theirs = wanted_by([row for row in others if row.material == number], today)
        mine = Reserved(0, tuple(_need(one, today) for one in own))
        stocks = [one.stock for one in shelf.of(number)]
        level = granted(stocks) if with_conditions else ungranted(stocks)
        if 0 not in kept([*theirs, mine], level, whole=whole, limit_s=2.0):
            raise NotKept(
                f"{material.name} is not enough any more: somebody has taken or reserved of it just now.",
                way_out="Send it again; the check says what is short.",
                answer=BuildAnswer.NO,
                material=number,
            )


def _need(one: Wanted, today: date) -> Need:
    return Need(max(0, (one.needed_on - today).days), one.amount, one.known_lot)
