"""Views that many answers share."""

import marshmallow as ma

from schemas.base import ActIn, Out
from schemas.fields import Code, Text


class ItemOut(Out):
    EXAMPLE = {"code": "A00001P", "kind": "A", "name": "Shelf B2", "state": "in use"}
    code = ma.fields.String()
    kind = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()


class HoldRef(Out):
    id = ma.fields.Integer()
    on = ma.fields.String(metadata={"description": "Code of the item that the hold was placed on."})
    reason = ma.fields.String()


class MoveIn(ActIn):
    EXAMPLE = {"place": "A00001P"}
    place = Code("A", required=True)


class NameIn(ActIn):
    EXAMPLE = {"name": "Shelf B2"}
    name = Text(required=True, longest=60)


class ReasonOut(Out):
    kind = ma.fields.String()
    sentence = ma.fields.String()
    answer = ma.fields.String()
    may_permit = ma.fields.List(ma.fields.String())
    permission = ma.fields.Integer(allow_none=True)
    decision = ma.fields.String(allow_none=True)


class FitnessOut(Out):
    EXAMPLE = {"answer": "fit", "reasons": [], "notes": ["Storage not monitored."]}
    answer = ma.fields.String(metadata={"description": "fit, ask or leave."})
    reasons = ma.fields.List(ma.fields.Nested(ReasonOut))
    notes = ma.fields.List(ma.fields.String())
