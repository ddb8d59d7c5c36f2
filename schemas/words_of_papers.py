"""Words of what is issued, and of what is called back."""

from enum import StrEnum


class IssuedKind(StrEnum):
    """What is issued to somebody, numbered and kept byte for byte; what is paper is signed as well."""

    PART_RECORD = "part record"
    CONFORMITY = "certificate of conformity"
    INVESTIGATION = "investigation report"
    RECALL = "recall pick-up list"
    RECALL_TABLE = "recall table"
    RECALL_WORKBOOK = "recall workbook"
    RECALL_LETTER = "recall letter"
    LETTERS_TABLE = "recall letters table"
    LETTERS_WORKBOOK = "recall letters workbook"


class PieceFound(StrEnum):
    """What became of one piece of a recall."""

    FOUND = "found"
    RETURNED = "returned"
    SCRAPPED = "scrapped"
    REPAIRED = "repaired"
    NOT_FOUND = "not found"


class CertificateType(StrEnum):
    """Types of inspection document as EN 10204 has them, by analogy (wermac.org/din/en10204.html; not the standard)."""

    TYPE_2_1 = "2.1"
    TYPE_2_2 = "2.2"
    TYPE_3_1 = "3.1"
    TYPE_3_2 = "3.2"
    CERTIFICATE_OF_ANALYSIS = "certificate of analysis"
    CERTIFICATE_OF_CONFORMITY = "certificate of conformity"
