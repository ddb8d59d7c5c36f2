"""Resin systems: what a data sheet says of a resin and its hardeners, kept in revisions, locked once approved."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any

from peewee import JOIN

from schemas.words import MaterialKind, SystemKind, ToleranceKind
from service.formulas.clocks import life_min
from service.formulas.ratio import tolerance_pct
from service.formulas.ratio_forms import (
    densities_agree,
    phr_from_ratio,
    ratio_from_phr,
    weight_ratio_from_volume,
)
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import PeroxideBarred, Unprocessable
from service.operations.door.revisions import Revisions, approver_of
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.ledger.documents import freeze
from service.operations.ledger.second import require_other_than_author
from service.operations.pots.blends import blend_as_asked, kept_blend, ratio_of_blend
from service.operations.pots.catalysts import as_asked as catalyst_as_asked
from service.operations.pots.catalysts import put_catalysts
from service.operations.pots.system import (
    SystemView,
    _frozen_as,
    find_system,
    formula_kind,
    hardeners_of,
    life_points,
    view_system,
)
from service.operations.stock.peroxides import is_organic_peroxide
from service.records.base import known
from service.records.materials import Material, ResinSystem, SystemHardener
from service.records.people import Person

RESIN_KINDS = frozenset({MaterialKind.RESIN, MaterialKind.GEL_COAT})


HARDENER_KINDS = frozenset({MaterialKind.HARDENER, MaterialKind.GEL_COAT_HARDENER})


SYSTEMS = Revisions(
    ResinSystem,
    "resin system",
    title=lambda row: f"Revision {row.revision} of {row.name}",
    way_on="Add the system once more under the same name: that makes its next revision.",
)


@operation
def add_resin_system(
    work: Work,
    *,
    name: str,
    data_sheet: str,
    resin: int,
    largest_pot_mg: int,
    kind: SystemKind = SystemKind.TWO_PART,
    hardeners: Sequence[Mapping[str, Any]] = (),
    catalysts: Sequence[Mapping[str, Any]] = (),
    tolerance: Mapping[str, Any] | None = None,
    agreement_limit_pct: float = 2.0,
    **facts: Annotated[Any, ResinSystem],
) -> SystemView:
    """Add a resin system, or the next revision of one, as its data sheet describes it. It is a draft until approved."""
    revision = SYSTEMS.next_number(name)
    _check_work_limits(facts)
    product = _component(resin, RESIN_KINDS, "/resin")
    tolerance = _tolerance(kind, tolerance, hardeners, catalysts)
    row = ResinSystem.create(
        name=name,
        kind=kind,
        revision=revision,
        data_sheet=data_sheet,
        resin=product,
        tolerance_kind=tolerance["kind"],
        tolerance_value=tolerance["value"],
        tolerance_source=tolerance["source"],
        largest_pot_mg=largest_pot_mg,
        authors=SYSTEMS.written_by(work),
        **facts,
    )
    own = _put_components(row, product, hardeners, catalysts, agreement_limit_pct)
    work.note(resin_system=row.id, name=name, revision=row.revision)
    return view_system(row, own)


# A peroxide's own lines are its tolerance; what is kept of the system as a whole only says so.
_BY_ITS_LINES = {"kind": ToleranceKind.PERCENT_OF_RATIO, "value": 1.0, "source": "the lines of each catalyst"}


def _tolerance(
    kind: str,
    tolerance: Mapping[str, Any] | None,
    hardeners: Sequence[Mapping[str, Any]],
    catalysts: Sequence[Mapping[str, Any]],
) -> Mapping[str, Any]:
    """A two-part system has hardeners and a tolerance; a peroxide-cured one has catalysts, each with its lines."""
    if kind == SystemKind.PEROXIDE_CURED:
        if hardeners or tolerance is not None:
            raise Unprocessable(
                "A peroxide-cured resin has catalysts, each with its own lowest and highest per cent.",
                pointer="/hardeners" if hardeners else "/tolerance",
            )
        if not catalysts:
            raise Unprocessable("Name the catalysts that the data sheet allows.", pointer="/catalysts")
        return _BY_ITS_LINES
    if catalysts:
        raise Unprocessable("Only a peroxide-cured resin has catalysts; say so in kind.", pointer="/kind")
    if not hardeners:
        raise Unprocessable("Give 1 to 20 hardeners.", pointer="/hardeners")
    if tolerance is None:
        raise Unprocessable("Give the tolerance of the ratio, with its kind and source.", pointer="/tolerance")
    return tolerance


def _put_components(
    row: ResinSystem,
    resin: Material,
    hardeners: Sequence[Mapping[str, Any]],
    catalysts: Sequence[Mapping[str, Any]],
    limit_pct: float,
) -> list[SystemHardener]:
    if row.kind == SystemKind.PEROXIDE_CURED:
        return put_catalysts(row, resin, catalysts)
    return _put_hardeners(row, resin, hardeners, limit_pct)


@operation
def change_resin_system(
    work: Work,
    *,
    system: int,
    version: int,
    hardeners: Sequence[Mapping[str, Any]] | None = None,
    catalysts: Sequence[Mapping[str, Any]] | None = None,
    tolerance: Mapping[str, Any] | None = None,
    agreement_limit_pct: float = 2.0,
    **columns: Annotated[Any, ResinSystem],
) -> SystemView:
    """Change a draft of a resin system. An approved one is never changed: a change is a new revision."""
    row = SYSTEMS.draft(system, version=version)
    if not columns and hardeners is None and catalysts is None and tolerance is None:
        raise Unprocessable("Give at least one field to change.")
    own = hardeners_of([row.id])[row.id]
    before = view_system(row, own)
    if tolerance is not None:
        columns |= {f"tolerance_{name}": value for name, value in tolerance.items()}
    merged = {name: columns.get(name, getattr(row, name)) for name in ("work_low_c", "work_high_c")}
    _check_work_limits(merged)
    if columns.get("resin", row.resin_id) == row.resin_id:
        product = _checked(row.resin, RESIN_KINDS, "/resin")
    else:
        product = _component(columns["resin"], RESIN_KINDS, "/resin")
    columns["authors"] = SYSTEMS.written_by(work, row)
    ResinSystem.update(version=ResinSystem.version + 1, **columns).where(ResinSystem.id == row.id).execute()
    for name, value in (*columns.items(), ("resin", product), ("version", row.version + 1)):
        setattr(row, name, value)
    if row.kind == SystemKind.PEROXIDE_CURED:
        asked, other = catalysts if catalysts is not None else [catalyst_as_asked(h) for h in own], hardeners
    else:
        asked, other = hardeners if hardeners is not None else [_as_asked(h) for h in own], catalysts
    if other or (tolerance is not None and row.kind == SystemKind.PEROXIDE_CURED):
        raise Unprocessable(f"That belongs to another kind of system; this one is {row.kind}.", pointer="/kind")
    SystemHardener.delete().where(SystemHardener.system == row.id).execute()
    after = view_system(row, _put_components(row, product, asked, asked, agreement_limit_pct))
    work.note(resin_system=row.id, before=before, after=after)
    return after


def _as_asked(row: SystemHardener) -> dict[str, Any]:
    return {
        "material": row.material_id,
        "speed": row.speed,
        "parts_by_weight": None if row.weight_worked_out else row.parts_by_weight,
        "parts_by_volume": row.parts_by_volume,
        "cup_life": row.cup_life,
        "tray_life": row.tray_life,
        "film_life": row.film_life,
        "blend": blend_as_asked(row),
    }


def _check_work_limits(facts: Mapping[str, Any]) -> None:
    low, high = facts.get("work_low_c"), facts.get("work_high_c")
    if low is not None and high is not None and low >= high:
        raise Unprocessable("The lowest temperature for work has to lie below the highest.", pointer="/work_low_c")


def _component(number: int, kinds: frozenset[MaterialKind], pointer: str) -> Material:
    return _checked(find_row(Material, number, "material", pointer=pointer), kinds, pointer)


def _checked(material: Material, kinds: frozenset[MaterialKind], pointer: str) -> Material:
    refuse_peroxide(material)
    if MaterialKind(material.kind) not in kinds:
        raise Unprocessable(f"{material.name} is {material.kind}, not {' or '.join(sorted(kinds))}.", pointer=pointer)
    return material


def refuse_peroxide(material: Material) -> None:
    if is_organic_peroxide(material):
        raise PeroxideBarred(
            f"{material.name} is an organic peroxide; it is a catalyst of peroxide-cured resins, and no hardener.",
            way_out="Enter the system as peroxide-cured, with the table of its data sheet.",
        )


def _put_hardeners(
    row: ResinSystem, resin: Material, asked: Sequence[Mapping[str, Any]], limit_pct: float
) -> list[SystemHardener]:
    """Write a system's hardeners, each with its ratio worked out or cross-checked and its tables proved."""
    own: list[SystemHardener] = []
    if len({h["material"] for h in asked}) < len(asked):
        raise Unprocessable("Each hardener stands in a system once.", pointer="/hardeners")
    for number, given in enumerate(asked):
        at = f"/hardeners/{number}"
        material = _component(given["material"], HARDENER_KINDS, f"{at}/material")
        by_weight, by_volume = given.get("parts_by_weight"), given.get("parts_by_volume")
        blend = kept_blend(given.get("blend"), own, at)
        if blend is not None and by_weight is None and by_volume is None:
            ratio, worked_out = ratio_of_blend(blend), True
        else:
            ratio, worked_out = _ratio(resin, material, by_weight, by_volume, limit_pct, at)
            blend = blend and {**blend, "own_ratio": True}
        tolerance_pct(kind=formula_kind(row.tolerance_kind), value=row.tolerance_value, ratio=ratio)
        own.append(
            SystemHardener.create(
                system=row,
                material=material,
                speed=given["speed"],
                parts_by_weight=phr_from_ratio(ratio=ratio) if worked_out else known(by_weight),
                parts_by_volume=by_volume,
                weight_worked_out=worked_out,
                cup_life=_proved(given["cup_life"]),
                tray_life=_proved(given.get("tray_life") or []),
                film_life=_proved(given.get("film_life") or []),
                blend=blend,
            )
        )
    return own


