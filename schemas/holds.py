"""Holds, and the look back that orders them for what was made with a thing; deviation permits and concessions."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Moment, Text, Whole, Word, Yes
from schemas.words import Decision, PermissionKind


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


class HoldQuery(PageIn):
    standing = Yes()
    item = Code("LCKMPTSRA")


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


class WithdrawalIn(ActIn):
    EXAMPLE = {"why": "the next test pot was still soft after two hours"}


class PermissionQuery(PageIn):
    decision = Word(Decision)
    kind = Word(PermissionKind)
    item = Code("LCKMPTSRA")
