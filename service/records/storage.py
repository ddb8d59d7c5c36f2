"""Where things stood, how cold or warm it was there, and what quality decided about it."""

from peewee import BigAutoField, BooleanField, Check, DateField, DoubleField, ForeignKeyField, TextField

from schemas.words import StorageDecision
from service.records.base import Instant, Record, Word
from service.records.items import Item
from service.records.journal import Deed
from service.records.materials import Material


class PlaceSetting(Record):
    """What a shop says of a place beyond its name: whether it is a cold store, and how often it is measured."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    # Nothing: told from what is measured there.
    cold = BooleanField(null=True)
    read_every_days = DoubleField(default=7, constraints=[Check("read_every_days > 0")])


class Stay(Record):
    """Since when a thing stands in a place; until its next one begins."""

    id = BigAutoField()
    item = ForeignKeyField(Item, index=False)
    item_id: int
    place = ForeignKeyField(Item)
    place_id: int
    since = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("item", "since"), False),)


class OutTimeStart(Record):
    """What of its two lives out of the cold a prepreg had used when its own account of them began: in transport, or in
    the roll that it was cut from. Shares of the whole."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    since = Instant()
    tack_used = DoubleField(constraints=[Check("tack_used >= 0")])
    out_used = DoubleField(constraints=[Check("out_used >= 0")])
    deed = ForeignKeyField(Deed)
    deed_id: int


class StorageReview(Record):
    """What quality decided, once for all cans of a material that stood in a place while it was out of their range."""

    id = BigAutoField()
    place = ForeignKeyField(Item)
    place_id: int
    material = ForeignKeyField(Material)
    material_id: int
    begins_at = Instant()
    ends_at = Instant()
    decision = Word(StorageDecision, closed=True)
    good_until = DateField(null=True)
    why = TextField()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        constraints = [Check("begins_at <= ends_at"), Check("(decision = 'shorten') = (good_until IS NOT NULL)")]
