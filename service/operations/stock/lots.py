"""Lots: certificates, incoming checks, release, rejection; and how a lot is read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any

from peewee import JOIN

from schemas.words import CertificateType, DateBasis, Kind, LotState, MaterialKind, ReceiptKind, State, Unit
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import CertificateMissing, NotReleased, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, by_state, page_of
from service.operations.ledger import ledger
from service.operations.ledger.graph import HoldView, StandingHold, by_hold, hold_views, standing_holds
from service.operations.ledger.labelling import relabel_released
from service.operations.stock.amending import standing_amounts
from service.records.base import as_word, known
from service.records.items import Item
from service.records.journal import Document
from service.records.lookups import newest_in_each
from service.records.materials import Certificate, Container, IncomingCheck, Lot, Material, Receipt, Supplier

MOST_CONTAINERS = 200
"""A lot names its newest containers; the list of containers has all."""


@dataclass(frozen=True, slots=True)
class ReceiptView:
    """One arrival.

    Attributes
    ----------
    amount
        What stands now.
    received_as
        What was recorded at first, where that was corrected.
    """

    id: int
    kind: ReceiptKind
    supplier_name: str | None
    delivery_note: str | None
    place: str
    amount: Annotated[int, Unit]
    received_as: Annotated[int, Unit] | None
    unit: Unit
    received_at: datetime
    released: bool
    remark: str | None


@dataclass(frozen=True, slots=True)
class CertificateView:
    type: CertificateType
    number: str
    issued_on: date
    document: int | None


@dataclass(frozen=True, slots=True)
class LotCheckView:
    name: str
    result: str
    value: float | None
    low: float | None
    high: float | None
    unit: str | None
    passed: bool


@dataclass(frozen=True, slots=True)
class LotView:
    """A lot with its arrivals, papers and checks.

    Attributes
    ----------
    containers
        Codes of the newest 200; GET /v1/containers?lot= lists all.
    extension_until
        A longer life that was asked for after a retest; it holds once a second person has agreed.
    extension_asked_by_id
        Number of the person who asked for it.
    """

    FOLLOWED = True  # its ETag is its last change

    code: str
    name: str
    material: int
    kind: MaterialKind
    state: LotState
    supplier_name: str | None
    makers_lot: str | None
    unknown_because: str | None
    made_on: date | None
    expires_on: date | None
    date_basis: DateBasis
    retest_on: date | None
    extension_until: date | None
    extension_asked_by_id: int | None
    receipts: tuple[ReceiptView, ...]
    certificates: tuple[CertificateView, ...]
    checks: tuple[LotCheckView, ...]
    containers: tuple[str, ...]
    holds: tuple[HoldView, ...]
    version: int


@dataclass
class LotInHand:
    """A lot with its arrivals, papers and checks; an act that adds one adds it here."""

    item: Item
    lot: Lot
    receipts: list[Receipt]
    # What stands of each arrival, by its number.
    arrived: dict[int, int]
    certificates: list[Certificate]
    checks: list[IncomingCheck]
    containers: list[str]

    @property
    def product(self) -> Material:
        return self.lot.material


def load_lots(items: Sequence[Item]) -> list[LotInHand]:
    """Any number of lots in a fixed number of statements."""
    ids = [item.id for item in items]
    if not ids:
        return []
    by_lot: dict[int, LotInHand] = {}
    rows = (
        Lot.select(Lot, Material, Supplier)
        .join(Material)
        .switch(Lot)
        .join(Supplier, JOIN.LEFT_OUTER, on=(Lot.supplier == Supplier.id))
        .where(Lot.item.in_(ids))
    )
    lots = {row.item_id: row for row in rows}
    for item in items:
        by_lot[item.id] = LotInHand(item, lots[item.id], [], {}, [], [], [])
    receipts = list(
        Receipt.select(Receipt, Supplier, Item)
        .join(Supplier, JOIN.LEFT_OUTER, on=(Receipt.supplier == Supplier.id))
        .switch(Receipt)
        .join(Item, on=(Receipt.place == Item.id))
        .where(Receipt.lot.in_(ids))
        .order_by(Receipt.id)
    )
    arrived = standing_amounts(receipts)
    for receipt in receipts:
        by_lot[receipt.lot_id].receipts.append(receipt)
        by_lot[receipt.lot_id].arrived[receipt.id] = arrived[receipt.id]
    for certificate in Certificate.select().where(Certificate.lot.in_(ids)).order_by(Certificate.id):
        by_lot[certificate.lot_id].certificates.append(certificate)
    for check in IncomingCheck.select().where(IncomingCheck.lot.in_(ids)).order_by(IncomingCheck.id):
        by_lot[check.lot_id].checks.append(check)
    newest = newest_in_each(MOST_CONTAINERS, Container.item, Container.lot, ids)
    cans = Container.select(Container.lot, Item.code).join(Item).where(newest).order_by(Item.id)
    for lot, code in cans.tuples():
        by_lot[lot].containers.append(code)
    return list(by_lot.values())


def load_lot(item: Item) -> LotInHand:
    return load_lots([item])[0]


def view_lot(held: LotInHand, *, at: datetime | None = None) -> LotView:
    return view_lots([held], at=at)[0]


def view_lots(lots: Sequence[LotInHand], *, at: datetime | None = None) -> tuple[LotView, ...]:
    holds = standing_holds([held.item.id for held in lots], at=at)
    return tuple(_lot(held, holds[held.item.id]) for held in lots)


def _lot(held: LotInHand, holds: list[StandingHold]) -> LotView:
    item, lot, material = held.item, held.lot, held.product
    return LotView(
        code=item.code,
        name=material.name,
        material=material.id,
        kind=as_word(MaterialKind, material.kind),
        state=as_word(LotState, item.state),
        supplier_name=lot.supplier.name if lot.supplier is not None else None,
        makers_lot=lot.makers_lot,
        unknown_because=lot.unknown_because,
        made_on=lot.made_on,
        expires_on=lot.expires_on,
        date_basis=as_word(DateBasis, lot.date_basis),
        retest_on=lot.retest_on,
        extension_until=lot.extension_until,
        extension_asked_by_id=lot.extension_asked_by_id,
        receipts=tuple(_receipt(r, known(item.unit), held.arrived[r.id]) for r in held.receipts),
        certificates=tuple(
            CertificateView(
                type=as_word(CertificateType, c.type), number=c.number, issued_on=c.issued_on, document=c.document_id
            )
            for c in held.certificates
        ),
        checks=tuple(LotCheckView(c.name, c.result, c.value, c.low, c.high, c.unit, c.passed) for c in held.checks),
        containers=tuple(held.containers),
        holds=hold_views(holds),
        version=item.version,
    )


def _receipt(row: Receipt, unit: str, amount: int) -> ReceiptView:
    return ReceiptView(
        id=row.id,
        kind=as_word(ReceiptKind, row.kind),
        supplier_name=row.supplier.name if row.supplier is not None else None,
        delivery_note=row.delivery_note,
        place=row.place.code,
        amount=amount,
        received_as=row.amount if amount != row.amount else None,
        unit=Unit(unit),
        received_at=row.received_at,
        released=row.released_in_id is not None,
        remark=row.remark,
    )


def read_lot(lot: str) -> LotView:
    """One lot: its arrivals, papers, checks and containers."""
    return view_lot(load_lot(ledger.find(lot, Kind.LOT)))


def list_lots(
    *,
    after: int | None,
    limit: int,
    material: int | None = None,
    makers_lot: str | None = None,
    state: State | None = None,
    on_hold: bool | None = None,
    expires_before: date | None = None,
) -> Page[LotView]:
    """List lots, by material, maker's number, state, hold or the date on them."""
    query = Item.select(Item).join(Lot, on=(Lot.item == Item.id))
    if material is not None:
        query = query.where(Lot.material == material)
    if makers_lot is not None:
        query = query.where(Lot.makers_lot == makers_lot)
    if expires_before is not None:
        query = query.where(Lot.expires_on < expires_before)
    query, key = by_state(query, Kind.LOT, Lot.item, state)
    query = by_hold(query, on_hold)
    return page_of(query, key, after=after, limit=limit, views=lambda items: view_lots(load_lots(items)))


