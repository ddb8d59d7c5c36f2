"""Goods in: deliveries and opening stock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import fn

from schemas.words import DateBasis, Kind, MaterialKind, MovementKind, ReceiptKind, State, Unit
from service.formulas.shelf_life import expiry_from_made_on, month_end
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import ReceivedAlready, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.shop import day_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.stock.amending import standing_amounts
from service.operations.stock.lots import LotView, load_lot, view_lot
from service.operations.stock.out_time import begin_after_transport, sheet_of
from service.operations.stock.peroxides import clash
from service.operations.stock.supplier_codes import read_supplier_code
from service.records.items import Item
from service.records.materials import Container, Lot, Material, Receipt, Supplier

# What spoils: without a date such a lot would stay good for ever by mistake.
_PERISHABLE = frozenset(
    {
        MaterialKind.RESIN,
        MaterialKind.HARDENER,
        MaterialKind.GEL_COAT,
        MaterialKind.GEL_COAT_HARDENER,
        MaterialKind.ADHESIVE,
        MaterialKind.CATALYST,
        MaterialKind.PROMOTER,
    }
)


_MOST_CONTAINERS = 200


@dataclass(frozen=True, slots=True)
class NewContainer:
    """One or several like containers of a receipt: their content, and for opening stock how each was found."""

    amount: int
    unit: Unit
    count: int = 1
    gross_mg: int | None = None
    tare_mg: int | None = None
    opened_at: datetime | None = None
    net: int | None = None


@dataclass(frozen=True, slots=True)
class Dates:
    """What is known of a lot's age."""

    expires_on: date | None = None
    expires_month: str | None = None
    made_on: date | None = None
    no_expiry: bool = False
    estimated: bool = False


@operation
def receive_delivery(
    work: Work,
    *,
    supplier: int,
    delivery_note: str,
    place: str,
    containers: Sequence[Mapping[str, Any]],
    material: int | None = None,
    makers_lot: str | None = None,
    unknown_because: str | None = None,
    dates: Mapping[str, Any] | None = None,
    supplier_code: str | None = None,
    remark: str | None = None,
    transport_out: Mapping[str, Any] | None = None,
    confirmed: bool = False,
) -> LotView:
    """Receive a delivery of one lot. It waits in quarantine until the lead or quality releases it.

    A second delivery of a maker's lot is a second receipt under that lot. The same note, lot and amount once more are
    asked about: two people may have typed one note.
    """
    row = find_row(Supplier, supplier, "supplier", pointer="/supplier")
    material, makers_lot, known = _filled(supplier_code, material, makers_lot, Dates(**(dates or {})))
    return _receive(
        work,
        kind=ReceiptKind.DELIVERY,
        material=material,
        supplier=row,
        makers_lot=makers_lot,
        unknown_because=unknown_because,
        dates=known,
        place=place,
        containers=[NewContainer(**line) for line in containers],
        delivery_note=delivery_note,
        remark=remark,
        transport_out=transport_out,
        confirmed=confirmed,
    )


@operation
def receive_lots(
    work: Work,
    *,
    supplier: int,
    delivery_note: str,
    place: str,
    lots: Sequence[Mapping[str, Any]],
    confirmed: bool = False,
) -> tuple[LotView, ...]:
    """Receive a delivery of several lots by one note, all of them or none. Each waits in quarantine."""
    find_row(Supplier, supplier, "supplier", pointer="/supplier")
    ledger.find(place, Kind.PLACE)
    return tuple(
        within(
            work,
            receive_delivery,
            f"/lots/{n}",
            supplier=supplier,
            delivery_note=delivery_note,
            confirmed=confirmed,
            **{"place": place, **line},
        )
        for n, line in enumerate(lots)
    )


@operation
def record_opening_stock(
    work: Work,
    *,
    material: int,
    place: str,
    containers: Sequence[Mapping[str, Any]],
    supplier: int | None = None,
    makers_lot: str | None = None,
    unknown_because: str | None = None,
    dates: Mapping[str, Any] | None = None,
    remark: str | None = None,
) -> LotView:
    """Record what stands on the shelf on day one: weighed, its dates known or estimated, half-used cans and all."""
    row = find_row(Supplier, supplier, "supplier", pointer="/supplier") if supplier is not None else None
    return _receive(
        work,
        kind=ReceiptKind.OPENING_STOCK,
        material=material,
        supplier=row,
        makers_lot=makers_lot,
        unknown_because=unknown_because,
        dates=Dates(**(dates or {})),
        place=place,
        containers=[NewContainer(**line) for line in containers],
        delivery_note=None,
        remark=remark,
    )


