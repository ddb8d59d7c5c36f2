"""Deviation permits and concessions."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Code, Moment, Text, Word, Yes
from schemas.words import Decision, PermissionKind


class PermissionIn(ActIn):
    EXAMPLE = {
        "kind": "deviation permit",
        "item": "C003183",
        "reasons": ["open-too-long"],
        "why": "test pot of 100 g gelled in time this morning",
    }
    kind = Word(PermissionKind, required=True)
    item = Code("LCKMPTSRA", required=True)
    reasons = ma.fields.List(
        Text(longest=60),
        required=True,
        validate=ma.validate.Length(1, 20, error="Give 1 to 20 reasons."),
        metadata={"description": "The kinds of the reasons in the fitness, or of the flags, that it is to answer."},
    )
    until = Moment()


class SignatureIn(ActIn):
    EXAMPLE = {"permitted": True, "remark": "for the inner skin only"}
    permitted = Yes(required=True)
    remark = Text(longest=300)


class PermissionOut(Out):
    EXAMPLE = {
        "id": 4,
        "kind": "deviation permit",
        "item": "C003183",
        "reasons": ["open-too-long"],
        "flags": [],
        "why": "test pot of 100 g gelled in time this morning",
        "until": None,
        "decision": "asked",
        "asked_by": 2,
        "asked_by_name": "Ida Holm",
        "asked_at": "2026-11-03T09:00:00Z",
        "signed_by": None,
        "signed_by_name": None,
        "signed_at": None,
        "remark": None,
    }
    id = ma.fields.Integer()
    kind = ma.fields.String()
    item = ma.fields.String()
    reasons = ma.fields.List(ma.fields.String())
    flags = ma.fields.List(ma.fields.Integer())
    why = ma.fields.String()
    until = Moment(allow_none=True)
    decision = ma.fields.String()
    asked_by = ma.fields.Integer()
    asked_by_name = ma.fields.String()
    asked_at = Moment()
    signed_by = ma.fields.Integer(allow_none=True)
    signed_by_name = ma.fields.String(allow_none=True)
    signed_at = Moment(allow_none=True)
    remark = ma.fields.String(allow_none=True)


class PermissionQuery(PageIn):
    decision = Word(Decision)
    kind = Word(PermissionKind)
    item = Code("LCKMPTSRA")
