"""Scales and their check weights."""

from schemas.base import ActIn
from schemas.fields import Grams, Text, Whole


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
