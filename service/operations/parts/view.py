"""Parts as they are read: the list for the office and the order system, and one part with all that belongs to it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast

from schemas.words import Evidence, Face, Kind, MovementKind, OwnStep, PartState, State, StepKind, Unit
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work
from service.operations.door.views import Page, by_state, page_of
from service.operations.ledger import ledger
from service.operations.ledger.flags import stands
from service.operations.ledger.graph import HoldView, by_hold, hold_views, standing_holds
from service.operations.ledger.tracing import FlagView, newest_flags
from service.operations.parts.as_designed import as_designed
from service.operations.parts.asked import AsDesigned
from service.operations.parts.designs import DesignRef, design_ref
from service.operations.parts.findings import (
    DefectView,
    Measurement,
    NonconformanceView,
    defects_of,
    nonconformances_of,
)
from service.operations.parts.flagged import flag_views_of, part_and_behind
from service.operations.parts.part import Laid, PartInHand, load_part
from service.operations.parts.scrapping import ScrappingView
from service.operations.parts.trim import TrimFigures, trim_figures
from service.records.base import as_word
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.parts import Design, Inspection, Part, Shipment
from service.records.people import Person


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part in one line."""

    code: str
    name: str
    state: PartState
    design: DesignRef
    mould: str | None
    order: str | None
    customer: str | None
    started_at: datetime | None
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
    face: Face | None
    zone: str | None
    in_order: bool
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class WentIn:
    """What went into a part: a mix, a kit, a roll's length, a core, a release agent, a component."""

    code: str
    kind: Kind
    name: str
    movement: MovementKind
    purpose: str | None
    zone: str | None
    mass_mg: int | None
    length_mm: int | None
    pieces: int | None
    estimated: bool
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class PartCure:
    code: str
    schedule: str
    revision_number: int
    post_cure: bool
    started_at: datetime
    ended_at: datetime | None
    evidence: Evidence | None
    passed: bool | None


@dataclass(frozen=True, slots=True)
class StepView:
    kind: StepKind | OwnStep
    facts: dict[str, Any]
    passed: bool | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class InspectionView:
    id: int
    accepted: bool
    remark: str | None
    measurements: tuple[Measurement, ...]
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
    """A part with all that went into it and all that was done to it.

    Attributes
    ----------
    flags
        Its own, and those of all that it was made of: the newest 50, oldest first;
        GET /v1/parts/{part}/flags lists all.
    flags_count
        How many they are.
    """

    FOLLOWED = True  # its ETag is its last change

    code: str
    name: str
    state: PartState
    design: DesignRef
    mould: str | None
    mould_name: str | None
    order: str | None
    customer: str | None
    place: str | None
    place_name: str | None
    started_at: datetime | None
    started_by: str | None
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
    cures: tuple[PartCure, ...]
    steps: tuple[StepView, ...]
    inspections: tuple[InspectionView, ...]
    defects: tuple[DefectView, ...]
    nonconformances: tuple[NonconformanceView, ...]
    flags: tuple[FlagView, ...]
    flags_count: int
    holds: tuple[HoldView, ...]
    shipment: ShipmentView | None
    scrapping: ScrappingView | None
    as_designed: AsDesigned
    after_trim: TrimFigures
    version: int


def read_part(part: str, *, at: datetime) -> PartView:
    """One part: what went into it, how it was cured, what was found, and what stands against it."""
    return view_part(load_part(ledger.find(part, Kind.PART)), at=at)


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
    on_hold: bool | None = None,
    started_from: datetime | None = None,
    started_before: datetime | None = None,
) -> Page[PartRow]:
    """List parts, by state, design, mould, order, customer, hold, the time of their start, or a release."""
    query = Item.select(Item).join(Part, on=(Part.item == Item.id)).join(Design, on=(Part.design == Design.id))
    for column, wanted in (
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
    if started_from is not None:
        query = query.where(Part.started_at >= started_from)
    if started_before is not None:
        query = query.where(Part.started_at < started_before)
    query, key = by_state(query, Kind.PART, Part.item, state)
    query = by_hold(query, on_hold, at=at)
    return page_of(query, key, after=after, limit=limit, views=lambda items: _rows(items, at=at))


def _rows(items: Sequence[Item], *, at: datetime) -> Iterator[PartRow]:
    ids = [item.id for item in items]
    parts = {p.item_id: p for p in Part.select(Part, Design).join(Design).where(Part.item.in_(ids))}
    holds = standing_holds(ids, at=at)
    codes = _codes({p.mould_id for p in parts.values() if p.mould_id is not None})
    return (_row(item, parts[item.id], codes, bool(holds[item.id])) for item in items)


def _codes(ids: set[int]) -> dict[int, str]:
    return {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_(ids))}


