"""Many small acts in one: what a shop begins with, what one person approves at a sitting."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn
from schemas.designs import MouldIn
from schemas.fields import Whole
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