def _filled(
    text: str | None, material: int | None, makers_lot: str | None, dates: Dates
) -> tuple[int, str | None, Dates]:
    """What the supplier's code says fills what was not typed; where both speak and differ, nothing is saved."""
    if text is not None:
        code = read_supplier_code(text=text)
        for said, typed, name in (
            (code.material, material, "material"),
            (code.makers_lot, makers_lot, "makers_lot"),
            (code.expires_on, dates.expires_on, "expires_on"),
        ):
            if said is not None and typed is not None and said != typed:
                raise Unprocessable(
                    f"The supplier's code says {name} {said}, but {typed} was typed; look at the can again.",
                    pointer=f"/{name}",
                )
        material = material or code.material
        makers_lot = makers_lot or code.makers_lot
        if dates == Dates():
            dates = Dates(expires_on=code.expires_on or code.best_before, made_on=code.made_on)
            if dates.expires_on is not None:
                dates = Dates(expires_on=dates.expires_on)
    if material is None:
        raise Unprocessable("Say which material this is; its article number is not known here.", pointer="/material")
    return material, makers_lot, dates


def _receive(
    work: Work,
    *,
    kind: ReceiptKind,
    material: int,
    supplier: Supplier | None,
    makers_lot: str | None,
    unknown_because: str | None,
    dates: Dates,
    place: str,
    containers: Sequence[NewContainer],
    delivery_note: str | None,
    remark: str | None,
    transport_out: Mapping[str, Any] | None = None,
    confirmed: bool = True,
) -> LotView:
    product = find_row(Material, material, "material", pointer="/material")
    where = ledger.find(place, Kind.PLACE)
    if (makers_lot is None) == (unknown_because is None):
        raise Unprocessable("Give the maker's lot number, or say why it is not known.", pointer="/makers_lot")
    if sum(c.count for c in containers) > _MOST_CONTAINERS:
        raise Unprocessable(f"At most {_MOST_CONTAINERS} containers in one receipt.", pointer="/containers")
    unit = _unit_of(product, containers)
    if transport_out is not None and product.out_time is None:
        raise Unprocessable(
            f"{product.name} has no life out of the cold that transport could use up; add its table first.",
            pointer="/transport_out",
        )
    expires_on, basis = _expiry(work, product, dates)
    lot, item = _lot(work, product, supplier, makers_lot, unknown_because, dates, expires_on, basis, unit)
    total = sum(c.amount * c.count for c in containers)
    if not confirmed:
        _ask_if_twice(lot, item, supplier, delivery_note, total)
    receipt = Receipt.create(
        lot=lot,
        kind=kind,
        supplier=supplier,
        delivery_note=delivery_note,
        place=where,
        amount=total,
        received_at=work.act.occurred_at,
        remark=remark,
        deed=work.deed,
    )
    ledger.move(work, kind=MovementKind.RECEIPT, target=item, amount=total, unit=unit)
    packed = _pack(work, product, lot, item, receipt, where, [line for line in containers for _ in range(line.count)])
    sheet = sheet_of(product)
    if transport_out is not None and sheet is not None:
        begin_after_transport(work, packed, sheet, **transport_out)
    sentence = clash(product, where)
    if sentence is not None:
        raise_flag(work, item, "peroxide-near", sentence, stops=True, hold=True, place=where.code)
    if item.state == State.RELEASED:
        ledger.set_state(work, item, State.QUARANTINE)
    work.note(lot=item.code, receipt=receipt.id, kind=kind, amount=total, unit=unit, expires_on=expires_on, basis=basis)
    return view_lot(load_lot(item), at=work.act.occurred_at)


def _ask_if_twice(lot: Lot, item: Item, supplier: Supplier | None, delivery_note: str | None, amount: int) -> None:
    # Two people write the number of one note with and without its spaces, in small letters and in capitals.
    written, given = (fn.LOWER(fn.REPLACE(note, " ", "")) for note in (Receipt.delivery_note, delivery_note))
    same = list(
        Receipt.select().where((Receipt.lot == lot.item_id) & (Receipt.supplier == supplier) & (written == given))
    )
    standing = standing_amounts(same)
    if any(standing[r.id] == amount for r in same):
        raise ReceivedAlready(
            f"Lot {item.code} was received by note {delivery_note} in this amount already.",
            way_out="If it came twice, confirm it; else nothing has to be done.",
            lot=item.code,
            answer_with={"confirmed": True},
        )


def _unit_of(product: Material, containers: Sequence[NewContainer]) -> Unit:
    units = {c.unit for c in containers}
    if len(units) != 1:
        raise Unprocessable("All containers of a receipt are measured alike: grams, or metres of roll, or pieces.")
    unit = units.pop()
    if (product.kind == MaterialKind.FABRIC) != (unit == Unit.MILLIMETRE):
        raise Unprocessable("Fabric comes by length, everything else by mass or piece.", pointer="/containers")
    if product.kind in _PERISHABLE and unit != Unit.MILLIGRAM:
        raise Unprocessable(f"A {product.kind} comes by mass.", pointer="/containers")
    return unit


