"""Words of what is issued, and of what is called back."""

from enum import StrEnum


class IssuedKind(StrEnum):
    """What is issued to somebody, signed, numbered and kept byte for byte."""

    PART_RECORD = "part record"
    CONFORMITY = "certificate of conformity"
    INVESTIGATION = "investigation report"
    RECALL = "recall pick-up list"
    RECALL_LETTER = "recall letter"


class PieceFound(StrEnum):
    """What became of one piece of a recall."""

    FOUND = "found"
    RETURNED = "returned"
    SCRAPPED = "scrapped"
    REPAIRED = "repaired"
    NOT_FOUND = "not found"
