"""The journal and kept documents."""

import marshmallow as ma

from schemas.base import Out, PageIn
from schemas.fields import Code, Moment, Text, Whole, Yes


class EntryQuery(PageIn):
    item = Code("LCKMPTSRA")
    operation = Text(longest=60)
    person = Whole(1)
    refused = Yes(metadata={"description": "Only acts that were refused (true) or done (false)."})
    late = Yes()
    since = Whole(0, metadata={"description": "The seq of the last entry that was read: only what came after it."})


class BookedOut(Out):
    id = ma.fields.Integer(metadata={"description": "A correction names it by this number."})
    kind = ma.fields.String()
    source = ma.fields.String(allow_none=True)
    target = ma.fields.String(allow_none=True)
    amount = ma.fields.Integer(allow_none=True, metadata={"description": "In the unit named: mg, mm or pieces."})
    unit = ma.fields.String(allow_none=True)
    taken_back = ma.fields.Boolean()


class EntryOut(Out):
    EXAMPLE = {
        "seq": 4711,
        "deed": 4712,
        "operation": "open_container",
        "called": "opening the container",
        "person": 2,
        "person_name": "Ida Holm",
        "occurred_at": "2026-11-03T08:12:00Z",
        "recorded_at": "2026-11-03T08:12:01Z",
        "late": False,
        "items": ["C003183"],
    }
    seq = ma.fields.Integer()
    deed = ma.fields.Integer()
    operation = ma.fields.String()
    called = ma.fields.String(metadata={"description": "The act in words, as it is named to a person."})
    person = ma.fields.Integer()
    person_name = ma.fields.String()
    system = ma.fields.String(allow_none=True)
    device = ma.fields.String(allow_none=True)
    occurred_at = Moment()
    recorded_at = Moment()
    late = ma.fields.Boolean()
    why = ma.fields.String(allow_none=True)
    refused = ma.fields.String(allow_none=True)
    corrects = ma.fields.Integer(allow_none=True)
    items = ma.fields.List(ma.fields.String())
    movements = ma.fields.List(ma.fields.Nested(BookedOut), metadata={"description": "What it booked."})
    body = ma.fields.Dict()
    hash = ma.fields.String()


class ChainOut(Out):
    EXAMPLE = {"entries": 4711, "unbroken": True, "first_broken": None, "head": "9f2c…"}
    entries = ma.fields.Integer()
    unbroken = ma.fields.Boolean()
    first_broken = ma.fields.Integer(allow_none=True)
    head = ma.fields.String()


class DocumentOut(Out):
    EXAMPLE = {"id": 12, "name": "certificate.pdf", "media_type": "application/pdf", "size": 48213, "sha256": "5d41…"}
    id = ma.fields.Integer()
    name = ma.fields.String()
    media_type = ma.fields.String()
    size = ma.fields.Integer()
    sha256 = ma.fields.String()
