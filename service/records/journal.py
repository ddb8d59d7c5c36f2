"""What was done, by whom and when; the chain that proves that nobody changed it since; and kept documents."""

from peewee import (
    SQL,
    BigAutoField,
    BigIntegerField,
    BlobField,
    BooleanField,
    CompositeKey,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from service.records.base import Instant, Record
from service.records.people import AccessKey, Person, Site


class Deed(Record):
    """One thing that someone did, or was refused; rows that it wrote point here.

    Deeds are numbered as they start, the journal's entries as they are committed.
    """

    id = BigAutoField()
    operation = TextField(index=True)
    person = ForeignKeyField(Person)
    person_id: int
    key = ForeignKeyField(AccessKey, null=True)
    key_id: int | None
    system = TextField(null=True)
    device = TextField(null=True)
    site = ForeignKeyField(Site)
    site_id: int
    occurred_at = Instant()
    recorded_at = Instant()
    late = BooleanField()
    why = TextField(null=True)
    refused = TextField(null=True)
    corrects: "ForeignKeyField[Deed | None]" = ForeignKeyField("self", null=True, index=False)
    corrects_id: int | None


# Few deeds correct another: an index over all of them is taken for one that leads to few.
Deed.add_index(Deed.corrects, name="deed_with_corrects", where=SQL("corrects_id IS NOT NULL"))
# Nor are many refused.
Deed.add_index(Deed.refused, name="deed_that_was_refused", where=SQL("refused IS NOT NULL"))


class Head(Record):
    """The last entry of the journal; its row's lock puts the commits in order."""

    id = IntegerField(primary_key=True)
    seq = BigIntegerField()
    hash = TextField()
    # The latest time at which an entry was written.
    at = Instant(null=True)


class Entry(Record):
    """One link of the journal: hash = SHA-256(previous hash + body), the body in canonical JSON (RFC 8785)."""

    seq = BigIntegerField(primary_key=True)
    deed = ForeignKeyField(Deed, unique=True)
    deed_id: int
    previous = TextField()
    hash = TextField()
    body = TextField()


class Answer(Record):
    """What an operation answered to an idempotency key, so that the same request can be answered again.

    The key belongs to the person or system that sent it, not to the access key that it came in with.
    """

    caller = TextField()
    idempotency_key = TextField()
    asked = TextField()
    result = TextField(null=True)
    at = Instant(index=True)
    # What the answer's ETag said, of a thing whose ETag is its last change.
    tag = TextField(null=True)

    class Meta:
        primary_key = CompositeKey("caller", "idempotency_key")


class Document(Record):
    """A certificate, a photo, a logger's file: kept as it came, named by its SHA-256."""

    id = BigAutoField()
    sha256 = TextField(unique=True)
    media_type = TextField()
    name = TextField()
    size = BigIntegerField()
    content = BlobField()
    deed = ForeignKeyField(Deed)
    deed_id: int
