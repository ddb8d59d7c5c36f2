"""What the shelf can give, and how many pots a job takes."""

from schemas.base import In, QueryIn
from schemas.fields import Code, Grams, Number, Whole


class AvailabilityQuery(QueryIn):
    material = Whole(1)
    system = Whole(1, metadata={"description": "A resin system instead of a material."})
    hardener = Whole(1, metadata={"description": "Its hardener, by the number of the material."})
    mass_g = Grams(high=1_000_000, metadata={"description": "Can a pot of that mass be built?"})


class MixPlanIn(In):
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
