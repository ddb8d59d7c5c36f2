"""A design from another one: of the other hand, or doubled about its midplane so that it is symmetric."""

from collections.abc import Mapping
from typing import Any

from service.formulas.symmetry import is_symmetric, mirrored
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.parts.designs import DesignView, draft_design, view_design
from service.operations.parts.plies import materials_of, stack_of
from service.records.materials import Material
from service.records.parts import Design


@operation
def mirror_design(work: Work, *, design: int, part_number: str, revision: str, name: str, about: str) -> DesignView:
    """Make a draft from a design: of the other hand, or with its plies mirrored after them, so that it is symmetric."""
    row: Design = find_row(Design, design, "design")
    if not row.plies:
        raise Unprocessable(f"{row.part_number} revision {row.revision} has no plies to mirror.", pointer="/about")
    materials = materials_of(row.plies)
    facts = ("zones", "ply_by_ply", "traceable", "schedule", "bag", "piece_spread_pct", "densities", "laminate")
    stored = {name: getattr(row, name) for name in facts}
    if about == "midplane":
        # The laminate is a new one, and so is its need of resin.
        stored |= {"plies": _doubled(row, materials), "resin_need": []}
    else:
        stored |= {"plies": [_other_hand(ply) for ply in row.plies], "resin_need": row.resin_need}
    work.note(mirrored_from=row.id, about=about)
    made = draft_design(work, part_number=part_number, revision=revision, name=name, **stored)
    return view_design(made, materials)


def _doubled(row: Design, materials: Mapping[int, Material]) -> list[dict[str, Any]]:
    """The plies, and after them their mirror image about the new midplane."""
    stack = stack_of(row.plies, materials)
    if is_symmetric(plies=stack):
        raise WrongState(
            f"{row.part_number} revision {row.revision} is symmetric already.",
            way_out="For the other hand, mirror it about the centreline.",
            answer_with={"about": "centreline"},
        )
    first = max(ply["number"] for ply in row.plies) + 1
    if first + len(row.plies) > 1001:
        raise Unprocessable("Plies are numbered up to 1000; the mirrored ones would pass that.", pointer="/about")
    images = zip(reversed(row.plies), mirrored(plies=stack), strict=True)
    return [*row.plies, *({**ply, "number": first + i, "face": image.face} for i, (ply, image) in enumerate(images))]


def _other_hand(ply: dict[str, Any]) -> dict[str, Any]:
    """A ply of the other hand: its angle changes sign, its template is turned over; order and faces stay."""
    turned = {**ply, "angle_deg": -ply["angle_deg"] if ply["angle_deg"] else 0.0}
    if ply.get("outline"):
        turned["outline"] = [(x, -y) for x, y in ply["outline"]]
        turned["holes"] = [[(x, -y) for x, y in hole] for hole in ply.get("holes") or []]
    return turned
