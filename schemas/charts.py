"""Run charts of the weighed ratio."""

from schemas.base import QueryIn
from schemas.fields import Code, Whole


class RatioChartQuery(QueryIn):
    """Which pots; all of the shop's, if nothing is said."""

    scale = Code("S", metadata={"description": "Only pots weighed on this scale."})
    person = Whole(1, metadata={"description": "Only pots in which this person poured."})
    system = Whole(1, metadata={"description": "Only pots of this version of a resin system."})
    last = Whole(5, 500, load_default=50, metadata={"description": "How many pots, the latest first."})
