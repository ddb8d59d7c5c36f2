"""Recalls: what is called back and why, each piece that it reaches, and what became of it until it is closed."""

from peewee import BigAutoField, BigIntegerField, Check, ForeignKeyField, TextField

from schemas.words import PieceFound
from service.records.base import Instant, Json, Record, Word, together, whole
from service.records.items import Item
from service.records.journal import Deed
from service.records.people import Person


class Recall(Record):
    """What is called back: an item, or what a person did; from some time on, up to some time, or altogether."""

    id = BigAutoField()
    item = ForeignKeyField(Item, null=True)
    item_id: int | None
    person = ForeignKeyField(Person, null=True)
    person_id: int | None
    task = TextField(null=True)
    reason = TextField()
    # The supplier's notice in the supplier's words, where one came.
    notice = TextField(null=True)
    since = Instant(null=True)
    until = Instant(null=True)
    # How it was found then: kinds and masses, what is proved not to be affected, and why.
    found = Json()
    opened_at = Instant()
    opened_by = ForeignKeyField(Person)
    opened_by_id: int
    deed = ForeignKeyField(Deed)
    deed_id: int
    closed_at = Instant(null=True)
    closed_by = ForeignKeyField(Person, null=True)
    closed_by_id: int | None
    closed_in = ForeignKeyField(Deed, null=True)
    closed_in_id: int | None
    # What the person who closed it says of its effectiveness.
    effectiveness = TextField(null=True)

    class Meta:
        constraints = [
            Check("(item_id IS NULL) <> (person_id IS NULL)"),
            together("person_id", "task"),
            together("closed_at", "closed_by_id", "closed_in_id", "effectiveness"),
            Check("closed_by_id IS NULL OR closed_by_id <> opened_by_id"),
            Check("until IS NULL OR since IS NULL OR until >= since"),
        ]


class RecallPiece(Record):
    """One thing that a recall reaches, as it stood then."""

    id = BigAutoField()
    recall = ForeignKeyField(Recall)
    recall_id: int
    item = ForeignKeyField(Item)
    item_id: int
    state = TextField()
    place = TextField(null=True)
    customer = TextField(null=True)
    # What of the recalled thing is in it, as far as the account says.
    mass_mg = BigIntegerField(null=True, constraints=[whole("mass_mg")])
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("recall", "item"), True),)


class RecallStep(Record):
    """What became of one piece: the last step says how it stands."""

    id = BigAutoField()
    piece = ForeignKeyField(RecallPiece)
    piece_id: int
    found = Word(PieceFound, closed=True)
    remark = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