def _ratio(
    resin: Material, hardener: Material, by_weight: float | None, by_volume: float | None, limit_pct: float, at: str
) -> tuple[float, bool]:
    """Grams of hardener to a gram of resin, and whether that was worked out from millilitres and densities."""
    if by_volume is None:
        if by_weight is None:
            raise Unprocessable(
                "Give the parts of hardener by weight, or by volume, or both.", pointer=f"{at}/parts_by_weight"
            )
        return ratio_from_phr(phr=by_weight), False
    missing = [m.name for m in (resin, hardener) if m.density_g_ml is None]
    if missing:
        raise Unprocessable(
            f"A ratio by volume needs the density of {' and '.join(missing)}; enter it with the material.",
            pointer=f"{at}/parts_by_volume",
        )
    densities = {
        "resin_density_g_ml": known(resin.density_g_ml),
        "hardener_density_g_ml": known(hardener.density_g_ml),
    }
    worked_out = weight_ratio_from_volume(volume_ratio=by_volume / 100, **densities)
    if by_weight is None:
        return worked_out, True
    check = densities_agree(
        weight_ratio=by_weight / 100, volume_ratio=by_volume / 100, limit_pct=limit_pct, **densities
    )
    if not check.agrees:
        raise Unprocessable(
            f"{by_volume:g} parts by volume are {worked_out * 100:.1f} parts by weight at {resin.density_g_ml:g} and "
            f"{hardener.density_g_ml:g} g/ml, {check.deviation_pct:+.1f} % off "
            f"the {by_weight:g} stated (limit {limit_pct:g} %).",
            way_out="Read the data sheet again: ratios and densities.",
            pointer=f"{at}/parts_by_volume",
            worked_out_parts=worked_out * 100,
            deviation_pct=check.deviation_pct,
        )
    return ratio_from_phr(phr=by_weight), False


