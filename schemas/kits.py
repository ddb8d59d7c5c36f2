"""Kits of cut fabric."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.designs import DesignRefOut
from schemas.fields import Code, Grams, Moment, Whole, Word
from schemas.items import HoldRef
from schemas.words import State


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


class CutOut(Out):
    roll = ma.fields.String()
    material = ma.fields.String()
    lot = ma.fields.String()
    makers_lot = ma.fields.String(allow_none=True)
    length_mm = ma.fields.Integer()
    waste_mm = ma.fields.Integer()
    offcut_mm = ma.fields.Integer()
    offcut = ma.fields.String(allow_none=True)
    plies = ma.fields.List(ma.fields.Integer())


class KitOut(Out):
    EXAMPLE = {
        "code": "K00019V",
        "name": "Tiller blade, port half",
        "state": "cut",
        "design": {"id": 3, "part_number": "HY-204", "revision": "B", "name": "Tiller blade, port half"},
        "cut_at": "2026-11-03T07:50:00Z",
        "cut_by": "Ida Holm",
        "mass_g": 171.5,
        "expected_g": 168.0,
        "spread_g": 6.1,
        "doubtful": False,
        "plies": [1, 2],
        "part": None,
        "version": 2,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    design = ma.fields.Nested(DesignRefOut, allow_none=True)
    cut_at = Moment()
    cut_by = ma.fields.String()
    mass_g = Grams(allow_none=True)
    expected_g = ma.fields.Float(allow_none=True)
    spread_g = ma.fields.Float(allow_none=True)
    doubtful = ma.fields.Boolean(
        allow_none=True, metadata={"description": "A ply may be missing or there twice; nothing if it was not weighed."}
    )
    weighed = ma.fields.String(allow_none=True, metadata={"description": "What its mass says, in a sentence."})
    cuts = ma.fields.List(ma.fields.Nested(CutOut))
    plies = ma.fields.List(ma.fields.Integer())
    part = ma.fields.String(allow_none=True, metadata={"description": "The part that it was laid into."})
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    version = ma.fields.Integer()


class KitQuery(PageIn):
    design = Whole(1)
    state = Word(State)
