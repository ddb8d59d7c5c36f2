"""What a design is checked for: is all there that it names, is it symmetric and balanced, what does its kit weigh."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import FabricForm, Face, Grain, MaterialKind
from service.formulas.kits import KitMass, PieceMass, kit_mass
from service.formulas.outline import OutlineArea, outline_area
from service.formulas.ranges import OutOfRange
from service.formulas.symmetry import LaminateCheck, Ply, Weave, check_laminate
from service.operations.door.formerly import facts_then, read_then
from service.operations.door.refusals import Unprocessable
from service.records.base import known
from service.records.cures import Schedule
from service.records.materials import Material, ResinSystem
from service.records.parts import Design

# A multiaxial is taken as two stitched layers at right angles.
_WEAVES: dict[str, Weave] = {
    FabricForm.WOVEN: "woven",
    FabricForm.UNIDIRECTIONAL: "unidirectional",
    FabricForm.MULTIAXIAL: "biaxial",
    FabricForm.MAT: "mat",
}


# As for an area that is given.
_LEAST_M2, _MOST_M2 = 0.0001, 1000


@dataclass(frozen=True, slots=True)
class DesignPly:
    """One ply as designed, with the cloth's own name.

    Attributes
    ----------
    area_m2
        As cut.
    """

    number: int
    material: int
    material_name: str
    areal_weight_g_m2: float
    angle_deg: float
    face: Face | None
    area_m2: float
    length_mm: int | None
    zone: str | None
    width_mm: int | None = None
    outline: tuple[tuple[float, float], ...] | None = None
    holes: tuple[tuple[tuple[float, float], ...], ...] = ()
    allowance_mm: float | None = None
    grain: Grain | None = None


def piece_of(ply: Mapping[str, Any]) -> OutlineArea:
    """Area and size of a ply that has an outline."""
    return outline_area(
        outline=ply["outline"], holes=ply.get("holes") or (), allowance_mm=ply.get("allowance_mm") or 0.0
    )


def with_areas(plies: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The plies as they are kept: one that has an outline has its area from it, as cut."""
    kept = []
    for index, ply in enumerate(plies):
        at = f"/plies/{index}"
        if (ply.get("area_m2") is None) == (not ply.get("outline")):
            raise Unprocessable("Give the area of a ply or its outline, one of the two.", pointer=f"{at}/area_m2")
        if ply.get("outline"):
            try:
                found = piece_of(ply)
            except OutOfRange as wrong:
                field = wrong.argument.partition("[")[0].partition(" ")[0]
                raise Unprocessable(str(wrong), pointer=f"{at}/{field}") from None
            if not _LEAST_M2 <= found.cut_m2 <= _MOST_M2:
                sentence = f"The outline has {found.cut_m2:g} m²; a ply has {_LEAST_M2:g} to {_MOST_M2:g} m²."
                raise Unprocessable(sentence, pointer=f"{at}/outline")
            ply = {**ply, "area_m2": round(found.cut_m2, 6)}
        elif ply.get("holes") or ply.get("allowance_mm") is not None:
            raise Unprocessable("Holes and an allowance belong to an outline.", pointer=f"{at}/outline")
        kept.append(ply)
    return kept


def check_references(facts: dict[str, Any]) -> dict[int, Material]:
    """The materials of a design; refuse one that names what is not there, or names the same thing twice."""
    zones = facts.get("zones") or []
    if len(set(zones)) != len(zones):
        raise Unprocessable("Each zone is named once.", pointer="/zones")
    materials = materials_of(facts["plies"])
    _check_plies(facts["plies"], zones, materials)
    seen = set()
    for index, need in enumerate(facts["resin_need"]):
        if not ResinSystem.select().where(ResinSystem.name == need["system"]).exists():
            raise Unprocessable(
                f"There is no resin system {need['system']} here.", pointer=f"/resin_need/{index}/system"
            )
        if (need["purpose"], need["system"]) in seen:
            raise Unprocessable("Each purpose and system stands once.", pointer=f"/resin_need/{index}")
        seen.add((need["purpose"], need["system"]))
    schedule = facts.get("schedule")
    if schedule is not None and not Schedule.select().where(Schedule.name == schedule).exists():
        raise Unprocessable(f"There is no cure schedule {schedule} here.", pointer="/schedule")
    return materials


