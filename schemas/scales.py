"""Scales and their check weights."""

import marshmallow as ma

from schemas.base import ActIn
from schemas.fields import Grams, Number, Text, Whole


class ScaleIn(ActIn):
    name = Text(required=True, longest=60)
    interval_g = Grams(required=True, high=1000, metadata={"description": "Step of the display."})
    repeatability_g = Grams(
        low=0,
        high=1000,
        required=True,
        metadata={"description": "Standard deviation of repeated readings; 0 if not known."},
    )
    maximum_g = Grams(required=True)
    check_every_days = Whole(1, 3650, allow_none=True, metadata={"description": "How often it is checked, if it is."})


class MeasureIn(ActIn):
    EXAMPLE = {"name": "Catalyst measure 50 ml", "step_ml": 1, "capacity_ml": 50}
    name = Text(required=True, longest=60)
    step_ml = Number(0.01, 1000, required=True, metadata={"description": "From one line to the next."})
    capacity_ml = Number(0.1, 100_000, required=True)


class ScaleCheckIn(ActIn):
    weight = Text(required=True, longest=60, metadata={"description": "Which check weight."})
    nominal_g = Grams(required=True)
    reading_g = Grams(low=0, required=True)
    limit_g = Grams(required=True, metadata={"description": "How far the reading may be off."})


class PumpIn(ActIn):
    EXAMPLE = {"name": "Resin pump 1", "check_every_days": 1}
    name = Text(required=True, longest=60)
    check_every_days = Whole(1, 31, metadata={"description": "How often its shots are weighed; every day if left out."})


class ShotIn(ma.Schema):
    """One stroke of each side, weighed apart."""

    resin_g = Grams(required=True, high=100_000)
    hardener_g = Grams(required=True, high=100_000)


class PumpCheckIn(ActIn):
    EXAMPLE = {
        "system": 1,
        "hardener": 2,
        "pairs": [{"resin_g": 19.1, "hardener_g": 5.2}, *[{"resin_g": 20.1, "hardener_g": 6.0}] * 5],
    }
    system = Whole(1, required=True)
    hardener = Whole(1, required=True, metadata={"description": "By the number of its material."})
    pairs = ma.fields.List(
        ma.fields.Nested(ShotIn),
        required=True,
        validate=ma.validate.Length(6, 100, error="Weigh 6 to 100 pairs of shots; the first is left out."),
        metadata={"description": "As they came, the first after standing first; that one is left out."},
    )
    resin_density_g_ml = Number(0.5, 5, metadata={"description": "At its temperature; the material's if left out."})
    hardener_density_g_ml = Number(0.5, 5)


class HoseIn(ActIn):
    EXAMPLE = {"remark": "new hose on the hardener's side"}
    remark = Text(required=True, longest=200)


class ReadingIn(ActIn):
    line = Text(required=True, longest=100, metadata={"description": "As the scale sent it, without its line end."})


class LineFormatIn(ActIn):
    line_format = Text(
        longest=80,
        metadata={
            "description": "How a line of a settled reading is written: `{number}` and `{unit}` stand for theirs, "
            "`*` for anything. Left out: in the usual way."
        },
    )
