"""Labels."""

from schemas.base import ActIn
from schemas.fields import Word
from schemas.words import LabelSize


class LabelIn(ActIn):
    EXAMPLE = {"size": "100x50"}
    size = Word(LabelSize, required=True)


class ReplacementIn(ActIn):
    EXAMPLE = {"size": "100x50", "why": "resin ran over it"}
    size = Word(LabelSize, required=True)
