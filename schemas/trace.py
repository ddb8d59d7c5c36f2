"""Items as far as all kinds are alike, and traces."""

from typing import Any

import marshmallow as ma

from schemas.base import Out, QueryIn
from schemas.fields import Moment
from schemas.items import HoldRef
from schemas.words import Unit

_SUFFIX = {Unit.MILLIGRAM: "g", Unit.MILLIMETRE: "mm", Unit.PIECE: "pieces"}


def amount_in_its_unit(data: dict[str, Any], name: str) -> dict[str, Any]:
    """`amount` and `unit` become amount_g, amount_mm or amount_pieces; nothing where nothing was measured."""
    unit, amount = data.pop("unit", None), data.pop(name, None)
    if unit is not None and amount is not None:
        data[f"{name}_{_SUFFIX[Unit(unit)]}"] = amount / 1000 if unit == Unit.MILLIGRAM else amount
    return data


class _Amount(Out):
    """An item or movement whose amount is named by its unit."""

    class Meta:
        unknown = ma.INCLUDE

    amount_name = "amount"
    unit = ma.fields.String(allow_none=True)

    @ma.post_dump
    def by_unit(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        return amount_in_its_unit(data, self.amount_name)


class TracedItemOut(_Amount):
    amount_name = "left"
    code = ma.fields.String()
    kind = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    place = ma.fields.String(allow_none=True)
    left = ma.fields.Integer(metadata={"description": "Answered as left_g, left_mm or left_pieces."})
    lot = ma.fields.String(allow_none=True)
    makers_lot = ma.fields.String(allow_none=True)
    good_until = ma.fields.Date(allow_none=True)
    on_hold = ma.fields.Boolean()
    failed = ma.fields.Boolean()


class TracedMovementOut(_Amount):
    source = ma.fields.String()
    target = ma.fields.String()
    kind = ma.fields.String()
    purpose = ma.fields.String(allow_none=True)
    amount = ma.fields.Integer(
        allow_none=True,
        metadata={"description": "Answered as amount_g, amount_mm or amount_pieces; missing where not measured."},
    )
    estimated = ma.fields.Boolean()
    occurred_at = Moment()


class TraceQuery(QueryIn):
    direction = ma.fields.String(
        load_default="back", validate=ma.validate.OneOf(["back", "forward"], error="Give back or forward.")
    )
    since = Moment(
        load_default=None,
        metadata={"description": "With direction=forward: leaves out what was taken from the item before this time."},
    )


class TotalsOut(Out):
    items = ma.fields.Integer(metadata={"description": "Of the whole trace, the item itself among them."})
    movements = ma.fields.Integer(metadata={"description": "Of the whole trace."})


class TraceOut(Out):
    EXAMPLE = {
        "code": "P00087K",
        "direction": "back",
        "counts": {"container": 3, "lot": 3, "mix": 2},
        "totals": {"items": 9, "movements": 10},
        "rest": None,
        "items": [
            {
                "code": "C002543",
                "kind": "C",
                "name": "Alder 32 slow hardener",
                "state": "open",
                "place": "Shelf B2",
                "left_g": 912,
                "lot": "L00007C",
                "makers_lot": "26-0731",
                "on_hold": False,
                "failed": False,
            }
        ],
        "movements": [
            {
                "source": "C002543",
                "target": "M011793",
                "kind": "pour",
                "amount_g": 34.4,
                "estimated": False,
                "occurred_at": "2026-11-03T09:12:00Z",
            }
        ],
    }
    code = ma.fields.String()
    direction = ma.fields.String()
    counts = ma.fields.Dict(
        keys=ma.fields.String(),
        values=ma.fields.Integer(),
        metadata={"description": "By kind, of the whole trace; the item itself is left out."},
    )
    totals = ma.fields.Nested(TotalsOut)
    rest = ma.fields.String(
        allow_none=True,
        metadata={"description": "Of a trace of more than 5,000 rows: how to get all of them. Else null."},
    )
    items = ma.fields.List(ma.fields.Nested(TracedItemOut))
    movements = ma.fields.List(ma.fields.Nested(TracedMovementOut))


class UsedOnOut(Out):
    role = ma.fields.String()
    code = ma.fields.String(allow_none=True)
    person = ma.fields.Integer(allow_none=True)
    name = ma.fields.String()
    occurred_at = Moment()


class FlagOut(Out):
    id = ma.fields.Integer()
    item = ma.fields.String()
    kind = ma.fields.String()
    sentence = ma.fields.String()
    stops = ma.fields.Boolean(metadata={"description": "A release needs a signed permission for it."})
    permission = ma.fields.Integer(allow_none=True)
    decision = ma.fields.String(allow_none=True)
    occurred_at = Moment()


class LifelineOut(Out):
    state = ma.fields.String()
    occurred_at = Moment()


class LabelRowOut(Out):
    issue = ma.fields.Integer()
    size = ma.fields.String()
    issued_at = Moment()
    void = ma.fields.Boolean()


class AnyItemOut(_Amount):
    EXAMPLE = {
        "code": "C003183",
        "kind": "C",
        "name": "Alder 32 slow hardener",
        "state": "open",
        "place": "A00001P",
        "balance_g": 1846,
        "holds": [],
        "flags": [],
        "made_with": [],
        "states": [{"state": "sealed", "occurred_at": "2026-10-01T08:00:00Z"}],
        "labels": [],
        "version": 4,
    }
    amount_name = "balance"
    code = ma.fields.String()
    kind = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    place = ma.fields.String(allow_none=True)
    balance = ma.fields.Integer(metadata={"description": "Answered as balance_g, balance_mm or balance_pieces."})
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    flags = ma.fields.List(ma.fields.Nested(FlagOut))
    made_with = ma.fields.List(ma.fields.Nested(UsedOnOut))
    states = ma.fields.List(ma.fields.Nested(LifelineOut))
    labels = ma.fields.List(ma.fields.Nested(LabelRowOut))
    version = ma.fields.Integer()


class SharedByOut(Out):
    code = ma.fields.String()
    kind = ma.fields.String()
    name = ma.fields.String()
    parts = ma.fields.Integer()
    in_work = ma.fields.Integer()
    finished = ma.fields.Integer()
    shipped = ma.fields.Integer()
    scrapped = ma.fields.Integer()
    failed = ma.fields.Integer()
    others = ma.fields.List(ma.fields.Nested(TracedItemOut))


class SharingOut(Out):
    EXAMPLE = {
        "code": "P00087K",
        "shared": [
            {
                "code": "C002543",
                "kind": "C",
                "name": "Alder 32 slow hardener",
                "parts": 7,
                "in_work": 1,
                "finished": 2,
                "shipped": 4,
                "scrapped": 0,
                "failed": 5,
                "others": [],
            }
        ],
    }
    code = ma.fields.String()
    shared = ma.fields.List(ma.fields.Nested(SharedByOut))
