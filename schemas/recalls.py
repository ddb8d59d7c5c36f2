"""Recalls: what is called back, what became of each piece, and how it ended."""

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Moment, Scanned, Text, Whole, Word, Yes
from schemas.words import PieceFound


class RecallIn(ActIn):
    item = Scanned(
        "LCKMPTSRA", metadata={"description": "Lot, can, roll, pot, kit, cure, part; or scale, mould, place."}
    )
    person = Whole(1)
    task = Text(
        longest=60, metadata={"description": "What the person did, such as weighed by or cut the kit; with `person`."}
    )
    reason = Text(
        required=True,
        longest=300,
        metadata={"description": "Why, in words that a customer may read: their letters say it, and every hold."},
    )
    notice = Text(longest=2000, metadata={"description": "The supplier's notice, in the supplier's words."})
    since = Moment(metadata={"description": "Only what was taken or done from this time on."})
    until = Moment(metadata={"description": "Only what was taken or done up to this time."})
    papers = Yes(metadata={"description": "Issue the pick-up list and the letters with it: true, if not said."})


class RecallStepIn(ActIn):
    item = Code("CKMPR", required=True)
    found = Word(PieceFound, required=True)
    remark = Text(longest=300)


class RecallClosingIn(ActIn):
    effectiveness = Text(required=True, longest=2000)


class RecallQuery(PageIn):
    closed = Yes()


class RecallPiecesQuery(PageIn):
    left = Yes(metadata={"description": "Only what is still to be fetched, or only what is not."})