def _proved(table: Sequence[Mapping[str, float]]) -> list[dict[str, float]]:
    """A table that contradicts itself is refused when it is entered, not when a pot stands on it."""
    points = life_points(table)
    if points:
        life_min(points=points, mass_g=points[0].mass_g, temperature_c=points[0].temperature_c)
    return [dict(row) for row in table]


@operation
def approve_resin_system(work: Work, *, system: int) -> SystemView:
    """Approve a resin system: it is locked, pots can be mixed by it, and it replaces the revision before."""
    row = SYSTEMS.draft(system)
    alone = require_other_than_author(work, row, SYSTEMS.title(row))
    own = hardeners_of([row.id])[row.id]
    if row.kind == SystemKind.TWO_PART:
        for material in (row.resin, *(h.material for h in own)):
            refuse_peroxide(material)
    frozen = freeze(work, f"{row.name} revision {row.revision}", frozen_facts(row, own))
    row = SYSTEMS.approve(work, row, frozen, alone=alone)
    row.approver = work.who  # type: ignore[attr-defined]  # as a list reads it along
    approved = view_system(row, own, frozen.sha256, approver_of(row))
    if approved.sentences:
        work.note(resin_system=row.id, left_open=approved.sentences)
    return approved


def frozen_facts(row: ResinSystem, own: Sequence[SystemHardener]) -> dict[str, Any]:
    """What a pot is judged by, whatever becomes of the register later."""
    view = view_system(row, own)
    left_out = (
        "id",
        "approved_at",
        "approved_by",
        "replaced_by_id",
        "document",
        "document_sha256",
        "sentences",
        "version",
    )
    frozen = {name: getattr(view, name) for name in SystemView.__slots__ if name not in left_out}
    # As it is called in all that was frozen since the first.
    return {"revision" if name == "revision_number" else name: value for name, value in frozen.items()}


