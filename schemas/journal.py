"""The journal, and corrections of its entries."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import ANY_ITEM, Code, Grams, Text, Whole, Word, Yes
from schemas.words import Declaration, Unit


class EntryQuery(PageIn):
    item = Code(ANY_ITEM)
    operation = Text(longest=60)
    person = Whole(1)
    refused = Yes(metadata={"description": "Only acts that were refused (true) or done (false)."})
    late = Yes()
    since = Whole(0, metadata={"description": "The seq of the last entry that was read: only what came after it."})


class RightAmountIn(ma.Schema):
    """The right amount of one movement of the entry."""

    movement = Whole(1, required=True)
    mass_g = Grams()
    length_mm = Whole(1, 10_000_000)
    pieces = Whole(1, 1_000_000)

    @ma.post_load
    def one_amount(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        named = {"mass_mg": Unit.MILLIGRAM, "length_mm": Unit.MILLIMETRE, "pieces": Unit.PIECE}
        given = [(data[name], unit) for name, unit in named.items() if name in data]
        if len(given) != 1:
            raise ma.ValidationError("Give the right amount once: as a mass, a length or pieces.")
        return {"movement": data["movement"], "amount": given[0][0], "unit": given[0][1]}


class EntryCorrectionIn(ActIn):
    declaration = Word(Declaration, required=True)
    amounts = ma.fields.List(ma.fields.Nested(RightAmountIn), validate=ma.validate.Length(0, 100))
