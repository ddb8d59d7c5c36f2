"""What has changed since somebody last looked."""

from schemas.base import PageIn
from schemas.fields import Code, Whole, Word
from schemas.words import FollowedKind


class ChangesQuery(PageIn):
    limit = Whole(1, 1000, load_default=200)
    since = Whole(0, metadata={"description": "The `number` of the last row that was read: only what came after it."})
    kind = Word(FollowedKind)
    item = Code("PL")
    order = Whole(1, metadata={"description": "By its number: only what changed of this order."})
