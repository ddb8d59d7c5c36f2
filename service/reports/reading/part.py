"""One bulk reader of all there is on a part."""

from datetime import datetime

from schemas.words import Kind, LabelSize, PartState
from service.operations.ledger.graph import standing_holds
from service.operations.parts.designs import DesignView, view_design
from service.operations.parts.kits import KitView, view_kits
from service.operations.parts.laminate import read_laminate
from service.operations.parts.part import load_part
from service.operations.parts.view import PartView, view_part
from service.records.base import as_word
from service.records.items import Label
from service.records.journal import Document
from service.records.parts import Design
from service.reports.reading.account import (
    DesignAccount,
    KitAccount,
    LabelIssued,
    PartAccount,
    Tool,
)
from service.reports.reading.assembly import read_components
from service.reports.reading.cures import read_cures
from service.reports.reading.entries import read_corrected, read_deeds, read_late, read_marks, read_people, read_tools
from service.reports.reading.ground import Ground
from service.reports.reading.materials import read_materials
from service.reports.reading.pots import read_pots
from service.reports.reading.proof import (
    read_acts,
    read_files,
    read_lifted,
    read_loggers,
    read_scale_checks,
    read_signed,
)


def account_of(ground: Ground, *, at: datetime) -> PartAccount:
    """All there is on one part, as it stands at ``at``."""
    root = ground.root
    held = load_part(root)
    view = view_part(held, at=at)
    deeds = read_deeds(ground)
    marks, permits = read_marks(ground, held)
    cures = read_cures(ground.of_kind(Kind.CURE))
    return PartAccount(
        code=root.code,
        name=root.name,
        state=as_word(PartState, root.state),
        design=_design(view.design.id),
        order=view.order,
        customer=view.customer,
        mould_used=_mould(view),
        place_name=view.place_name,
        started_at=view.started_at,
        started_by=view.started_by,
        laid_up_at=view.laid_up_at,
        demoulded_at=view.demoulded_at,
        released_at=view.released_at,
        released_by=view.released_by,
        shipped_at=view.shipped_at,
        shipment=view.shipment,
        scrapping=view.scrapping,
        mass_mg=view.mass_mg,
        as_designed=view.as_designed,
        after_trim=view.after_trim,
        on_hold=tuple(h.reason for h in standing_holds([root.id], at=at)[root.id]),
        laid=view.plies,
        missing_plies=view.missing_plies,
        kits=tuple(_kit(view) for view in view_kits(ground.of_kind(Kind.KIT), at=at)),
        components=read_components(ground.of_kind(Kind.PART)),
        pots=read_pots(ground),
        materials=read_materials(ground),
        cures=cures,
        steps=view.steps,
        inspections=view.inspections,
        defects=view.defects,
        nonconformances=view.nonconformances,
        marks=marks,
        permits=permits,
        late=read_late(ground, deeds),
        corrected=read_corrected(ground, deeds),
        people=read_people(ground, deeds),
        tools=read_tools(ground),
        labels=tuple(
            LabelIssued(row.issue, as_word(LabelSize, row.size), row.issued_at, row.void_at)
            for row in Label.select().where(Label.item == root.id).order_by(Label.issue)
        ),
        acts=read_acts(ground, deeds),
        signed=read_signed(deeds),
        scale_checks=read_scale_checks(ground),
        files=read_files(cures),
        loggers=read_loggers(ground, cures),
        lifted_holds=read_lifted(ground),
        shop=ground.site.name,
        zone=ground.site.zone,
    )


def _mould(view: PartView) -> Tool | None:
    if view.mould is None or view.mould_name is None:
        return None
    return Tool(code=view.mould, name=view.mould_name, roles=("mould",))


def _design(number: int) -> DesignAccount:
    row = Design.get_by_id(number)
    view = view_design(row)
    frozen = Document.get_or_none(Document.id == view.document) if view.document is not None else None
    return DesignAccount(
        part_number=view.part_number,
        revision=view.revision,
        name=view.name,
        frozen_sha256=frozen.sha256 if frozen is not None else None,
        approved_at=view.approved_at,
        approved_by=view.approved_by,
        schedule=view.schedule,
        resin_need=view.resin_need,
        plies=view.plies,
        sentences=(*view.sentences, *_thickness(view)),
    )


def _thickness(view: DesignView) -> tuple[str, ...]:
    said = read_laminate(view.id).thickness if view.laminate is not None else None
    return () if said is None else (said,)


def _kit(view: KitView) -> KitAccount:
    return KitAccount(**{name: getattr(view, name) for name in KitAccount.__slots__})
