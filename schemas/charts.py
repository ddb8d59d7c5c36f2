"""Run charts of the weighed ratio."""

import marshmallow as ma

from schemas.base import Out, QueryIn
from schemas.fields import Code, Moment, Whole


class RatioChartQuery(QueryIn):
    """Which pots; all of the shop's, if nothing is said."""

    scale = Code("S", metadata={"description": "Only pots weighed on this scale."})
    person = Whole(1, metadata={"description": "Only pots in which this person poured."})
    system = Whole(1, metadata={"description": "Only pots of this version of a resin system."})
    last = Whole(5, 500, load_default=50, metadata={"description": "How many pots, the latest first."})


class ChartPointOut(ma.Schema):
    mix = ma.fields.String(required=True)
    occurred_at = Moment(required=True)
    deviation_pct = ma.fields.Float(required=True, metadata={"description": "Above zero: more hardener than stated."})
    tolerance_pct = ma.fields.Float(required=True)
    verdict = ma.fields.String(required=True, allow_none=True)
    average_pct = ma.fields.Float(
        required=True, allow_none=True, metadata={"description": "Exponentially weighted average up to this pot."}
    )
    stands_out = ma.fields.Boolean(required=True, allow_none=True)
    drifts = ma.fields.Boolean(required=True, allow_none=True)


class LimitsOut(ma.Schema):
    mean_pct = ma.fields.Float(required=True)
    lower_pct = ma.fields.Float(required=True)
    upper_pct = ma.fields.Float(required=True)
    mean_moving_range_pct = ma.fields.Float(required=True)
    moving_range_upper_pct = ma.fields.Float(required=True)
    stand_out = ma.fields.List(ma.fields.String(), required=True, metadata={"description": "Pots beyond the limits."})
    jumps = ma.fields.List(
        ma.fields.String(), required=True, metadata={"description": "Pots too far from the pot before them."}
    )


class DriftOut(ma.Schema):
    lower_pct = ma.fields.Float(required=True)
    upper_pct = ma.fields.Float(required=True)
    weight = ma.fields.Float(required=True)
    outside = ma.fields.List(ma.fields.String(), required=True)


class AbilityOut(ma.Schema):
    tolerance_pct = ma.fields.Float(required=True)
    standard_deviation_pct = ma.fields.Float(required=True)
    cp = ma.fields.Float(required=True)
    cpk = ma.fields.Float(required=True)


class RatioChartOut(Out):
    title = ma.fields.String(required=True)
    points = ma.fields.List(ma.fields.Nested(ChartPointOut), required=True)
    limits = ma.fields.Nested(LimitsOut, required=True, allow_none=True)
    drift = ma.fields.Nested(DriftOut, required=True, allow_none=True)
    capability = ma.fields.Nested(AbilityOut, required=True, allow_none=True)
    sentences = ma.fields.List(ma.fields.String(), required=True)

    EXAMPLE = {
        "title": "Ratio of the last 2 pots, weighed on Bench scale",
        "points": [
            {"mix": mix, "occurred_at": f"2026-11-0{day}T09:12:00Z", "deviation_pct": deviation, "tolerance_pct": 2.0,
             "verdict": "within", "average_pct": None, "stands_out": None, "drifts": None}
            for mix, day, deviation in (("M00040K", 2, 0.4), ("M00042G", 3, -0.7))
        ],
        "limits": None,
        "drift": None,
        "capability": None,
        "sentences": ["There are 2 pots with a ratio to chart; a chart needs at least 5."],
    }  # fmt: skip