def _row(item: Item, row: Part, codes: dict[int, str], on_hold: bool) -> PartRow:
    return PartRow(
        code=item.code,
        name=item.name,
        state=as_word(PartState, item.state),
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


def answered(work: Work, part: PartInHand) -> PartView:
    """What an act on a part answers: the part in hand, with all that the act has changed in it."""
    return work.answer(part.item, lambda _: view_part(part, at=work.act.occurred_at))


def view_part(part: PartInHand, *, at: datetime) -> PartView:
    item, row = part.item, part.row
    inputs = [went_in(m) for m in part.inputs if m.source.kind != Kind.CURE]
    kits = tuple(w for w in inputs if w.kind == Kind.KIT)
    kit_mg = part.kit_mg
    defects = defects_of(item)
    flags, flags_count = newest_flags(part_and_behind(part))
    return PartView(
        code=item.code,
        name=item.name,
        state=as_word(PartState, item.state),
        design=design_ref(row.design),
        mould=part.mould.code if part.mould is not None else None,
        mould_name=part.mould.name if part.mould is not None else None,
        order=row.order,
        customer=row.customer,
        place=item.place.code if item.place is not None else None,
        place_name=item.place.name if item.place is not None else None,
        started_at=row.started_at,
        started_by=part.started_by,
        laid_up_at=row.laid_up_at,
        demoulded_at=row.demoulded_at,
        released_at=row.released_at,
        released_by=part.released_by,
        shipped_at=row.shipped_at,
        mass_mg=row.mass_mg,
        mixes=tuple(w for w in inputs if w.kind == Kind.MIX),
        kits=kits,
        kit_mass_mg=sum(m for m in kit_mg if m is not None) if kit_mg and None not in kit_mg else None,
        materials=tuple(w for w in inputs if w.kind == Kind.CONTAINER),
        components=tuple(w for w in inputs if w.kind == Kind.PART),
        fitted_into=fitted_into(item),
        plies=tuple(ply_laid(p) for p in part.plies),
        missing_plies=tuple(part.missing),
        cures=tuple(cure_row(c) for c in sorted(part.cures, key=lambda c: c.item_id)),
        steps=tuple(step_view(s) for s in part.steps),
        inspections=_inspections(item),
        defects=defects,
        nonconformances=nonconformances_of(item, defects),
        flags=flag_views_of(part, flags),
        flags_count=flags_count,
        holds=hold_views(part.holds(at)),
        shipment=last_shipment(item),
        as_designed=as_designed(part),
        after_trim=trim_figures(part),
        scrapping=part.scrapping,
        version=item.version,
    )


def went_in(m: Any) -> WentIn:
    return WentIn(
        code=m.source.code,
        kind=m.source.kind,
        name=m.source.name,
        movement=m.kind,
        purpose=m.purpose,
        zone=m.zone,
        mass_mg=m.amount if m.unit == Unit.MILLIGRAM else None,
        length_mm=m.amount if m.unit == Unit.MILLIMETRE else None,
        pieces=m.amount if m.unit == Unit.PIECE else None,
        estimated=m.estimated,
        occurred_at=m.occurred_at,
    )


def fitted_into(item: Item) -> str | None:
    found = (
        Item.select(Item.code)
        .join(Movement, on=(Movement.target == Item.id))
        .where((Movement.source == item.id) & (Movement.kind == MovementKind.BONDING) & Movement.cancelled_by.is_null())
        .first()
    )
    return found.code if found else None


def ply_laid(laid: Laid) -> LaidView:
    row = laid.row
    return LaidView(
        number=row.number,
        source=laid.source,
        angle_deg=row.angle_deg,
        face=as_word(Face, row.face),
        zone=row.zone,
        in_order=row.in_order,
        occurred_at=row.occurred_at,
        by=laid.by,
    )


def cure_row(row: Any) -> PartCure:
    return PartCure(
        code=row.known.code,
        schedule=row.schedule.name,
        revision_number=row.schedule.revision,
        post_cure=row.post_cure,
        started_at=row.started_at,
        ended_at=row.ended_at,
        evidence=row.evidence,
        passed=row.passed,
    )


def _by_person(table: type[Inspection | Shipment], item: Item) -> Any:
    """Rows of a part's history that stand, oldest first, with who wrote them."""
    query = table.select(table, called_then(Person, Deed.occurred_at).alias("by")).join(Deed).join(Person)
    return query.where((table.part == item.id) & stands(table.deed)).order_by(table.id)


def step_view(row: Any) -> StepView:
    return StepView(
        kind=cast(StepKind | OwnStep, row.kind),
        facts=row.facts,
        passed=row.passed,
        occurred_at=row.occurred_at,
        by=row.by,
    )


def _inspections(item: Item) -> tuple[InspectionView, ...]:
    return tuple(
        InspectionView(
            id=i.id,
            accepted=i.accepted,
            remark=i.remark,
            measurements=tuple(i.measurements),
            occurred_at=i.occurred_at,
            by=i.by,
        )
        for i in _by_person(Inspection, item)
    )


def last_shipment(item: Item) -> ShipmentView | None:
    rows = list(_by_person(Shipment, item))
    if not rows:
        return None
    row = rows[-1]
    return ShipmentView(customer=row.customer, document=row.document, shipped_on=row.shipped_on, by=row.by)
