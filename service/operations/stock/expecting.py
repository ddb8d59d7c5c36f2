"""Deliveries that are on their way: stated, put off, arrived or cancelled. A build check counts on them as conditions.

What arrives is received like any delivery, with its lots; here it is only said that nothing more of it is expected.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any

from schemas.words import ExpectedEnd, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import change_row, find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.ledger.amounts import counted_in
from service.records.base import as_word
from service.records.materials import Material, Supplier
from service.records.promises import ExpectedDelivery


@dataclass(frozen=True, slots=True)
class ExpectedView:
    """A delivery that is, or was, expected.

    Attributes
    ----------
    expected_on
        The first day on which it is thought to be here and released.
    reference
        The shop's purchase order, or the supplier's own number.
    ended_as
        Arrived or cancelled; null: it is still expected.
    """

    id: int
    material: int
    name: str
    supplier: int | None
    reference: str | None
    mass_mg: int | None
    length_mm: int | None
    expected_on: date
    expires_on: date | None
    ended_as: ExpectedEnd | None
    ended_at: datetime | None
    version: int


@operation
def expect_delivery(
    work: Work,
    *,
    material: int,
    expected_on: date,
    mass_mg: int | None = None,
    length_mm: int | None = None,
    supplier: int | None = None,
    reference: str | None = None,
    expires_on: date | None = None,
) -> ExpectedView:
    """State that a delivery is expected: how much of what, and the first day on which it will be here and released.

    Of a cloth each roll is stated by itself, since a piece is cut from one.
    """
    row = find_row(Material, material, "material", pointer="/material")
    amount, unit = _amount(row, mass_mg, length_mm)
    if supplier is not None:
        find_row(Supplier, supplier, "supplier", pointer="/supplier")
    if expires_on is not None and expires_on < expected_on:
        raise Unprocessable("It would be past its date when it comes.", pointer="/expires_on")
    made = ExpectedDelivery.create(
        material=row,
        supplier=supplier,
        reference=reference,
        unit=unit,
        amount=amount,
        expected_on=expected_on,
        expires_on=expires_on,
        stated_at=work.act.occurred_at,
        stated_by=work.act.person,
        deed=work.deed,
    )
    work.note(expected=made.id, material=row.id, amount=amount, unit=unit, expected_on=expected_on)
    return view_expected(made)


@operation
def change_expected_delivery(
    work: Work,
    *,
    expected: int,
    version: int,
    mass_mg: int | None = None,
    length_mm: int | None = None,
    **changes: Annotated[Any, ExpectedDelivery],
) -> ExpectedView:
    """Put a delivery off, or say that more or less of it comes."""
    row = _stated(work, expected)
    _require_expected(row)
    if mass_mg is not None or length_mm is not None:
        changes["amount"], _ = _amount(row.material, mass_mg, length_mm)
    comes, ends = changes.get("expected_on", row.expected_on), changes.get("expires_on", row.expires_on)
    if ends is not None and ends < comes:
        raise Unprocessable("It would be past its date when it comes.", pointer="/expected_on")
    change_row(work, row, version, changes, card=False)
    return view_expected(row)


@operation
def end_expected_delivery(work: Work, *, expected: int, ended_as: ExpectedEnd) -> ExpectedView:
    """Say that an expected delivery has arrived, or was cancelled. What arrived is received with its lots besides."""
    row = _stated(work, expected)
    if row.ended_as == ended_as:
        return view_expected(row)
    _require_expected(row)
    ExpectedDelivery.update(
        version=ExpectedDelivery.version + 1,
        ended_as=ended_as,
        ended_at=work.act.occurred_at,
        ended_in=work.deed,
    ).where(ExpectedDelivery.id == row.id).execute()
    row.ended_as, row.ended_at, row.version = ended_as, work.act.occurred_at, row.version + 1
    work.note(expected=row.id, ended_as=ended_as)
    return view_expected(row)


def _amount(material: Material, mass_mg: int | None, length_mm: int | None) -> tuple[int, Unit]:
    unit = counted_in(material.kind)
    right, wrong = (length_mm, mass_mg) if unit == Unit.MILLIMETRE else (mass_mg, length_mm)
    shown = "length_mm" if unit == Unit.MILLIMETRE else "mass_g"
    if right is None or wrong is not None:
        raise Unprocessable(f"Give how much {material.name} is expected as {shown}.", pointer=f"/{shown}")
    return right, unit


def _stated(work: Work, expected: int) -> ExpectedDelivery:
    row = find_row(ExpectedDelivery, expected, "expected delivery")
    ledger.refuse_before(work, row.stated_at, f"Expected delivery {row.id} was stated")
    return row


def _require_expected(row: ExpectedDelivery) -> None:
    if row.ended_as is not None:
        raise WrongState(f"Expected delivery {row.id} is {row.ended_as}.", way_out="State what comes anew.")


def list_expected_deliveries(
    *,
    after: int | None,
    limit: int,
    material: int | None = None,
    reference: str | None = None,
    due_by: date | None = None,
    ended: bool | None = None,
) -> Page[ExpectedView]:
    """List expected deliveries: of a material, by their reference, those that come by a day, those that have ended."""
    query = ExpectedDelivery.select(ExpectedDelivery, Material).join(Material)
    if material is not None:
        query = query.where(ExpectedDelivery.material == material)
    if reference is not None:
        query = query.where(ExpectedDelivery.reference == reference)
    if due_by is not None:
        query = query.where(ExpectedDelivery.expected_on <= due_by)
    if ended is not None:
        query = query.where(ExpectedDelivery.ended_as.is_null(not ended))
    return page(query, ExpectedDelivery.id, after=after, limit=limit, view=view_expected)


def read_expected_delivery(expected: int) -> ExpectedView:
    """One delivery that is, or was, expected."""
    return view_expected(find_row(ExpectedDelivery, expected, "expected delivery"))


def view_expected(row: ExpectedDelivery) -> ExpectedView:
    return ExpectedView(
        id=row.id,
        material=row.material_id,
        name=row.material.name,
        supplier=row.supplier_id,
        reference=row.reference,
        mass_mg=row.amount if row.unit == Unit.MILLIGRAM else None,
        length_mm=row.amount if row.unit == Unit.MILLIMETRE else None,
        expected_on=row.expected_on,
        expires_on=row.expires_on,
        ended_as=as_word(ExpectedEnd, row.ended_as),
        ended_at=row.ended_at,
        version=row.version,
    )
