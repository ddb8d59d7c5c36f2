"""Which parts, lots and orders an act has changed, in the order of the journal: the feed, and what ETags are."""

from peewee import BigAutoField, BigIntegerField

from schemas.words import FollowedKind, Kind
from service.records.base import Record, Word

# Items whose ETag is their last change. An order has a version of its own.
FOLLOWED = (Kind.PART, Kind.LOT)


class ItemChange(Record):
    """One item or order whose answer an entry of the journal has changed, whether the entry names it or not.

    Written under the head's lock, so that the numbers rise as the entries do. It follows from bound rows alone and
    points to nothing: a hold may reach a hundred thousand parts, and each reference would be looked up.
    """

    id = BigAutoField()
    seq = BigIntegerField()
    # Of the item, or of the order: which of both, its kind says.
    number = BigIntegerField()
    kind = Word(FollowedKind)

    class Meta:
        indexes = ((("number", "seq"), False),)
