"""What the shelf can give, and how many pots a job takes."""

import marshmallow as ma

from schemas.base import In, Out, QueryIn
from schemas.fields import Code, Grams, Number, Whole


class AvailabilityQuery(QueryIn):
    material = Whole(1)
    system = Whole(1, metadata={"description": "A resin system instead of a material."})
    hardener = Whole(1, metadata={"description": "Its hardener, by the number of the material."})
    mass_g = Grams(high=1_000_000, metadata={"description": "Can a pot of that mass be built?"})


class CanOut(Out):
    container = ma.fields.String()
    lot = ma.fields.String()
    state = ma.fields.String()
    place = ma.fields.String(allow_none=True)
    good_until = ma.fields.Date(allow_none=True)
    free_g = Grams(allow_none=True)
    free_mm = ma.fields.Integer(allow_none=True)
    free_pieces = ma.fields.Integer(allow_none=True)


class StockOut(Out):
    material = ma.fields.Integer()
    name = ma.fields.String()
    cans = ma.fields.List(ma.fields.Nested(CanOut), metadata={"description": "Fit for use only, first expired first."})
    free_g = Grams(allow_none=True)
    free_mm = ma.fields.Integer(allow_none=True)
    free_pieces = ma.fields.Integer(allow_none=True)


class DrawOut(Out):
    component = ma.fields.String()
    container = ma.fields.String()
    mass_g = Grams()


class BuildablePotOut(Out):
    possible = ma.fields.Boolean()
    mass_g = Grams()
    resin_g = Grams()
    hardener_g = Grams()
    draws = ma.fields.List(ma.fields.Nested(DrawOut))
    short_resin_g = Grams()
    short_hardener_g = Grams()
    sentence = ma.fields.String()


class AvailabilityOut(Out):
    EXAMPLE = {
        "stock": [
            {
                "material": 1,
                "name": "Alder 10 resin",
                "cans": [{"container": "C003183", "lot": "L00007C", "state": "open", "free_g": 4200}],
                "free_g": 4200,
            }
        ],
        "pot": None,
    }
    stock = ma.fields.List(ma.fields.Nested(StockOut))
    pot = ma.fields.Nested(BuildablePotOut, allow_none=True)


class MixPlanIn(In):
    EXAMPLE = {"system": 1, "hardener": 2, "need_g": 900, "wet_out_rate_g_min": 12, "temperature_c": 21}
    system = Whole(1, required=True)
    hardener = Whole(1)
    need_g = Grams(
        required=True, high=1_000_000, metadata={"description": "Mixed resin that the job takes, losses included."}
    )
    wet_out_rate_g_min = Number(0.01, 100_000, required=True)
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Temperature of the mix."})
    working_share = Number(
        0.05, 1, metadata={"description": "Share of the pot life that wetting out may take; a half if left out."}
    )
    scale = Code(
        "S", metadata={"description": "The scale that will be used; the finest one that may be used if left out."}
    )


class PlannedPotOut(Out):
    mass_g = Grams()
    resin_g = Grams()
    hardener_g = Grams()
    draws = ma.fields.List(ma.fields.Nested(DrawOut))
    start_after_min = ma.fields.Float()


class MixPlanOut(Out):
    EXAMPLE = {
        "possible": True,
        "pots": [
            {
                "mass_g": 450,
                "resin_g": 346.154,
                "hardener_g": 103.846,
                "draws": [{"component": "resin", "container": "C003183", "mass_g": 346.154}],
                "start_after_min": 0,
            }
        ],
        "leftover_g": 0,
        "lots": ["L00007C"],
        "scale": "S00001K",
        "largest_workable_g": 510.2,
        "smallest_honest_g": 95.931,
        "short_resin_g": 0,
        "short_hardener_g": 0,
        "sentences": ["2 pots of 450.0 g: 346.2 g of resin and 103.8 g of hardener each."],
    }
    possible = ma.fields.Boolean()
    pots = ma.fields.List(ma.fields.Nested(PlannedPotOut))
    leftover_g = Grams()
    lots = ma.fields.List(ma.fields.String())
    scale = ma.fields.String()
    largest_workable_g = Grams(
        metadata={"description": "The largest pot that can be wetted out within its share of the pot life."}
    )
    smallest_honest_g = Grams(metadata={"description": "The smallest pot whose ratio the scale can judge."})
    short_resin_g = Grams()
    short_hardener_g = Grams()
    sentences = ma.fields.List(ma.fields.String())
