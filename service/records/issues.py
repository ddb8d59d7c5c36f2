"""Documents as they were issued, byte for byte, and the certificates that they were signed with."""

from peewee import BigAutoField, BigIntegerField, BlobField, Check, ForeignKeyField, IntegerField, TextField

from schemas.words import IssuedKind
from service.records.base import Record, Word
from service.records.journal import Deed

# A part record has some 100 kB, an investigation with hundreds of sisters a few times that; the table of a recall of
# 150,000 pieces 17 MB.
LARGEST_BYTES = 64_000_000


class SigningCertificate(Record):
    """A certificate (PEM) that documents were signed with, from the first of them on."""

    id = BigAutoField()
    fingerprint = TextField(unique=True)
    certificate = TextField()
    deed = ForeignKeyField(Deed)
    deed_id: int


class DocumentIssue(Record):
    """One issue of a document: its bytes, the hash of the facts in it, and the last entry of the journal before it.

    ``document`` is its number, which follows from ``kind`` and ``subject``; who issued it and when stand in the deed.
    """

    id = BigAutoField()
    document = TextField()
    issue = IntegerField()
    kind = Word(IssuedKind)
    subject = TextField(index=True)
    sha256 = TextField(unique=True)
    data_sha256 = TextField()
    size = BigIntegerField()
    content = BlobField()
    head_number = BigIntegerField()
    head_hash = TextField()
    # What bears a signature; a table has none, and its hash stands in the journal.
    certificate = ForeignKeyField(SigningCertificate, null=True)
    certificate_id: int | None
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("document", "issue"), True),)
        constraints = [Check(f"size > 0 AND size <= {LARGEST_BYTES}")]