def read_system(system: int) -> SystemView:
    """One resin system."""
    row = find_system(system)
    return view_system(row, approver=approver_of(row))


def list_systems(
    *,
    after: int | None,
    limit: int,
    name: str | None = None,
    resin: int | None = None,
    approved: bool | None = None,
    current: bool | None = None,
) -> Page[SystemView]:
    """List resin systems, for instance the approved ones that no later revision replaces."""
    approver = called_then(Person, ResinSystem.approved_at).alias("approver")
    query = (
        ResinSystem.select(ResinSystem, Material, approver)
        .join(Material)
        .join_from(ResinSystem, Person, JOIN.LEFT_OUTER, on=(ResinSystem.approved_by == Person.id))
    )
    if name is not None:
        query = query.where(ResinSystem.name == name)
    if resin is not None:
        query = query.where(ResinSystem.resin == resin)
    if approved is not None:
        query = query.where(ResinSystem.approved_at.is_null(not approved))
    if current is not None:
        is_current = ResinSystem.approved_at.is_null(False) & ResinSystem.replaced_by.is_null()
        query = query.where(is_current if current else ~is_current)
    return page_of(query, ResinSystem.id, after=after, limit=limit, views=_view_systems)


def _view_systems(rows: Sequence[ResinSystem]) -> Iterator[SystemView]:
    hardeners = hardeners_of(row.id for row in rows)
    sha256 = _frozen_as(row.document_id for row in rows)
    return (view_system(row, hardeners[row.id], sha256.get(row.document_id), approver_of(row)) for row in rows)