def _expiry(work: Work, product: Material, dates: Dates) -> tuple[date | None, DateBasis]:
    given = [name for name in ("expires_on", "expires_month", "made_on") if getattr(dates, name) is not None]
    if len([g for g in given if g != "made_on"]) > 1 or (dates.no_expiry and given):
        raise Unprocessable(
            "Give one date only: the last day, or the last month; or say that it has no expiry.", pointer="/expires_on"
        )
    if dates.made_on is not None and dates.made_on > day_in_shop(work.act.occurred_at, work.site):
        raise Unprocessable(
            "It cannot have been made after it arrived; look again at when it was made.", pointer="/made_on"
        )
    expires, basis = dates.expires_on, DateBasis.SUPPLIER
    if dates.expires_month is not None:
        year, month = dates.expires_month.split("-")
        expires = month_end(year=int(year), month=int(month))
        basis = DateBasis.MONTH
    elif expires is None and dates.made_on is not None and product.shelf_life_days is not None:
        expires = expiry_from_made_on(made_on=dates.made_on, shelf_life_days=product.shelf_life_days)
        basis = DateBasis.MADE_ON
    if expires is None:
        spoils = product.kind in _PERISHABLE or product.out_time is not None or product.shelf_life_days is not None
        if not dates.no_expiry and spoils:
            raise Unprocessable(
                f"{product.name} needs a date: its last day, its last month, or when it was made with its shelf life; "
                "say that it has no expiry if the supplier gives none.",
                pointer="/expires_on",
            )
        return None, DateBasis.NONE
    return expires, DateBasis.ESTIMATED if dates.estimated else basis


def _lot(
    work: Work,
    product: Material,
    supplier: Supplier | None,
    makers_lot: str | None,
    unknown_because: str | None,
    dates: Dates,
    expires_on: date | None,
    basis: DateBasis,
    unit: Unit,
) -> tuple[Lot, Item]:
    """The lot of that maker's number, new or already there."""
    if makers_lot is not None:
        known = Lot.get_or_none(
            (Lot.material == product.id)
            & (Lot.makers_lot == makers_lot)
            & (Lot.supplier.is_null() if supplier is None else Lot.supplier == supplier.id)
        )
        if known is not None:
            code = Item.get_by_id(known.item_id).code
            item = ledger.lock_one(work, code)
            if item.state == State.REJECTED:
                raise WrongState(
                    f"Lot {makers_lot} was rejected; it cannot be received again.",
                    way_out="Send it back, or ask quality.",
                )
            if known.expires_on != expires_on:
                raise Unprocessable(
                    f"Lot {makers_lot} is kept with the date {known.expires_on or 'no expiry'}, this says "
                    f"{expires_on or 'no expiry'}; look at both labels.",
                    pointer="/expires_on",
                )
            return known, item
    item = ledger.new_item(work, Kind.LOT, name=product.name, state=State.QUARANTINE, unit=unit)
    lot = Lot.create(
        item=item,
        material=product,
        supplier=supplier,
        makers_lot=makers_lot,
        unknown_because=unknown_because,
        made_on=dates.made_on,
        expires_on=expires_on,
        date_basis=basis,
    )
    return lot, item


def _pack(
    work: Work,
    product: Material,
    lot: Lot,
    lot_item: Item,
    receipt: Receipt,
    place: Item,
    lines: Sequence[NewContainer],
) -> list[Item]:
    """The containers that it came in, one for each line, each with a code of its own."""
    unit = lines[0].unit
    states = [State.OPEN if line.opened_at is not None else State.SEALED for line in lines]
    items = ledger.new_items(work, Kind.CONTAINER, states, name=product.name, unit=unit, place=place)
    Container.insert_many(
        [
            {
                "item": item.id,
                "lot": lot,
                "material": product,
                "receipt": receipt,
                "number": number,
                "of": len(lines),
                "net": line.net or line.amount,
                "tare_mg": _tare(line),
                "expires_on": lot.expires_on,
                "opened_at": line.opened_at,
            }
            for number, (item, line) in enumerate(zip(items, lines, strict=True), 1)
        ]
    ).execute()
    parts = [(item, line.amount) for item, line in zip(items, lines, strict=True)]
    ledger.share_out(work, kind=MovementKind.PACKING, source=lot_item, parts=parts, unit=unit)
    return items


def _tare(line: NewContainer) -> int | None:
    if line.tare_mg is None and line.gross_mg is not None and line.gross_mg > line.amount:
        return line.gross_mg - line.amount
    return line.tare_mg
