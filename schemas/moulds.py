"""Moulds and what is done to them between two pulls."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Code, Moment, Text, Whole, Word
from schemas.items import HoldRef, ItemOut
from schemas.words import State, TreatmentKind


class MouldIn(ActIn):
    EXAMPLE = {"name": "Tiller blade, port half", "part_number": "HY-204", "pulls": 11}
    name = Text(required=True, longest=80)
    part_number = Text(longest=40, metadata={"description": "The part number that it is made for, if only one."})
    place = Code("A")
    pulls = Whole(0, 100_000, metadata={"description": "Pulls that it has had already."})


class TreatmentIn(ActIn):
    EXAMPLE = {"kind": "release coat", "container": "C003183", "coats": 2}
    kind = Word(TreatmentKind, required=True)
    container = Code("C", metadata={"description": "The release agent or cleaner that was used."})
    coats = Whole(1, 20)
    remark = Text(longest=300)


class TreatmentOut(Out):
    kind = ma.fields.String()
    container = ma.fields.String(allow_none=True)
    coats = ma.fields.Integer(allow_none=True)
    ready_at = Moment(allow_none=True)
    remark = ma.fields.String(allow_none=True)
    occurred_at = Moment()
    by = ma.fields.String()


class MouldOut(Out):
    EXAMPLE = {
        "code": "T00002S",
        "name": "Tiller blade, port half",
        "state": "in use",
        "part_number": "HY-204",
        "pulls": 11,
        "ready_at": "2026-11-03T09:30:00Z",
        "ready": True,
        "in_it": [],
        "treatments": [],
        "holds": [],
        "version": 3,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    place = ma.fields.Nested(ItemOut, allow_none=True)
    part_number = ma.fields.String(allow_none=True)
    pulls = ma.fields.Integer()
    ready_at = Moment(
        allow_none=True,
        metadata={"description": "When the release agent's wait is over; nothing while there is none on it."},
    )
    ready = ma.fields.Boolean()
    in_it = ma.fields.List(ma.fields.String(), metadata={"description": "Codes of the parts that still lie in it."})
    treatments = ma.fields.List(ma.fields.Nested(TreatmentOut))
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    version = ma.fields.Integer()


class MouldQuery(PageIn):
    part_number = Text(longest=40)
    state = Word(State)
