"""Holds, and the look back that orders them for what was made with a thing."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Code, Moment, Text, Whole, Yes


class HeldIn(ActIn):
    EXAMPLE = {"item": "C003183", "reason": "cloudy, smells of ammonia"}
    item = Code("LCKMPTSRA")
    person = Whole(1)
    reason = Text(required=True, longest=300)


class HoldIn(HeldIn):
    since = Moment(metadata={"description": "Stops only what was taken from this time on."})


class LookBackIn(HeldIn):
    EXAMPLE = {"item": "S00001K", "since": "2026-11-02T06:00:00Z", "reason": "check weight failed"}
    since = Moment(required=True)


class ReachedOut(Out):
    counts = ma.fields.Dict(
        keys=ma.fields.String(),
        values=ma.fields.Integer(),
        metadata={"description": "How many of each kind were made of the item, or of what was taken from it since."},
    )
    items = ma.fields.Integer(metadata={"description": "All of them together."})
    trace = ma.fields.String(metadata={"description": "Where they are listed, with their codes."})


class HoldOut(Out):
    EXAMPLE = {
        "id": 7,
        "item": "C003183",
        "person": None,
        "reason": "cloudy, smells of ammonia",
        "since": None,
        "placed_at": "2026-11-03T09:00:00Z",
        "placed_by": 2,
        "lifted_at": None,
        "reaches": {
            "counts": {"mix": 1, "part": 1},
            "items": 2,
            "trace": "/v1/items/C003183/trace?direction=forward",
        },
    }
    id = ma.fields.Integer()
    item = ma.fields.String(allow_none=True)
    person = ma.fields.Integer(allow_none=True)
    reason = ma.fields.String()
    since = Moment(allow_none=True)
    placed_at = Moment()
    placed_by = ma.fields.Integer()
    lifted_at = Moment(allow_none=True)
    reaches = ma.fields.Nested(
        ReachedOut, allow_none=True, metadata={"description": "Told of a single hold; null in the list."}
    )


class HoldQuery(PageIn):
    standing = Yes()
    item = Code("LCKMPTSRA")


class LookBackOut(Out):
    EXAMPLE = {"used": "S00001K", "person": None, "since": "2026-11-02T06:00:00Z", "held": ["M011793"]}
    used = ma.fields.String(allow_none=True)
    person = ma.fields.Integer(allow_none=True)
    since = Moment()
    held = ma.fields.List(ma.fields.String())
