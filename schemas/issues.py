"""Documents that are issued: signed, numbered, kept byte for byte."""

from schemas.base import ActIn, PageIn
from schemas.fields import Text, Word
from schemas.words import IssuedKind

_LONGEST_SUBJECT = 40


class IssueIn(ActIn):
    """What is issued, and about what."""

    kind = Word(IssuedKind, required=True)
    subject = Text(
        required=True, longest=_LONGEST_SUBJECT, metadata={"description": "What it is about: the code of the part."}
    )


class IssueQuery(PageIn):
    kind = Word(IssuedKind, metadata={"description": "Only documents of this kind."})
    subject = Text(longest=_LONGEST_SUBJECT, metadata={"description": "Only those about this, such as a part's code."})
