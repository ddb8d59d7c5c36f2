"""Goods in: receipts, lots, certificates, checks."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, In, PageIn
from schemas.fields import Code, Day, Grams, Moment, Number, Shaped, Text, Whole, Word, Yes, held_or_free
from schemas.words import CertificateType, LotState, Unit

# Of all lots of a note together; each gets its code and its row in one act.
MOST_CONTAINERS = 500


class NewContainerIn(ma.Schema):
    """One line of a receipt: like containers. Give net_g, or length_mm for a roll, or pieces."""

    count = Whole(1, 200, load_default=1)
    net_g = Grams()
    length_mm = Whole(1, 10_000_000)
    pieces = Whole(1, 1_000_000)
    gross_g = Grams()

    @ma.post_load
    def one_amount(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        amounts = {
            Unit.MILLIGRAM: data.pop("net_mg", None),
            Unit.MILLIMETRE: data.pop("length_mm", None),
            Unit.PIECE: data.pop("pieces", None),
        }
        given = [(unit, amount) for unit, amount in amounts.items() if amount is not None]
        if len(given) != 1:
            raise ma.ValidationError("Give how much it holds, once: as a mass, a length or pieces.")
        data["unit"], data["amount"] = given[0]
        return data


class FoundContainerIn(NewContainerIn):
    """A container found on day one: weighed, perhaps open for a while."""

    tare_g = Grams(metadata={"description": "Weight of the container when empty."})
    labelled_net_g = Grams(attribute="net", metadata={"description": "What its label says it held when full."})
    opened_at = Moment()


class DatesIn(ActIn):
    """What the supplier says of a lot's age: one of these, or none where nothing spoils."""

    expires_on = Day()
    expires_month = Shaped(
        "(19[7-9][0-9]|20[0-9][0-9]|21[0-9][0-9])-(0[1-9]|1[0-2])",
        wanted="Give a month as YYYY-MM.",
        metadata={"description": "A month only: good to its last day."},
    )
    made_on = Day()
    no_expiry = Yes()

    GATHERS = {"dates": ("expires_on", "expires_month", "made_on", "no_expiry", "dates_estimated")}

    @ma.post_load
    def gather_dates(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        month = data.pop("expires_month", None)
        data["dates"] = {
            "expires_on": data.pop("expires_on", None),
            "expires_month": month,
            "made_on": data.pop("made_on", None),
            "no_expiry": data.pop("no_expiry", False),
            "estimated": data.pop("dates_estimated", False),
        }
        return data


class TransportOutIn(ma.Schema):
    """How long it was out of the cold on its way, by the shipper's logger or the papers."""

    hours = Number(0, 10_000, required=True, metadata={"description": "Out of the cold in all."})
    temperature_c = Number(
        -60, 100, load_default=None,
        metadata={"description": "The warmest that was measured; not measured, the warmest row of its table counts."},
    )  # fmt: skip


class DeliveryIn(DatesIn):
    material = Whole(1, metadata={"description": "May be left out if supplier_code names a known article number."})
    supplier = Whole(1, required=True)
    delivery_note = Text(required=True, longest=60)
    place = Code("A", required=True)
    makers_lot = Text(longest=40)
    unknown_because = Text(longest=200, metadata={"description": "Why the maker's lot number is not known."})
    containers = ma.fields.List(
        ma.fields.Nested(NewContainerIn), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 lines.")
    )
    supplier_code = Text(longest=300, metadata={"description": "The GS1 code on the goods, as scanned or as printed."})
    remark = Text(longest=300)
    transport_out = ma.fields.Nested(
        TransportOutIn, metadata={"description": "Of a prepreg: what transport used of its life out of the cold."}
    )
    confirmed = Yes(metadata={"description": "The same note, lot and amount came once more."})


class NoteLotIn(DeliveryIn):
    """One of the lots of a note."""

    class Meta(DeliveryIn.Meta):
        exclude = ("occurred_at", "why", "supplier", "delivery_note", "place", "confirmed")


class DeliveryNoteIn(ActIn):
    supplier = Whole(1, required=True)
    delivery_note = Text(required=True, longest=60)
    place = Code("A", required=True)
    lots = ma.fields.List(
        ma.fields.Nested(NoteLotIn), required=True, validate=ma.validate.Length(1, 20, error="Give 1 to 20 lots.")
    )
    confirmed = Yes(metadata={"description": "The same note, lot and amount came once more."})

    @ma.validates_schema(skip_on_field_errors=True)
    def not_too_many(self, data: dict[str, Any], **kwargs: Any) -> None:
        count = sum(line["count"] for lot in data["lots"] for line in lot["containers"])
        if count > MOST_CONTAINERS:
            raise ma.ValidationError(
                f"That is {count:,} containers; one call takes {MOST_CONTAINERS} at most. Send the rest with another.",
                field_name="lots",
            )


class ReleasesIn(ActIn):
    lots = ma.fields.List(Code("L"), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 lots."))


class OpeningStockIn(DatesIn):
    material = Whole(1, required=True)
    supplier = Whole(1)
    place = Code("A", required=True)
    makers_lot = Text(longest=40)
    unknown_because = Text(longest=200)
    dates_estimated = Yes()
    containers = ma.fields.List(
        ma.fields.Nested(FoundContainerIn),
        required=True,
        validate=ma.validate.Length(1, 50, error="Give 1 to 50 lines."),
    )
    remark = Text(longest=300)


class SupplierCodeIn(In):
    text = Text(required=True, longest=300)

    @ma.pre_load
    def keep_separators(self, data: Any, **kwargs: Any) -> Any:
        return with_written_separators(data, "text")


def with_written_separators(data: Any, name: str) -> Any:
    """FNC1 arrives as the control character GS; it is written out so that it survives as text."""
    if isinstance(data, dict) and isinstance(data.get(name), str):
        return {**data, name: data[name].replace("\x1d", "<GS>")}
    return data


class CertificateIn(ActIn):
    type = Word(CertificateType, required=True)
    number = Text(required=True, longest=60)
    issued_on = Day(required=True)
    makers_lot = Text(required=True, longest=40, metadata={"description": "The lot number that stands on the paper."})
    document = Whole(1)


class IncomingCheckIn(ActIn):
    name = Text(required=True, longest=60)
    result = Text(required=True, longest=200)
    value = Number(-1e9, 1e9)
    passed = Yes()


class ExtensionIn(ActIn):
    until = Day(required=True)
    method = Text(required=True, longest=200)
    result = Text(required=True, longest=200)


class LotQuery(PageIn):
    material = Whole(1)
    makers_lot = Text(longest=40)
    state = Word(LotState)
    on_hold = held_or_free()
    expires_before = Day(metadata={"description": "With a date on it that lies before this one."})
