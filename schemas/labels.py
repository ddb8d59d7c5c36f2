"""Labels."""

import marshmallow as ma

from schemas.base import ActIn, Out
from schemas.fields import Moment, Word
from schemas.words import LabelSize


class LabelIn(ActIn):
    EXAMPLE = {"size": "100x50"}
    size = Word(LabelSize, required=True)


class ReplacementIn(ActIn):
    EXAMPLE = {"size": "100x50", "why": "resin ran over it"}
    size = Word(LabelSize, required=True)


class LabelOut(Out):
    EXAMPLE = {
        "code": "C003183",
        "issue": 1,
        "size": "100x50",
        "issued_at": "2026-11-03T09:00:00Z",
        "void": False,
        "pdf": "/v1/items/C003183/labels/1.pdf",
        "notice": None,
    }
    code = ma.fields.String()
    issue = ma.fields.Integer()
    size = ma.fields.String()
    issued_at = Moment()
    void = ma.fields.Boolean()
    pdf = ma.fields.String()
    notice = ma.fields.String(
        allow_none=True, metadata={"description": "Why no phone would open the printed code, where that is so."}
    )
