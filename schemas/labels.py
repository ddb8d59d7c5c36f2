"""Labels."""

from schemas.base import ActIn
from schemas.fields import Word
from schemas.words import LabelSize


class LabelIn(ActIn):
    size = Word(LabelSize, required=True)


class ReplacementIn(ActIn):
    size = Word(LabelSize, required=True)
