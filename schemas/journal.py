"""The journal and kept documents."""

from schemas.base import PageIn
from schemas.fields import Code, Text, Whole, Yes


class EntryQuery(PageIn):
    item = Code("LCKMPTSRA")
    operation = Text(longest=60)
    person = Whole(1)
    refused = Yes(metadata={"description": "Only acts that were refused (true) or done (false)."})
    late = Yes()
    since = Whole(0, metadata={"description": "The seq of the last entry that was read: only what came after it."})
