"""Parts as they are read: the list for the office and the order system, and one part with all that belongs to it."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from schemas.words import Kind, MovementKind, State, Unit
from service.operations.door.views import ItemRef, Page, page, ref
from service.operations.ledger import ledger
from service.operations.ledger.flags import stands
from service.operations.ledger.graph import HoldView, closure, hold_views, standing_holds
from service.operations.ledger.tracing import FlagView, flag_views
from service.operations.parts.designs import DesignRef, design_ref
from service.operations.parts.findings import DefectView, NonconformanceView, defects_of, nonconformances_of
from service.operations.parts.part import cures_of, missing_plies
from service.operations.parts.trim import TrimFigures, trim_figures
from service.records.base import known
from service.records.cures import Cure
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.parts import Design, Inspection, Kit, Part, PartStep, PlyLaid, Shipment
from service.records.people import Person


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part in one line."""

    code: str
    name: str
    state: str
    design: DesignRef
    mould: str | None
    order: str | None
    customer: str | None
    started_at: datetime
    laid_up_at: datetime | None
    demoulded_at: datetime | None
    released_at: datetime | None
    shipped_at: datetime | None
    on_hold: bool
    version: int


@dataclass(frozen=True, slots=True)
class LaidView:
    number: int
    source: str
    angle_deg: float | None
    face: str | None
    zone: str | None
    in_order: bool
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class WentIn:
    """What went into a part: a mix, a kit, a roll's length, a core, a release agent, a component."""

    code: str
    kind: str
    name: str
    movement: str
    purpose: str | None
    zone: str | None
    mass_mg: int | None
    length_mm: int | None
    pieces: int | None
    estimated: bool
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class CureRow:
    code: str
    schedule: str
    revision: int
    post_cure: bool
    started_at: datetime
    ended_at: datetime | None
    evidence: str | None
    passed: bool | None


@dataclass(frozen=True, slots=True)
class StepView:
    kind: str
    facts: dict[str, Any]
    passed: bool | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class InspectionView:
    id: int
    accepted: bool
    remark: str | None
    measurements: tuple[dict[str, Any], ...]
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class ShipmentView:
    customer: str
    document: str
    shipped_on: date
    by: str


@dataclass(frozen=True, slots=True)
class PartView:
    code: str
    name: str
    state: str
    design: DesignRef
    mould: ItemRef | None
    order: str | None
    customer: str | None
    place: ItemRef | None
    started_at: datetime
    started_by: str
    laid_up_at: datetime | None
    demoulded_at: datetime | None
    released_at: datetime | None
    released_by: str | None
    shipped_at: datetime | None
    mass_mg: int | None
    mixes: tuple[WentIn, ...]
    kits: tuple[WentIn, ...]
    kit_mass_mg: int | None
    materials: tuple[WentIn, ...]
    components: tuple[WentIn, ...]
    fitted_into: str | None
    plies: tuple[LaidView, ...]
    missing_plies: tuple[int, ...]
    cures: tuple[CureRow, ...]
    steps: tuple[StepView, ...]
    inspections: tuple[InspectionView, ...]
    defects: tuple[DefectView, ...]
    nonconformances: tuple[NonconformanceView, ...]
    flags: tuple[FlagView, ...]
    holds: tuple[HoldView, ...]
    shipment: ShipmentView | None
    after_trim: TrimFigures
    version: int


def read_part(part: str, *, at: datetime) -> PartView:
    """One part: what went into it, how it was cured, what was found, and what stands against it."""
    return view_part(ledger.find(part, Kind.PART), at=at)


def list_parts(
    *,
    at: datetime,
    after: int | None,
    limit: int,
    state: State | None = None,
    design: int | None = None,
    part_number: str | None = None,
    mould: str | None = None,
    order: str | None = None,
    customer: str | None = None,
    released: bool | None = None,
) -> Page[PartRow]:
    """List parts, by state, design, mould, order, customer, or whether they were released."""
    query = Item.select(Item).join(Part, on=(Part.item == Item.id)).join(Design, on=(Part.design == Design.id))
    for column, wanted in (
        (Item.state, state),
        (Part.design, design),
        (Design.part_number, part_number),
        (Part.mould, ledger.find(mould, Kind.MOULD).id if mould is not None else None),
        (Part.order, order),
        (Part.customer, customer),
    ):
        if wanted is not None:
            query = query.where(column == wanted)
    if released is not None:
        query = query.where(Part.released_at.is_null(not released))
    found = page(query, Item.id, after=after, limit=limit, view=lambda item: item)
    ids = [item.id for item in found.rows]
    parts = {p.item_id: p for p in Part.select(Part, Design).join(Design).where(Part.item.in_(ids))}
    holds = standing_holds(ids, at=at)
    codes = _codes({p.mould_id for p in parts.values() if p.mould_id is not None})
    return Page(
        rows=tuple(_row(item, parts[item.id], codes, bool(holds[item.id])) for item in found.rows),
        next_after=found.next_after,
    )


def _codes(ids: set[int]) -> dict[int, str]:
    return {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_(ids))}


def _row(item: Item, row: Part, codes: dict[int, str], on_hold: bool) -> PartRow:
    return PartRow(
        code=item.code,
        name=item.name,
        state=item.state,
        design=design_ref(row.design),
        mould=codes.get(row.mould_id or 0),
        order=row.order,
        customer=row.customer,
        started_at=row.started_at,
        laid_up_at=row.laid_up_at,
        demoulded_at=row.demoulded_at,
        released_at=row.released_at,
        shipped_at=row.shipped_at,
        on_hold=on_hold,
        version=item.version,
    )


