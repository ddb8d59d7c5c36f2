"""What is to be built: lines of a check with their designs, and the cloth that a part of each takes."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from schemas.words import MaterialKind
from service.formulas.nesting import Piece, roll_length_mm
from service.formulas.ranges import OutOfRange
from service.operations.door.refusals import Unprocessable
from service.operations.parts.cutting import piece_on_roll
from service.operations.parts.designs import DESIGNS, DesignRef, design_ref
from service.operations.parts.plies import materials_of
from service.records.base import known
from service.records.materials import Material
from service.records.parts import Design

MOST_PARTS = 200
"""So many parts are looked at in one check."""


@dataclass(frozen=True, slots=True)
class Line:
    """So many parts of one design, not before a day and by another; ``refused`` says why none may be started."""

    number: int
    design: Design
    quantity: int
    not_before: date | None
    due_on: date | None
    refused: str | None
    # Its materials are reserved: it is only given its days.
    reserved: bool = False

    @property
    def ref(self) -> DesignRef:
        return design_ref(self.design)


@dataclass(frozen=True, slots=True)
class Cloth:
    """What one part takes of one cloth.

    ``length_mm`` is that of a layout of all its pieces, nothing where none was found; ``strips_mm`` what each takes cut
    by itself. ``area_mm`` is the length that their area alone comes to. Where all are boxes and no two lie side by side
    on the roll, ``strips_alone``: there is no other way to lay them, and a no is proved by them. ``unknown`` names
    plies that cannot be told.
    """

    material: Material
    length_mm: int | None
    strips_mm: tuple[int, ...]
    area_mm: int
    strips_alone: bool
    unknown: tuple[int, ...] = ()


def find_lines(asked: Sequence[Mapping[str, Any]]) -> list[Line]:
    """The designs that are meant, in one statement: by number, or by part number and revision, else the newest."""
    numbers = {line["design"] for line in asked if line.get("design") is not None}
    names = {line["part_number"] for line in asked if line.get("part_number") is not None}
    rows = list(Design.select().where(Design.id.in_(numbers) | Design.part_number.in_(names)))
    lines = [_line(index, line, rows) for index, line in enumerate(asked)]
    if sum(line.quantity for line in lines) > MOST_PARTS:
        raise Unprocessable(f"Ask for at most {MOST_PARTS} parts in one check.", pointer="/lines")
    return lines


def _line(index: int, asked: Mapping[str, Any], rows: Sequence[Design]) -> Line:
    at = f"/lines/{index}"
    number, name, revision = asked.get("design"), asked.get("part_number"), asked.get("revision")
    if (number is None) == (name is None):
        raise Unprocessable("Give the design's number, or its part number and revision.", pointer=f"{at}/design")
    if number is not None:
        found = [row for row in rows if row.id == number]
        if not found:
            raise Unprocessable(f"There is no design {number} here.", pointer=f"{at}/design")
    else:
        found = [row for row in rows if row.part_number == name and revision in (None, row.revision)]
        if not found:
            which = f"revision {revision} of {name}" if revision is not None else f"design of {name}"
            raise Unprocessable(f"There is no {which} here.", pointer=f"{at}/part_number")
    begins, due = asked.get("not_before"), asked.get("due_on")
    if begins is not None and due is not None and due < begins:
        raise Unprocessable("It is due before it may be begun.", pointer=f"{at}/due_on")
    # As a start takes it: the one approved last.
    approved = [row for row in found if row.approved_at is not None]
    row = (
        max(approved, key=lambda one: (known(one.approved_at), one.id))
        if approved
        else max(found, key=lambda one: one.id)
    )
    refused = None if approved else f"{DESIGNS.title(row)} is still a draft; the lead or quality approves it first."
    return Line(index + 1, row, asked["quantity"], begins, due, refused)


def cloths_of(
    designs: Sequence[Design], *, gap_mm: int, materials: Mapping[int, Material] | None = None
) -> dict[int, tuple[Cloth, ...]]:
    """The cloth that a part of each design takes; a core is not cut from a roll and not in it.

    ``materials`` are those of their plies, where they are at hand.
    """
    if materials is None:
        materials = materials_of([ply for design in designs for ply in design.plies])
    found: dict[int, tuple[Cloth, ...]] = {}
    for design in designs:
        plies: dict[int, list[dict[str, Any]]] = {}
        for ply in design.plies:
            if materials[ply["material"]].kind == MaterialKind.FABRIC:
                plies.setdefault(ply["material"], []).append(ply)
        found[design.id] = tuple(_cloth(materials[number], own, gap_mm) for number, own in sorted(plies.items()))
    return found


def cores_of(designs: Sequence[Design]) -> list[str]:
    """The cores that are asked for; how much of one a part takes no design says."""
    materials = materials_of([ply for design in designs for ply in design.plies])
    return sorted({m.name for m in materials.values() if m.kind == MaterialKind.CORE})


def _cloth(material: Material, plies: Sequence[Mapping[str, Any]], gap_mm: int) -> Cloth:
    width = known(material.width_mm)
    told = [(ply["number"], piece_on_roll(ply, material)) for ply in plies]
    pieces = [piece for _, piece in told if piece is not None]
    unknown = tuple(number for number, piece in told if piece is None)
    strips, across = [], []
    for piece in pieces:
        ways = {"along": [(piece.length_mm, piece.width_mm)], "across": [(piece.width_mm, piece.length_mm)]}
        may = [way for grain in ("along", "across") if piece.grain in (grain, "any") for way in ways[grain]]
        fits = [way for way in may if way[1] <= width]
        # A piece that is wider than the roll fits no roll of it.
        strips.append(min((way[0] for way in fits), default=10**9))
        across.append(min(way[1] for way in may))
    narrow = sorted(across)[:2]
    boxes = not any(ply.get("outline") for ply in plies)
    area_mm2 = sum(
        piece.length_mm * piece.width_mm if not ply.get("outline") else ply["area_m2"] * 1e6
        for ply, (_, piece) in zip(plies, told, strict=True)
        if piece is not None
    )
    return Cloth(
        material=material,
        length_mm=_layout(tuple(pieces), width, gap_mm) if pieces and not unknown else None,
        strips_mm=tuple(strips),
        area_mm=math.ceil(area_mm2 / width - 1e-6),
        strips_alone=boxes and not (len(narrow) == 2 and sum(narrow) <= width),
        unknown=unknown,
    )


@lru_cache(maxsize=512)
def _layout(pieces: tuple[Piece, ...], width: int, gap_mm: int) -> int | None:
    """The length of a layout of these pieces. Of 200 it takes more than a second, and an approved design stays."""
    try:
        return roll_length_mm(pieces=pieces, roll_width_mm=width, gap_mm=gap_mm).length_mm
    except OutOfRange:
        return None
