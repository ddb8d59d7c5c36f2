"""Heads of the journal as they were signed outside: what was then the last entry, and by whose key that was said."""

from peewee import BigAutoField, BigIntegerField, ForeignKeyField, TextField

from service.records.base import Instant, Record
from service.records.journal import Deed


class SealedHead(Record):
    """A signed head. The signature is of ``head``, byte for byte; the other columns repeat what it says."""

    id = BigAutoField()
    number = BigIntegerField(unique=True)
    hash = TextField()
    sealed_at = Instant()
    head = TextField()
    signature = TextField()
    public_key = TextField()
    deed = ForeignKeyField(Deed)
    deed_id: int