@operation
def add_certificate(
    work: Work,
    *,
    lot: str,
    type: CertificateType,
    number: str,
    issued_on: date,
    makers_lot: str,
    document: int | None = None,
) -> LotView:
    """Add a certificate to a lot. The lot number on the paper is compared with the lot's own."""
    item = ledger.lock_one(work, lot, Kind.LOT)
    held = load_lot(item)
    row = held.lot
    if row.makers_lot is not None and makers_lot != row.makers_lot:
        raise Unprocessable(
            f"The certificate is for lot {makers_lot}, the cans say {row.makers_lot}; ask the supplier.",
            pointer="/makers_lot",
        )
    if document is not None:
        find_row(Document, document, "document", pointer="/document")
    held.certificates.append(
        Certificate.create(lot=row, type=type, number=number, issued_on=issued_on, document=document, deed=work.deed)
    )
    work.touch(item)
    work.note(lot=item.code, certificate={"type": type, "number": number, "issued_on": issued_on, "document": document})
    return view_lot(held, at=work.act.occurred_at)


@operation
def record_incoming_check(
    work: Work, *, lot: str, name: str, result: str, value: float | None = None, passed: bool | None = None
) -> LotView:
    """Record an incoming test or examination. With a limit on the material the value decides, not the person."""
    item = ledger.lock_one(work, lot, Kind.LOT)
    held = load_lot(item)
    product = held.product
    asked: dict[str, Any] = next((check for check in product.incoming_checks if check["name"] == name), {})
    low, high = asked.get("low"), asked.get("high")
    if low is not None or high is not None:
        if value is None:
            raise Unprocessable(f"{name} has limits; give its value.", pointer="/value")
        passed = (low is None or value >= low) and (high is None or value <= high)
    if passed is None:
        raise Unprocessable(f"{name} has no limits to judge it by; say whether it passed.", pointer="/passed")
    check = IncomingCheck.create(
        lot=held.lot,
        name=name,
        result=result,
        value=value,
        low=low,
        high=high,
        unit=asked.get("unit"),
        passed=passed,
        deed=work.deed,
    )
    held.checks.append(check)
    work.touch(item)
    work.note(lot=item.code, check=name, result=result, value=value, passed=passed)
    return view_lot(held, at=work.act.occurred_at)


