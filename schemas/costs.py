"""Prices of arrivals, the rate of an hour's work, and of which month costs are asked."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn, QueryIn
from schemas.fields import Day, Shaped, Text, Whole
from schemas.words import PriceBasis

_MOST = 1_000_000_000_000
_BY = {f"per_{basis}_minor" if basis != PriceBasis.TOTAL else "total_minor": basis for basis in PriceBasis}


def _currency() -> Shaped:
    return Shaped(
        "[A-Z]{3}",
        wanted="Give the three capital letters of a currency, such as EUR.",
        metadata={"description": "What is meant, by ISO 4217; it has to be the shop's own, which is set for all."},
    )


class PriceIn(ma.Schema):
    """What one arrival cost, in minor units of the shop's currency: give one of the four."""

    receipt = Whole(1, required=True, metadata={"description": "Number of the arrival, as its lot names it."})
    total_minor = Whole(0, _MOST, metadata={"description": "For all that arrived; 1250 are 12.50 EUR."})
    per_kilogram_minor = Whole(0, _MOST, metadata={"description": "For a kilogram of what comes by mass."})
    per_metre_minor = Whole(0, _MOST, metadata={"description": "For a metre of a roll."})
    per_piece_minor = Whole(0, _MOST, metadata={"description": "For a piece."})
    document = Text(longest=60, metadata={"description": "Such as the number of the invoice."})

    @ma.post_load
    def one_basis(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        given = [name for name in _BY if name in data]
        if len(given) != 1:
            raise ma.ValidationError(f"Give one of {', '.join(_BY)}.")
        return {
            "receipt": data["receipt"],
            "basis": _BY[given[0]],
            "minor": data[given[0]],
            "document": data.get("document"),
        }


class PricesIn(ActIn):
    currency = _currency()
    prices = ma.fields.List(
        ma.fields.Nested(PriceIn),
        required=True,
        validate=ma.validate.Length(1, 200, error="Give 1 to 200 prices."),
        metadata={"description": "All of them are taken, or none."},
    )


class PriceQuery(PageIn):
    receipt = Whole(1, metadata={"description": "Number of an arrival."})


class MonthQuery(QueryIn):
    month = Shaped(
        "(19[7-9][0-9]|20[0-9][0-9]|21[0-9][0-9])-(0[1-9]|1[0-2])",
        wanted="Give a month as YYYY-MM.",
        required=True,
        metadata={"description": "By the shop's own calendar: YYYY-MM."},
    )


class HourlyRateIn(ActIn):
    currency = _currency()
    minor = Whole(0, _MOST, required=True, metadata={"description": "For an hour, in minor units: 4500 are 45.00 EUR."})
    since = Day(metadata={"description": "The first day on which it holds; today, if left out."})
