"""What is asked of a build check."""

from typing import Any

import marshmallow as ma

from schemas.base import In
from schemas.fields import Day, Grams, Number, Text, Whole


class BuildLineIn(ma.Schema):
    """So many parts of one design: by its number, or by part number in a revision, else the newest approved."""

    design = Whole(1)
    part_number = Text(longest=40)
    revision = Text(longest=10)
    quantity = Whole(1, 200, required=True)
    not_before = Day(metadata={"description": "They are not begun before this day; today, if left out."})
    due_on = Day(metadata={"description": "The day by whose end they have to be out of their mould."})


class ExpectedIn(ma.Schema):
    """A delivery that is on its way. What depends on it is a "yes, if"."""

    material = Whole(1, required=True)
    on = Day(required=True, metadata={"description": "The first day on which it is here and released."})
    mass_g = Grams(metadata={"description": "How much comes; of a cloth length_mm."})
    length_mm = Whole(1, 10_000_000, metadata={"description": "Of a cloth: one roll of that length."})
    expires_on = Day(metadata={"description": "Its last good day, if that is known."})


# What parts are built with, wherever a check is asked.
WITH_WHAT: dict[str, Any] = {
    "temperature_c": Number(-20, 200, required=True, metadata={"description": "Temperature of the mix."}),
    "wet_out_rate_g_min": Number(
        0.01, 100_000, required=True, metadata={"description": "What the people at the mould work in together."}
    ),
    "working_share": Number(
        0.05, 1, metadata={"description": "Share of the pot life that wetting out may take; a half if left out."}
    ),
    "hardeners": ma.fields.List(
        Whole(1),
        validate=ma.validate.Length(0, 20),
        metadata={
            "description": "The hardeners to use, by the numbers of their materials. Of a system of which none is "
            "named any will do."
        },
    ),
    "gap_mm": Whole(0, 1000, metadata={"description": "Between neighbouring pieces, for the knife; 10 if left out."}),
}


class BuildCheckIn(In):
    lines = ma.fields.List(
        ma.fields.Nested(BuildLineIn), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 lines.")
    )
    temperature_c = WITH_WHAT["temperature_c"]
    wet_out_rate_g_min = WITH_WHAT["wet_out_rate_g_min"]
    working_share = WITH_WHAT["working_share"]
    hardeners = WITH_WHAT["hardeners"]
    expected = ma.fields.List(
        ma.fields.Nested(ExpectedIn), validate=ma.validate.Length(0, 50, error="Give at most 50 deliveries.")
    )
    order = Whole(
        1,
        metadata={
            "description": "The order that this is about, by its number: its own planned parts don't come first."
        },
    )
    gap_mm = WITH_WHAT["gap_mm"]
    within_days = Whole(
        0,
        366,
        metadata={
            "description": "So many days are looked at for the earliest on which all is ready; 92 if left out, 0: not "
            "asked for."
        },
    )
    soon_days = Whole(
        0, 3650, metadata={"description": "Stock that is past its date within so many days is told; 30 if left out."}
    )