@operation
def release_lot(work: Work, *, lot: str) -> LotView:
    """Release a lot for use: every arrival of it that still waits.

    Labels that say QUARANTINE are replaced in the same act; the new ones are on the lot's roll, ready to be printed.
    """
    item = ledger.lock_one(work, lot, Kind.LOT)
    if item.state == State.REJECTED:
        raise WrongState(f"Lot {item.code} was rejected.", way_out="A rejected lot stays rejected.")
    held = load_lot(item)
    unreleased = [r for r in held.receipts if r.released_in_id is None]
    waiting = [r for r in unreleased if held.arrived[r.id]]
    if unreleased and not waiting:
        raise WrongState(f"Nothing of lot {item.code} arrived: its receipt was declared not to have occurred.")
    if not waiting:
        raise WrongState(f"Lot {item.code} is released already.")
    _papers_in_order(held)
    unapproved = [r for r in waiting if r.supplier is not None and not r.supplier.approved]
    if unapproved and work.act.why is None:
        raise NotReleased(
            f"{known(unapproved[0].supplier).name} is not an approved supplier.",
            way_out="Say on what grounds the lot is released nevertheless.",
            answer_with={"why": None},
        )
    Receipt.update(released_in=work.deed).where(Receipt.id.in_([r.id for r in waiting])).execute()
    for receipt in waiting:
        receipt.released_in_id = work.deed
    ledger.set_state(work, item, State.RELEASED)
    work.touch(item)
    work.note(lot=item.code, released=[r.id for r in waiting])
    relabel_released(work, item)
    return view_lot(held, at=work.act.occurred_at)


@operation
def release_lots(work: Work, *, lots: Sequence[str]) -> tuple[LotView, ...]:
    """Release several lots in one act, all of them or none; each is asked what it is asked alone."""
    ledger.lock(work, *lots, kinds=[Kind.LOT])
    return tuple(within(work, release_lot, f"/lots/{n}", lot=lot) for n, lot in enumerate(lots))


def _papers_in_order(held: LotInHand) -> None:
    product = held.product
    wanted = product.certificate_wanted
    if wanted is not None and all(certificate.type != wanted for certificate in held.certificates):
        raise CertificateMissing(
            f"{product.name} is released only with a certificate {wanted}.",
            way_out="Add the certificate to the lot first.",
        )
    done: dict[str, bool] = {}
    for check in held.checks:
        done[check.name] = check.passed
    missing = [check["name"] for check in product.incoming_checks if check["name"] not in done]
    failed = [name for name, passed in done.items() if not passed]
    if missing or failed:
        raise NotReleased(
            f"Incoming checks {'failed' if failed else 'missing'}: {', '.join(failed or missing)}.",
            way_out="Record the missing checks." if not failed else "Reject the lot, or check again and record it.",
            open=failed or missing,
        )


@operation
def reject_lot(work: Work, *, lot: str) -> LotView:
    """Reject a lot. It is never used again; `why` says what is wrong with it."""
    item = ledger.lock_one(work, lot, Kind.LOT)
    if work.act.why is None:
        raise Unprocessable("Say what is wrong with the lot.", pointer="/why", answer_with={"why": None})
    if item.state == State.REJECTED:
        raise WrongState(f"Lot {item.code} is rejected already.")
    ledger.set_state(work, item, State.REJECTED)
    return view_lot(load_lot(item), at=work.act.occurred_at)
