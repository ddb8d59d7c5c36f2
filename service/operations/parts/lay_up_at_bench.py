"""A lay-up as the one who lays it needs it: the ply that is next, how it lies, and what was laid before."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import Face, Kind, PartState
from service.operations.ledger import ledger
from service.operations.parts.part import load_part
from service.operations.parts.plies import materials_of
from service.operations.parts.view import LaidView, ply_laid
from service.records.base import as_word

# More than these are not looked at while the next one is laid.
_LATEST = 4


@dataclass(frozen=True, slots=True)
class NextPly:
    """The ply that is to be laid now, as the design has it.

    Attributes
    ----------
    angle_deg
        From the design's reference line, counterclockwise, seen from the tool's open side.
    """

    number: int
    material: str
    areal_weight_g_m2: float | None
    angle_deg: float
    face: Face | None
    zone: str | None
    length_mm: int | None


@dataclass(frozen=True, slots=True)
class LayUpAtBench:
    """A part in its mould, ply by ply.

    Attributes
    ----------
    plies
        The design's plies in the order of laying, each with whether it was laid.
    source
        What the last ply was laid from: a roll, or a kit.
    laid
        The latest, newest first.
    """

    code: str
    name: str
    state: PartState
    part_number: str
    revision: str
    plies: tuple[tuple[int, bool], ...]
    next: NextPly | None
    source: str | None
    laid: tuple[LaidView, ...]


def lay_up_at_bench(part: str) -> LayUpAtBench:
    """The part with its next ply."""
    held = load_part(ledger.find(part, Kind.PART))
    missing = set(held.missing)
    latest = held.plies[-_LATEST:][::-1]
    return LayUpAtBench(
        code=held.item.code,
        name=held.item.name,
        state=as_word(PartState, held.item.state),
        part_number=held.design.part_number,
        revision=held.design.revision,
        plies=tuple((ply["number"], ply["number"] not in missing) for ply in held.design.plies),
        next=_next(held.design.plies, held.missing),
        source=latest[0].source if latest else None,
        laid=tuple(ply_laid(one) for one in latest),
    )


def _next(plies: Sequence[dict[str, Any]], missing: Sequence[int]) -> NextPly | None:
    if not missing:
        return None
    ply = next(one for one in plies if one["number"] == missing[0])
    material = materials_of([ply])[ply["material"]]
    return NextPly(
        number=ply["number"],
        material=material.name,
        areal_weight_g_m2=material.areal_weight_g_m2,
        angle_deg=ply["angle_deg"],
        face=as_word(Face, ply.get("face")),
        zone=ply.get("zone"),
        length_mm=ply.get("length_mm"),
    )
