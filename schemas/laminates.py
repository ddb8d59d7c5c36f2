"""What is worked out of a design: its cuts off the roll, its thickness, its need of resin, its mirror image."""

import marshmallow as ma

from schemas.base import ActIn, Out, QueryIn
from schemas.designs import DesignRefOut
from schemas.fields import Text, Whole, Word
from schemas.words import MirrorAbout


class MirrorIn(ActIn):
    EXAMPLE = {"part_number": "HY-205", "revision": "A", "name": "Tiller blade, starboard half", "about": "centreline"}
    part_number = Text(required=True, longest=40)
    revision = Text(required=True, longest=10)
    name = Text(required=True, longest=80)
    about = Word(
        MirrorAbout,
        required=True,
        metadata={
            "description": "centreline: the other hand, angles with the other sign, templates turned over. midplane: "
            "the plies and after them their mirror image, which makes the laminate symmetric; its need of resin is new."
        },
    )


class CuttingQuery(QueryIn):
    gap_mm = Whole(0, 1000, load_default=10, metadata={"description": "Between neighbouring pieces, for the knife."})


class PlacementOut(Out):
    """Where a piece lies: its corner and its size, across the roll and along it."""

    name = ma.fields.String()
    across_mm = ma.fields.Integer()
    along_mm = ma.fields.Integer()
    size_across_mm = ma.fields.Integer()
    size_along_mm = ma.fields.Integer()


class ClothCuttingOut(Out):
    material = ma.fields.Integer()
    material_name = ma.fields.String()
    roll_width_mm = ma.fields.Integer()
    pieces = ma.fields.Integer()
    length_mm = ma.fields.Integer(allow_none=True)
    used_area_m2 = ma.fields.Float(allow_none=True)
    waste_area_m2 = ma.fields.Float(allow_none=True)
    placements = ma.fields.List(ma.fields.Nested(PlacementOut))
    sentence = ma.fields.String()


class CuttingOut(Out):
    EXAMPLE = {
        "design": {"id": 3, "part_number": "HY-204", "revision": "B", "name": "Tiller blade, port half"},
        "gap_mm": 10,
        "cloths": [
            {
                "material": 5,
                "material_name": "Glass twill 280",
                "roll_width_mm": 1000,
                "pieces": 1,
                "length_mm": 600,
                "used_area_m2": 0.24,
                "waste_area_m2": 0.36,
                "placements": [
                    {"name": "ply 1", "across_mm": 0, "along_mm": 0, "size_across_mm": 400, "size_along_mm": 600}
                ],
                "sentence": "Glass twill 280: 0.60 m off a roll of 1000 mm for 1 piece, of which 60% is waste.",
            }
        ],
        "sentences": [],
    }
    design = ma.fields.Nested(DesignRefOut)
    gap_mm = ma.fields.Integer()
    cloths = ma.fields.List(ma.fields.Nested(ClothCuttingOut))
    sentences = ma.fields.List(ma.fields.String())


class PlyThicknessOut(Out):
    number = ma.fields.Integer()
    material_name = ma.fields.String()
    zone = ma.fields.String(allow_none=True)
    thickness_mm = ma.fields.Float(allow_none=True)
    worked_out_from = ma.fields.String(allow_none=True)


class StackOut(Out):
    """The plies that lie one on another in a zone."""

    zone = ma.fields.String(allow_none=True)
    plies = ma.fields.Integer()
    thickness_mm = ma.fields.Float(allow_none=True, metadata={"description": "Without gel coat and core."})
    symmetric = ma.fields.Boolean()
    balanced = ma.fields.Boolean()


class NeedComparedOut(Out):
    purposes = ma.fields.List(ma.fields.String())
    worked_out_g = ma.fields.Float()
    planned_g = ma.fields.Float(allow_none=True)
    difference_pct = ma.fields.Float(allow_none=True)
    sentence = ma.fields.String()


class LaminateOut(Out):
    EXAMPLE = {
        "design": {"id": 3, "part_number": "HY-204", "revision": "B", "name": "Tiller blade, port half"},
        "process": "hand lay-up, then vacuum",
        "fibre_mass_fraction": 0.5,
        "fibre_volume_fraction": 0.3117,
        "plies": [
            {
                "number": 1,
                "material_name": "Glass twill 280",
                "zone": None,
                "thickness_mm": 0.354,
                "worked_out_from": "density and volume fraction of the fibre",
            }
        ],
        "stacks": [{"zone": None, "plies": 1, "thickness_mm": 0.35, "symmetric": True, "balanced": True}],
        "thickness": "Worked out for 50% by mass and 31% by volume of fibre: 0.35 mm thick.",
        "fibre_g": 117.6,
        "uptake_g": 16.8,
        "needs": [],
        "sentences": ["Resin coat and wet-out: 140 g is worked out; the design plans 150 g, 7 % more."],
    }
    design = ma.fields.Nested(DesignRefOut)
    process = ma.fields.String(allow_none=True)
    fibre_mass_fraction = ma.fields.Float(allow_none=True)
    fibre_volume_fraction = ma.fields.Float(allow_none=True)
    plies = ma.fields.List(ma.fields.Nested(PlyThicknessOut))
    stacks = ma.fields.List(ma.fields.Nested(StackOut))
    thickness = ma.fields.String(
        allow_none=True, metadata={"description": "In one sentence; in the part's record too."}
    )
    fibre_g = ma.fields.Float(allow_none=True)
    uptake_g = ma.fields.Float(allow_none=True)
    needs = ma.fields.List(ma.fields.Nested(NeedComparedOut))
    sentences = ma.fields.List(ma.fields.String())
