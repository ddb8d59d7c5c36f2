"""Scales and their check weights."""

import marshmallow as ma

from schemas.base import ActIn, Out
from schemas.fields import Grams, Moment, Text, Whole
from schemas.items import HoldRef


class ScaleIn(ActIn):
    EXAMPLE = {
        "name": "Bench scale",
        "interval_g": 0.1,
        "repeatability_g": 0.05,
        "maximum_g": 6000,
        "check_every_days": 1,
    }
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


class ScaleCheckIn(ActIn):
    EXAMPLE = {"weight": "W-500-1", "nominal_g": 500, "reading_g": 500.1, "limit_g": 0.2}
    weight = Text(required=True, longest=60, metadata={"description": "Which check weight."})
    nominal_g = Grams(required=True)
    reading_g = Grams(low=0, required=True)
    limit_g = Grams(required=True, metadata={"description": "How far the reading may be off."})


class ScaleCheckOut(Out):
    EXAMPLE = {
        "weight": "W-500-1",
        "nominal_g": 500,
        "reading_g": 500.1,
        "limit_g": 0.2,
        "passed": True,
        "occurred_at": "2026-11-03T08:00:00Z",
        "by": "Ida Holm",
    }
    weight = ma.fields.String()
    nominal_g = Grams()
    reading_g = Grams()
    limit_g = Grams()
    passed = ma.fields.Boolean()
    occurred_at = Moment()
    by = ma.fields.String()


class HonestPotOut(Out):
    system = ma.fields.Integer()
    system_name = ma.fields.String()
    hardener = ma.fields.Integer()
    hardener_name = ma.fields.String()
    smallest_pot_g = Grams(
        metadata={"description": "From here on the scale knows the ratio to a third of its tolerance, zeroed."}
    )
    too_large = ma.fields.Boolean(
        metadata={"description": "The scale or the system takes no pot of that size: take a finer scale."}
    )


class ScaleOut(Out):
    EXAMPLE = {
        "code": "S00001K",
        "name": "Bench scale",
        "state": "in use",
        "interval_g": 0.1,
        "repeatability_g": 0.05,
        "maximum_g": 6000,
        "minimum_mass_g": 10,
        "honest_pots": [
            {
                "system": 1,
                "system_name": "Alder 10",
                "hardener": 2,
                "hardener_name": "Alder 32 slow hardener",
                "smallest_pot_g": 95.931,
                "too_large": False,
            }
        ],
        "check_every_days": 1,
        "check_state": "in order",
        "check_sentence": "Passed on 3 Nov 2026; next check by 4 Nov 2026.",
        "check_due_on": "2026-11-04",
        "usable": True,
        "affected": [],
        "version": 2,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    interval_g = Grams()
    repeatability_g = Grams()
    maximum_g = Grams()
    minimum_mass_g = Grams(metadata={"description": "Smallest single mass that it knows to 1 %, k = 2."})
    honest_pots = ma.fields.List(
        ma.fields.Nested(HonestPotOut),
        metadata={"description": "The smallest pot it can weigh honestly, of each approved system and hardener."},
    )
    check_every_days = ma.fields.Integer(allow_none=True)
    check_state = ma.fields.String(metadata={"description": "in order, overdue, failed, or not asked."})
    check_sentence = ma.fields.String()
    check_due_on = ma.fields.Date(allow_none=True)
    last_check = ma.fields.Nested(ScaleCheckOut, allow_none=True)
    usable = ma.fields.Boolean(metadata={"description": "Whether a pot may be started on it now."})
    affected = ma.fields.List(
        ma.fields.String(), metadata={"description": "Pots put on hold because its check failed, in that answer only."}
    )
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    version = ma.fields.Integer()
