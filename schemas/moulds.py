"""Moulds and what is done to them between two pulls."""

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Text, Whole, Word
from schemas.words import ToolState, TreatmentKind


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


class MouldQuery(PageIn):
    part_number = Text(longest=40)
    state = Word(ToolState)
