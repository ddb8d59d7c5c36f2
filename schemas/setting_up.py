"""Many small acts in one: what a shop begins with, what one person approves at a sitting, what a system sends."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn
from schemas.designs import MouldIn
from schemas.fields import Whole
from schemas.lots import MOST_CONTAINERS, DeliveryIn
from schemas.orders import OrderIn
from schemas.parts import PartIn
from schemas.registers import MaterialIn, NameIn, SupplierIn
from schemas.scales import ScaleIn

# When and why are said once, of the whole.
_SAID_ONCE = ("occurred_at", "why")
MOST_ROWS = 1000
"""Of all registers together, in one act: all of them or none."""


class SupplierLine(SupplierIn):
    class Meta(SupplierIn.Meta):
        exclude = _SAID_ONCE


class PlaceLine(NameIn):
    class Meta(NameIn.Meta):
        exclude = _SAID_ONCE


class MaterialLine(MaterialIn):
    class Meta(MaterialIn.Meta):
        exclude = _SAID_ONCE


class ScaleLine(ScaleIn):
    class Meta(ScaleIn.Meta):
        exclude = _SAID_ONCE


class MouldLine(MouldIn):
    class Meta(MouldIn.Meta):
        exclude = _SAID_ONCE


def _lines(line: type[ma.Schema]) -> ma.fields.List:
    return ma.fields.List(ma.fields.Nested(line), validate=ma.validate.Length(1, MOST_ROWS, error="Give 1 to 1,000."))


def _numbers() -> ma.fields.List:
    return ma.fields.List(Whole(1), validate=ma.validate.Length(1, 50, error="Give 1 to 50."))


class RegistersIn(ActIn):
    suppliers = _lines(SupplierLine)
    places = _lines(PlaceLine)
    materials = _lines(MaterialLine)
    scales = _lines(ScaleLine)
    moulds = _lines(MouldLine)

    @ma.validates_schema
    def not_too_many(self, data: dict[str, Any], **kwargs: Any) -> None:
        rows = {name: len(lines) for name, lines in data.items() if isinstance(lines, list)}
        if sum(rows.values()) > MOST_ROWS:
            longest = max(rows, key=lambda name: rows[name])
            raise ma.ValidationError("That is more than 1,000 rows in all; send the rest with another.", longest)


class ApprovalsIn(ActIn):
    systems = _numbers()
    schedules = _numbers()
    designs = _numbers()


# In one act, however many orders they are for.
MOST_PLANNED = 2000


class OrderRow(OrderIn):
    class Meta(OrderIn.Meta):
        exclude = _SAID_ONCE


class PartRow(PartIn):
    class Meta(PartIn.Meta):
        exclude = _SAID_ONCE


class DeliveryRow(DeliveryIn):
    class Meta(DeliveryIn.Meta):
        exclude = _SAID_ONCE


def _rows(row: type[ma.Schema]) -> ma.fields.List:
    of_them = ma.validate.Length(1, MOST_ROWS, error="Give 1 to 1,000.")
    return ma.fields.List(ma.fields.Nested(row), required=True, validate=of_them)


class OrdersIn(ActIn):
    orders = _rows(OrderRow)

    @ma.validates_schema(skip_on_field_errors=True)
    def not_too_many(self, data: dict[str, Any], **kwargs: Any) -> None:
        if sum(line["quantity"] for order in data["orders"] for line in order["lines"]) > MOST_PLANNED:
            raise ma.ValidationError(f"That is more than {MOST_PLANNED:,} parts; send the rest with another.", "orders")


class PartsIn(ActIn):
    parts = _rows(PartRow)


class DeliveriesIn(ActIn):
    deliveries = _rows(DeliveryRow)

    @ma.validates_schema(skip_on_field_errors=True)
    def not_too_many(self, data: dict[str, Any], **kwargs: Any) -> None:
        if sum(line.get("count", 1) for row in data["deliveries"] for line in row["containers"]) > 2 * MOST_CONTAINERS:
            raise ma.ValidationError(
                f"That is more than {2 * MOST_CONTAINERS:,} containers; send the rest with another.", "deliveries"
            )
