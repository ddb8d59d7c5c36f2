"""The pieces of a design: their area from an outline, and how much of each roll they take."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import MaterialKind
from service.formulas.nesting import Piece, Placement, RollLayout, roll_length_mm
from service.formulas.ranges import OutOfRange
from service.operations.door.rows import find_row
from service.operations.parts.designs import DesignRef, design_ref
from service.operations.parts.plies import materials_of, piece_of
from service.records.base import known
from service.records.materials import Material
from service.records.parts import Design


@dataclass(frozen=True, slots=True)
class ClothCutting:
    """What the pieces of one cloth take off a roll of its width; no length where they do not fit, and why."""

    material: int
    material_name: str
    roll_width_mm: int
    pieces: int
    length_mm: int | None
    used_area_m2: float | None
    waste_area_m2: float | None
    placements: tuple[Placement, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class CuttingView:
    """How long the cuts off the rolls are, cloth by cloth."""

    design: DesignRef
    gap_mm: int
    cloths: tuple[ClothCutting, ...]
    sentences: tuple[str, ...]


def read_cutting(design: int, *, gap_mm: int) -> CuttingView:
    """How much of each roll the plies of a design take, and where their pieces may lie on it."""
    row: Design = find_row(Design, design, "design")
    materials = materials_of(row.plies)
    by_cloth: dict[int, list[Piece]] = {}
    sentences = []
    for ply in row.plies:
        cloth = materials[ply["material"]]
        if cloth.kind != MaterialKind.FABRIC:
            continue
        piece = piece_on_roll(ply, cloth)
        if piece is None:
            sentences.append(f"Ply {ply['number']} has neither an outline nor a length: it is not in it.")
            continue
        by_cloth.setdefault(cloth.id, []).append(piece)
        if not ply.get("outline") and ply.get("width_mm") is None:
            sentences.append(f"Ply {ply['number']} has no width: it counts over the whole width of the roll.")
    cloths = tuple(_cut(materials[cloth], pieces, gap_mm) for cloth, pieces in sorted(by_cloth.items()))
    return CuttingView(design=design_ref(row), gap_mm=gap_mm, cloths=cloths, sentences=tuple(sentences))


def piece_on_roll(ply: Mapping[str, Any], cloth: Material) -> Piece | None:
    """The box that holds a piece; x of an outline runs along its grain, whole millimetres upwards."""
    if ply.get("outline"):
        found = piece_of(ply)
        length, width = math.ceil(round(found.width_mm, 3)), math.ceil(round(found.height_mm, 3))
    elif ply.get("length_mm") is not None:
        length, width = ply["length_mm"], ply.get("width_mm") or known(cloth.width_mm)
    else:
        return None
    return Piece(f"ply {ply['number']}", min(length, 100_000), width, 1, ply.get("grain") or "along")


def _cut(cloth: Material, pieces: Sequence[Piece], gap_mm: int) -> ClothCutting:
    layout: RollLayout | None = None
    try:
        layout = roll_length_mm(pieces=pieces, roll_width_mm=known(cloth.width_mm), gap_mm=gap_mm)
        count = f"{len(pieces)} piece{'s' if len(pieces) > 1 else ''}"
        sentence = (
            f"{cloth.name}: {layout.length_mm / 1000:.2f} m off a roll of {cloth.width_mm} mm for {count}, of which "
            f"{layout.waste_area_m2 / (layout.used_area_m2 + layout.waste_area_m2):.0%} is waste. "
            "A layout that works; a shorter one may exist."
        )
    except OutOfRange as wrong:
        sentence = f"{cloth.name}: {wrong}"
    return ClothCutting(
        material=cloth.id,
        material_name=cloth.name,
        roll_width_mm=known(cloth.width_mm),
        pieces=len(pieces),
        length_mm=layout.length_mm if layout else None,
        used_area_m2=round(layout.used_area_m2, 4) if layout else None,
        waste_area_m2=round(layout.waste_area_m2, 4) if layout else None,
        placements=layout.placements if layout else (),
        sentence=sentence,
    )