def _check_plies(plies: Sequence[dict[str, Any]], zones: Sequence[str], materials: Mapping[int, Material]) -> None:
    seen: set[int] = set()
    for index, ply in enumerate(plies):
        at = f"/plies/{index}"
        material = materials.get(ply["material"])
        if ply["number"] in seen:
            raise Unprocessable(f"Ply {ply['number']} stands there twice.", pointer=f"{at}/number")
        seen.add(ply["number"])
        if material is None:
            raise Unprocessable(f"There is no material {ply['material']} here.", pointer=f"{at}/material")
        if material.kind not in (MaterialKind.FABRIC, MaterialKind.CORE):
            raise Unprocessable(f"A ply is of fabric or core, {material.name} is not.", pointer=f"{at}/material")
        if material.areal_weight_g_m2 is None:
            raise Unprocessable(f"{material.name} has no areal weight yet; add it first.", pointer=f"{at}/material")
        if material.form == FabricForm.MULTIAXIAL and ply.get("face") is None:
            raise Unprocessable(
                "The two sides of a multiaxial cloth differ; say where its face looks.", pointer=f"{at}/face"
            )
        if ply.get("zone") is not None and ply["zone"] not in zones:
            raise Unprocessable(f"{ply['zone']} is none of the design's zones.", pointer=f"{at}/zone")


def materials_of(plies: Iterable[dict[str, Any]], *, at: datetime | None = None) -> dict[int, Material]:
    """The materials of plies: as they are known now, or for an approved design as they were when it was approved."""
    numbers = {p["material"] for p in plies}
    if not numbers:
        return {}
    if at is None:
        return {m.id: m for m in Material.select().where(Material.id.in_(numbers))}
    rows: Any = Material.select(Material, facts_then(Material, at).alias("then")).where(Material.id.in_(numbers))
    return {m.id: read_then(m, m.then) for m in rows}


def laminate_check(design: Design, materials: Mapping[int, Material]) -> LaminateCheck | None:
    """Whether the laminate is symmetric and balanced (shop rule 31); nothing where there are no plies."""
    return check_laminate(plies=stack_of(design.plies, materials)) if design.plies else None


def stack_of(plies: Iterable[Mapping[str, Any]], materials: Mapping[int, Material]) -> tuple[Ply, ...]:
    """The plies as the theory of laminates sees them."""
    return tuple(
        Ply(
            material_name=materials[p["material"]].name,
            areal_weight_g_m2=known(materials[p["material"]].areal_weight_g_m2),
            angle_deg=p["angle_deg"],
            face=p.get("face"),
            weave=_WEAVES.get(materials[p["material"]].form or "", "mat"),
        )
        for p in plies
    )


def expected_kit(
    design: Design, materials: Mapping[int, Material], numbers: Iterable[int] | None = None
) -> KitMass | None:
    """What the fabric of these plies (of all, if none are named) should weigh; a ply named twice counts twice."""
    by_number = {p["number"]: p for p in design.plies}
    chosen = by_number.values() if numbers is None else [by_number[n] for n in numbers if n in by_number]
    pieces = [
        PieceMass(
            area_m2=p["area_m2"],
            areal_weight_g_m2=known(materials[p["material"]].areal_weight_g_m2),
            areal_weight_spread_pct=design.piece_spread_pct or 0.0,
        )
        for p in chosen
        if materials[p["material"]].kind == MaterialKind.FABRIC
    ]
    return kit_mass(pieces=pieces) if pieces else None


def ply_views(design: Design, materials: Mapping[int, Material]) -> tuple[DesignPly, ...]:
    return tuple(
        DesignPly(
            number=p["number"],
            material=p["material"],
            material_name=materials[p["material"]].name,
            areal_weight_g_m2=known(materials[p["material"]].areal_weight_g_m2),
            angle_deg=p["angle_deg"],
            face=p.get("face"),
            area_m2=p["area_m2"],
            length_mm=p.get("length_mm"),
            width_mm=p.get("width_mm"),
            outline=_corners(p.get("outline")),
            holes=tuple(_corners(hole) or () for hole in p.get("holes") or ()),
            allowance_mm=p.get("allowance_mm"),
            grain=p.get("grain"),
            zone=p.get("zone"),
        )
        for p in design.plies
    )


def _corners(outline: Sequence[Sequence[float]] | None) -> tuple[tuple[float, float], ...] | None:
    return tuple((x, y) for x, y in outline) if outline else None


def turn_of(material: Material) -> int:
    """The turn after which a cloth lies as before: a weave after 90°, a mat at any angle."""
    if material.form is None:
        return 0
    return {FabricForm.WOVEN: 90, FabricForm.MAT: 0}.get(FabricForm(material.form), 180)
