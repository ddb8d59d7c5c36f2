"""Heads of the journal that were signed outside."""

from schemas.base import ActIn, PageIn
from schemas.fields import Text, Whole


class ChainQuery(PageIn):
    since = Whole(0, metadata={"description": "The seq of the last entry that was read: only what came after it."})


class HeadIn(ActIn):
    """A signed head, as `potmark seal` makes it."""

    head = Text(required=True, longest=100_000, metadata={"description": "The signed text, byte for byte."})
    signature = Text(required=True, longest=100, metadata={"description": "Ed25519 over the text, in base64."})
    public_key = Text(required=True, longest=60, metadata={"description": "The key that proves it, in base64."})