def view_part(item: Item, *, at: datetime) -> PartView:
    row = Part.get_by_id(item.id)
    inputs = _went_in(item)
    kits = tuple(w for w in inputs if w.kind == Kind.KIT)
    upstream = closure([item.id], back=True)[item.id]
    return PartView(
        code=item.code,
        name=item.name,
        state=item.state,
        design=design_ref(row.design),
        mould=ref(Item.get_by_id(row.mould_id)) if row.mould_id is not None else None,
        order=row.order,
        customer=row.customer,
        place=ref(item.place) if item.place is not None else None,
        started_at=row.started_at,
        started_by=row.started_by.name,
        laid_up_at=row.laid_up_at,
        demoulded_at=row.demoulded_at,
        released_at=row.released_at,
        released_by=row.released_by.name if row.released_by is not None else None,
        shipped_at=row.shipped_at,
        mass_mg=row.mass_mg,
        mixes=tuple(w for w in inputs if w.kind == Kind.MIX),
        kits=kits,
        kit_mass_mg=_kit_mass(item),
        materials=tuple(w for w in inputs if w.kind == Kind.CONTAINER),
        components=tuple(w for w in inputs if w.kind == Kind.PART),
        fitted_into=_fitted_into(item),
        plies=_plies(item),
        missing_plies=tuple(missing_plies(row)),
        cures=_cures(item),
        steps=_steps(item),
        inspections=_inspections(item),
        defects=defects_of(item),
        nonconformances=nonconformances_of(item),
        flags=flag_views([item.id, *sorted(upstream)]),
        holds=hold_views(standing_holds([item.id], at=at)[item.id]),
        shipment=_shipment(item),
        after_trim=trim_figures(row),
        version=item.version,
    )


def _went_in(item: Item) -> list[WentIn]:
    rows = (
        Movement.select(Movement, Item)
        .join(Item, on=(Movement.source == Item.id))
        .where((Movement.target == item.id) & Movement.cancelled_by.is_null() & (Item.kind != Kind.CURE))
        .order_by(Movement.occurred_at, Movement.id)
    )
    return [
        WentIn(
            code=known(m.source).code,
            kind=known(m.source).kind,
            name=known(m.source).name,
            movement=m.kind,
            purpose=m.purpose,
            zone=m.zone,
            mass_mg=m.amount if m.unit == Unit.MILLIGRAM else None,
            length_mm=m.amount if m.unit == Unit.MILLIMETRE else None,
            pieces=m.amount if m.unit == Unit.PIECE else None,
            estimated=m.estimated,
            occurred_at=m.occurred_at,
        )
        for m in rows
    ]


def _kit_mass(item: Item) -> int | None:
    """What the kits in a part weighed together; nothing where one was not weighed."""
    masses = [
        k.mass_mg
        for k in Kit.select(Kit.mass_mg)
        .join(Movement, on=(Movement.source == Kit.item))
        .where((Movement.target == item.id) & Movement.cancelled_by.is_null())
    ]
    weighed = [mass for mass in masses if mass is not None]
    return sum(weighed) if masses and len(weighed) == len(masses) else None


def _fitted_into(item: Item) -> str | None:
    found = (
        Item.select(Item.code)
        .join(Movement, on=(Movement.target == Item.id))
        .where((Movement.source == item.id) & (Movement.kind == MovementKind.BONDING) & Movement.cancelled_by.is_null())
        .first()
    )
    return found.code if found else None


def _plies(item: Item) -> tuple[LaidView, ...]:
    rows = (
        PlyLaid.select(PlyLaid, Item, Deed, Person)
        .join(Item, on=(PlyLaid.source == Item.id))
        .switch(PlyLaid)
        .join(Deed)
        .join(Person)
        .where((PlyLaid.part == item.id) & stands(PlyLaid.deed))
        .order_by(PlyLaid.id)
    )
    return tuple(
        LaidView(
            number=p.number,
            source=p.source.code,
            angle_deg=p.angle_deg,
            face=p.face,
            zone=p.zone,
            in_order=p.in_order,
            occurred_at=p.occurred_at,
            by=p.deed.person.name,
        )
        for p in rows
    )


def _cures(item: Item) -> tuple[CureRow, ...]:
    cures = {c.item_id: c for c in Cure.select().where(Cure.item.in_(cures_of(item.id)))}
    codes = _codes(set(cures))
    return tuple(
        CureRow(
            code=codes[c.item_id],
            schedule=c.schedule.name,
            revision=c.schedule.revision,
            post_cure=c.post_cure,
            started_at=c.started_at,
            ended_at=c.ended_at,
            evidence=c.evidence,
            passed=c.passed,
        )
        for c in sorted(cures.values(), key=lambda c: c.item_id)
    )


def _by_person(table: Any, item: Item) -> Any:
    """Rows of a part's history that stand, oldest first, with who wrote them."""
    query = table.select(table, Deed, Person).join(Deed).join(Person)
    return query.where((table.part == item.id) & stands(table.deed)).order_by(table.id)


def _steps(item: Item) -> tuple[StepView, ...]:
    return tuple(
        StepView(kind=s.kind, facts=s.facts, passed=s.passed, occurred_at=s.occurred_at, by=s.deed.person.name)
        for s in _by_person(PartStep, item)
    )


def _inspections(item: Item) -> tuple[InspectionView, ...]:
    return tuple(
        InspectionView(
            id=i.id,
            accepted=i.accepted,
            remark=i.remark,
            measurements=tuple(i.measurements),
            occurred_at=i.occurred_at,
            by=i.deed.person.name,
        )
        for i in _by_person(Inspection, item)
    )


def _shipment(item: Item) -> ShipmentView | None:
    row = _by_person(Shipment, item).first()
    if row is None:
        return None
    return ShipmentView(
        customer=row.customer, document=row.document, shipped_on=row.shipped_on, by=row.deed.person.name
    )
