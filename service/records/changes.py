"""Which parts and lots an act has changed, in the order of the journal: what a follower reads, and what ETags are."""

from peewee import BigAutoField, BigIntegerField

from schemas.words import FollowedKind
from service.records.base import Record, Word

FOLLOWED = tuple(FollowedKind)


class ItemChange(Record):
    """One item whose answer an entry of the journal has changed, whether the entry names it or not.

    Written under the head's lock, so that the numbers rise as the entries do. It follows from bound rows alone and
    points to nothing: a hold may reach a hundred thousand parts, and each reference would be looked up.
    """

    id = BigAutoField()
    seq = BigIntegerField()
    number = BigIntegerField()
    kind = Word(FollowedKind)

    class Meta:
        indexes = ((("number", "seq"), False),)
