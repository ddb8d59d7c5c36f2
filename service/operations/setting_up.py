"""Many small acts in one: what a shop begins with, what one person signs at a sitting, what a system sends in numbers.

All of it, or nothing.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.operations.cures.schedules import ScheduleView, approve_schedule
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import Unprocessable
from service.operations.door.views import ItemRef
from service.operations.orders.placing import OrderPlaced, place_order
from service.operations.parts.designs import DesignView, approve_design
from service.operations.parts.moulds import MouldView, add_mould
from service.operations.parts.starting import start_part
from service.operations.pots.scales import ScaleView, add_scale
from service.operations.pots.system import SystemView
from service.operations.pots.systems import approve_resin_system
from service.operations.stock.lots import LotView
from service.operations.stock.places import add_place
from service.operations.stock.receiving import receive_delivery
from service.operations.stock.registers import MaterialView, SupplierView, add_material, add_supplier

Lines = Sequence[Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Registered:
    """What was added, in the order in which it was named."""

    suppliers: tuple[SupplierView, ...]
    places: tuple[ItemRef, ...]
    materials: tuple[MaterialView, ...]
    scales: tuple[ScaleView, ...]
    moulds: tuple[MouldView, ...]


@dataclass(frozen=True, slots=True)
class Approved:
    """What was approved, in the order in which it was named."""

    systems: tuple[SystemView, ...]
    schedules: tuple[ScheduleView, ...]
    designs: tuple[DesignView, ...]


@operation
def add_registers(
    work: Work,
    *,
    suppliers: Lines = (),
    places: Lines = (),
    materials: Lines = (),
    scales: Lines = (),
    moulds: Lines = (),
) -> Registered:
    """Add suppliers, places, materials, scales and moulds in one act: all of them, or none."""
    if not any((suppliers, places, materials, scales, moulds)):
        raise Unprocessable("Name something to add.", pointer="/materials")
    return Registered(
        suppliers=_each(work, add_supplier, "suppliers", suppliers),
        places=_each(work, add_place, "places", places),
        materials=_each(work, add_material, "materials", materials),
        scales=_each(work, add_scale, "scales", scales),
        moulds=_each(work, add_mould, "moulds", moulds),
    )


@operation
def approve_revisions(
    work: Work, *, systems: Sequence[int] = (), schedules: Sequence[int] = (), designs: Sequence[int] = ()
) -> Approved:
    """Approve resin systems, schedules and designs in one act, all of them or none; each is asked what it is alone."""
    if not any((systems, schedules, designs)):
        raise Unprocessable("Name something to approve.", pointer="/designs")
    return Approved(
        systems=_each(work, approve_resin_system, "systems", [{"system": number} for number in systems]),
        schedules=_each(work, approve_schedule, "schedules", [{"schedule": number} for number in schedules]),
        designs=_each(work, approve_design, "designs", [{"design": number} for number in designs]),
    )


@operation
def place_orders(work: Work, *, orders: Lines) -> tuple[OrderPlaced, ...]:
    """Place many orders in one act, all of them or none; each is answered as it is alone, in the order given."""
    return _each(work, place_order, "orders", orders)


@operation
def start_parts(work: Work, *, parts: Lines) -> tuple[ItemRef, ...]:
    """Start many parts in one act, all of them or none. Their codes are answered, in the order given."""
    work.act = replace(work.act, code_only=True)
    return _each(work, start_part, "parts", parts)


@operation
def receive_deliveries(work: Work, *, deliveries: Lines) -> tuple[LotView, ...]:
    """Receive many deliveries in one act, each with a note and a place of its own, all of them or none.

    Each lot waits in quarantine until the lead or quality releases it.
    """
    return _each(work, receive_delivery, "deliveries", deliveries)


def _each(work: Work, act: Callable[..., Any], named: str, lines: Lines) -> tuple[Any, ...]:
    return tuple(within(work, act, f"/{named}/{n}", **line) for n, line in enumerate(lines))
