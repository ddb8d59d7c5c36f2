"""Designs: one revision each of what is to be built. A draft may be changed; an approved one is locked and frozen."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, NotRequired, TypedDict

from peewee import JOIN

from schemas.words import Purpose
from service.operations.door.act import Act
from service.operations.door.formerly import Formerly, called_then
from service.operations.door.operation import Work, beforehand, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable
from service.operations.door.revisions import Revisions, approver_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.ledger.documents import freeze
from service.operations.ledger.second import require_other_than_author
from service.operations.parts.plies import (
    DesignPly,
    check_references,
    expected_kit,
    laminate_check,
    materials_of,
    ply_views,
    with_areas,
)
from service.records.lookups import among
from service.records.materials import Material
from service.records.parts import Design
from service.records.people import Person

DESIGNS = Revisions(
    Design,
    "design",
    title=lambda row: f"{row.part_number} revision {row.revision}",
    way_on="Add a new revision; parts that were started keep theirs.",
)


class ResinNeed(TypedDict):
    """Mixed resin for one purpose, losses included."""

    purpose: Purpose
    system: str
    mass_g: float
    spread_pct: NotRequired[float | None]
    coats: NotRequired[int | None]


class Bag(TypedDict):
    """Vacuum and drop test of the process sheet; pressures are below that of the air."""

    least_vacuum_mbar: float
    drop_limit_mbar: float
    drop_minutes: float


class Densities(TypedDict):
    """Of fibre and matrix."""

    fibre_g_cm3: float
    matrix_g_cm3: float


class Uptake(TypedDict):
    """What takes up resin besides the fibres: peel ply, core, mesh."""

    name: str
    uptake_g_m2: float


class GelCoat(TypedDict):
    """Gel coat as its data sheet asks for it, wet."""

    thickness_mm: float
    density_g_cm3: float
    loss_fraction: float


class LaminateAsked(TypedDict, total=False):
    """What the laminate is to be."""

    process: str | None
    fibre_mass_fraction: float | None
    fibre_volume_fraction: float | None
    loss_fraction: float | None
    area_m2: float | None
    uptakes: list[Uptake]
    gel_coat: GelCoat | None


@dataclass(frozen=True, slots=True)
class DesignView:
    """A design in one of its revisions.

    Attributes
    ----------
    kit_spread_g
        To either side, k = 2; nothing where the pieces' spread is not known.
    """

    id: int
    part_number: str
    revision: str
    name: str
    resin_need: tuple[ResinNeed, ...]
    plies: tuple[DesignPly, ...]
    zones: tuple[str, ...]
    ply_by_ply: bool
    traceable: bool
    schedule: str | None
    bag: Bag | None
    piece_spread_pct: float | None
    densities: Densities | None
    laminate: LaminateAsked | None
    symmetric: bool | None
    balanced: bool | None
    sentences: tuple[str, ...]
    kit_expected_g: float | None
    kit_spread_g: float | None
    approved_at: datetime | None
    approved_by: str | None
    document: int | None
    version: int


@dataclass(frozen=True, slots=True)
class DesignRef:
    """A design in one line."""

    id: int
    part_number: str
    revision: str
    name: str


def _with_areas(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    return {**asked, "plies": with_areas(asked["plies"])} if "plies" in asked else asked


@operation
@beforehand(_with_areas)
def add_design(
    work: Work,
    *,
    part_number: str,
    revision: str,
    name: str,
    plies: Sequence[dict[str, Any]] = (),
    resin_need: Sequence[dict[str, Any]] = (),
    **facts: Annotated[Any, Design],
) -> DesignView:
    """Add a design, or a new revision of one, as a draft."""
    materials = check_references({"plies": plies, "resin_need": resin_need, **facts})
    stored = {"plies": list(plies), "resin_need": list(resin_need), **facts}
    row = draft_design(work, part_number=part_number, revision=revision, name=name, **stored)
    return view_design(row, materials)


def draft_design(work: Work, *, part_number: str, revision: str, name: str, **stored: Any) -> Design:
    """A new draft of what is stored so; part of another act, such as the mirroring of a design."""
    _refuse_double(part_number, revision)
    authors = DESIGNS.written_by(work)
    row = Design.create(part_number=part_number, revision=revision, name=name, authors=authors, **stored)
    work.note(design=row.id, part_number=part_number, revision=revision)
    return row


@operation
@beforehand(_with_areas)
def change_design(work: Work, *, design: int, version: int, **changes: Annotated[Any, Design]) -> DesignView:
    """Change a design that is still a draft; an approved one gets a new revision instead."""
    row = DESIGNS.draft(design, version=version)
    number, revision = changes.get("part_number", row.part_number), changes.get("revision", row.revision)
    if (number, revision) != (row.part_number, row.revision):
        _refuse_double(number, revision)
    materials = check_references({"plies": row.plies, "resin_need": row.resin_need, "zones": row.zones, **changes})
    return view_design(DESIGNS.change(work, row, changes), materials)


def _refuse_double(part_number: str, revision: str) -> None:
    known = Design.get_or_none((Design.part_number == part_number) & (Design.revision == revision))
    if known is not None:
        raise AlreadyThere(
            f"There is a {part_number} revision {revision} already.",
            way_out="Use it, or give the new one the next revision.",
            pointer="/revision",
            design=known.id,
        )


@operation
def approve_design(work: Work, *, design: int) -> DesignView:
    """Approve a design: it is locked, and kept as a document with its hash. Parts can be started from then on."""
    row = DESIGNS.draft(design)
    alone = require_other_than_author(work, row, DESIGNS.title(row))
    materials = materials_of(row.plies)
    view = view_design(row, materials)
    frozen = freeze(work, f"design {row.part_number} {row.revision}", view)
    return view_design(DESIGNS.approve(work, row, frozen, alone=alone), materials)


def read_design(design: int) -> DesignView:
    """One design, with what its laminate is and what its kit should weigh."""
    return view_design(find_row(Design, design, "design"))


def list_designs(
    *, after: int | None, limit: int, part_number: str | None = None, approved: bool | None = None
) -> Page[DesignView]:
    """List designs, all revisions of a part number, or only those that are approved."""
    approver = called_then(Person, Design.approved_at).alias("approver")
    query = Design.select(Design, approver).join(Person, JOIN.LEFT_OUTER, on=(Design.approved_by == Person.id))
    if part_number is not None:
        query = query.where(Design.part_number == part_number)
    if approved is not None:
        query = query.where(Design.approved_at.is_null(not approved))
    return page_of(query, Design.id, after=after, limit=limit, views=_view_designs)


def _view_designs(rows: Sequence[Design]) -> Iterator[DesignView]:
    materials = Formerly(Material, among(Material.id, {ply["material"] for row in rows for ply in row.plies}))
    return (view_design(row, materials.all_at(row.approved_at)) for row in rows)


def find_design(*, design: int | None, part_number: str | None, revision: str | None) -> Design:
    """The design of that number, or of that part number: in the revision named, else the one approved last."""
    if (design is None) == (part_number is None):
        raise Unprocessable("Give the design's number, or its part number and revision.", pointer="/design")
    if design is not None:
        row: Design = find_row(Design, design, "design", pointer="/design")
        return row
    query = Design.select().where(Design.part_number == part_number)
    if revision is not None:
        query = query.where(Design.revision == revision)
    else:
        query = query.where(Design.approved_at.is_null(False)).order_by(Design.approved_at.desc(), Design.id.desc())
    found = query.first()
    if found is None:
        if revision is not None:
            raise Unprocessable(f"There is no revision {revision} of {part_number} here.", pointer="/part_number")
        raise DESIGNS.none_approved(f"design of {part_number}", Design.part_number == part_number, "/part_number")
    return found


def design_ref(row: Design) -> DesignRef:
    return DesignRef(id=row.id, part_number=row.part_number, revision=row.revision, name=row.name)


def view_design(row: Design, known_materials: Mapping[int, Material] | None = None) -> DesignView:
    """A design as it is read; its materials are looked up unless they are at hand."""
    materials = materials_of(row.plies, at=row.approved_at) if known_materials is None else known_materials
    laminate, kit = laminate_check(row, materials), expected_kit(row, materials)
    return DesignView(
        id=row.id,
        part_number=row.part_number,
        revision=row.revision,
        name=row.name,
        resin_need=tuple(row.resin_need),
        plies=ply_views(row, materials),
        zones=tuple(row.zones),
        ply_by_ply=row.ply_by_ply,
        traceable=row.traceable,
        schedule=row.schedule,
        bag=row.bag,
        piece_spread_pct=row.piece_spread_pct,
        densities=row.densities,
        laminate=row.laminate,
        symmetric=laminate.symmetric if laminate else None,
        balanced=laminate.balanced if laminate else None,
        sentences=laminate.sentences if laminate else (),
        kit_expected_g=round(kit.expected_g, 1) if kit else None,
        kit_spread_g=round(kit.spread_g, 1) if kit and row.piece_spread_pct is not None else None,
        approved_at=row.approved_at,
        approved_by=approver_of(row),
        document=row.document_id,
        version=row.version,
    )
