"""Kits of cut fabric."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Grams, Whole, Word
from schemas.words import KitState


class CutIn(ma.Schema):
    """One length off a roll: cut = kit + waste + offcut."""

    roll = Code("C", required=True)
    length_mm = Whole(1, 10_000_000, required=True, metadata={"description": "What goes into the kit."})
    waste_mm = Whole(0, 10_000_000, load_default=0)
    offcut_mm = Whole(
        0, 10_000_000, load_default=0, metadata={"description": "What goes back on the shelf with a code."}
    )
    plies = ma.fields.List(
        Whole(1, 1000),
        validate=ma.validate.Length(0, 500),
        metadata={"description": "The design's plies that lie in it; all of this cloth if left out."},
    )


class KitIn(ActIn):
    EXAMPLE = {
        "design": 3,
        "cuts": [{"roll": "C003183", "length_mm": 1800, "waste_mm": 60, "offcut_mm": 240, "plies": [1, 2]}],
        "mass_g": 171.5,
    }
    design = Whole(1)
    cuts = ma.fields.List(
        ma.fields.Nested(CutIn), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 cuts.")
    )
    mass_g = Grams(metadata={"description": "The kit weighed, without its bag."})


class KitQuery(PageIn):
    design = Whole(1)
    state = Word(KitState)
