"""Holds, and the look back that orders them for what was made with a thing; deviation permits and concessions."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import ANY_ITEM, Code, Moment, Text, Whole, Word, Yes
from schemas.words import Decision, PermissionKind


class HeldIn(ActIn):
    item = Code(ANY_ITEM)
    person = Whole(1)
    reason = Text(required=True, longest=300)


class HoldIn(HeldIn):
    since = Moment(metadata={"description": "Stops only what was taken from this time on."})


class LookBackIn(HeldIn):
    since = Moment(required=True)


class HoldQuery(PageIn):
    standing = Yes()
    item = Code(ANY_ITEM)


class PermissionIn(ActIn):
    kind = Word(PermissionKind, required=True)
    item = Code(ANY_ITEM, required=True)
    reasons = ma.fields.List(
        Text(longest=60),
        required=True,
        validate=ma.validate.Length(1, 20, error="Give 1 to 20 reasons."),
        metadata={"description": "The kinds of the reasons in the fitness, or of the flags, that it is to answer."},
    )
    until = Moment()


class SignatureIn(ActIn):
    permitted = Yes(required=True)
    remark = Text(longest=300)


class WithdrawalIn(ActIn):
    pass


class PermissionQuery(PageIn):
    decision = Word(Decision)
    kind = Word(PermissionKind)
    item = Code(ANY_ITEM)
