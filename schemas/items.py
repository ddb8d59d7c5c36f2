"""Views that many answers share."""

from schemas.base import ActIn
from schemas.fields import Code, Text


class MoveIn(ActIn):
    EXAMPLE = {"place": "A00001P"}
    place = Code("A", required=True)


class NameIn(ActIn):
    EXAMPLE = {"name": "Shelf B2"}
    name = Text(required=True, longest=60)
