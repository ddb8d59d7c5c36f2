"""What stood on a card before it was changed: dated rows, so that whatever was done reads as of then."""

from peewee import BigAutoField, BigIntegerField, ForeignKeyField, TextField

from service.records.base import Instant, Json, Record, Word
from service.records.journal import Deed

# Registers whose rows are changed in place and stand in records of what was done: by the names of their tables.
CARDS = ("material", "person", "site", "supplier", "logger", "place_setting")


class FormerVersion(Record):
    """The whole row of a card as it stood until somebody changed it. The register itself holds the newest version."""

    id = BigAutoField()
    card = Word(CARDS, closed=True)
    # The key of the row in its register, and which version of it this was.
    number = BigIntegerField()
    version = BigIntegerField()
    name = TextField(null=True)
    facts = Json()
    until = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("card", "number", "version"), True),)
