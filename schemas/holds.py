"""Holds, and the look back that orders them for what was made with a thing."""

from schemas.base import ActIn, PageIn
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


class HoldQuery(PageIn):
    standing = Yes()
    item = Code("LCKMPTSRA")
