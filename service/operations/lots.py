"""Lots as they are read."""

from dataclasses import dataclass
from datetime import date, datetime

from schemas.words import Kind, State
from service.operations import ledger
from service.operations.graph import standing_holds
from service.operations.paging import Page, page
from service.operations.views import HoldView, hold_views
from service.records.items import Item
from service.records.materials import Certificate, Container, IncomingCheck, Lot, Material, Receipt


@dataclass(frozen=True, slots=True)
class ReceiptView:
    id: int
    kind: str
    supplier: str | None
    delivery_note: str | None
    place: str
    amount: int
    unit: str
    received_at: datetime
    released: bool
    remark: str | None


@dataclass(frozen=True, slots=True)
class CertificateView:
    type: str
    number: str
    issued_on: date
    document: int | None


@dataclass(frozen=True, slots=True)
class CheckView:
    name: str
    result: str
    value: float | None
    low: float | None
    high: float | None
    unit: str | None
    passed: bool


@dataclass(frozen=True, slots=True)
class LotView:
    code: str
    name: str
    material: int
    kind: str
    state: str
    supplier: str | None
    makers_lot: str | None
    unknown_because: str | None
    made_on: date | None
    expires_on: date | None
    date_basis: str
    retest_on: date | None
    receipts: tuple[ReceiptView, ...]
    certificates: tuple[CertificateView, ...]
    checks: tuple[CheckView, ...]
    containers: tuple[str, ...]
    holds: tuple[HoldView, ...]
    version: int


def view_lot(item: Item, *, at: datetime | None = None) -> LotView:
    item = Item.get_by_id(item.id)
    lot = Lot.get_by_id(item.id)
    material = Material.get_by_id(lot.material_id)
    receipts = Receipt.select().where(Receipt.lot == item.id).order_by(Receipt.id)
    containers = (
        Item.select(Item.code).join(Container, on=(Container.item == Item.id)).where(Container.lot == item.id)
    ).order_by(Item.id)
    return LotView(
        code=item.code,
        name=material.name,
        material=material.id,
        kind=material.kind,
        state=item.state,
        supplier=lot.supplier.name if lot.supplier_id else None,
        makers_lot=lot.makers_lot,
        unknown_because=lot.unknown_because,
        made_on=lot.made_on,
        expires_on=lot.expires_on,
        date_basis=lot.date_basis,
        retest_on=lot.retest_on,
        receipts=tuple(_receipt(r, item.unit) for r in receipts),
        certificates=tuple(
            CertificateView(type=c.type, number=c.number, issued_on=c.issued_on, document=c.document_id)
            for c in Certificate.select().where(Certificate.lot == item.id).order_by(Certificate.id)
        ),
        checks=tuple(
            CheckView(c.name, c.result, c.value, c.low, c.high, c.unit, c.passed)
            for c in IncomingCheck.select().where(IncomingCheck.lot == item.id).order_by(IncomingCheck.id)
        ),
        containers=tuple(c.code for c in containers),
        holds=hold_views(standing_holds([item.id], at=at)[item.id]),
        version=item.version,
    )


def _receipt(row: Receipt, unit: str) -> ReceiptView:
    return ReceiptView(
        id=row.id,
        kind=row.kind,
        supplier=row.supplier.name if row.supplier_id else None,
        delivery_note=row.delivery_note,
        place=row.place.code,
        amount=row.amount,
        unit=unit,
        received_at=row.received_at,
        released=row.released_in_id is not None,
        remark=row.remark,
    )


def read_lot(lot: str) -> LotView:
    """One lot: its arrivals, papers, checks and containers."""
    return view_lot(ledger.find(lot, Kind.LOT))


def list_lots(
    *,
    after: int | None,
    limit: int,
    material: int | None = None,
    makers_lot: str | None = None,
    state: State | None = None,
) -> Page[LotView]:
    """List lots, by material, maker's number or state."""
    query = Item.select(Item).join(Lot, on=(Lot.item == Item.id))
    if material is not None:
        query = query.where(Lot.material == material)
    if makers_lot is not None:
        query = query.where(Lot.makers_lot == makers_lot)
    if state is not None:
        query = query.where(Item.state == state)
    return page(query, Item.id, after=after, limit=limit, view=view_lot)
