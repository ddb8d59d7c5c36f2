"""What things cost: prices of arrivals and the rate of an hour's work. A wrong price is followed by another."""

from peewee import BigAutoField, BigIntegerField, Check, DateField, ForeignKeyField, TextField

from schemas.words import PriceBasis
from service.records.base import Instant, Record, Word, whole
from service.records.journal import Deed
from service.records.materials import Receipt


class Price(Record):
    """What an arrival cost, as somebody said on one day; the last one said holds."""

    id = BigAutoField()
    receipt = ForeignKeyField(Receipt)
    receipt_id: int
    basis = Word(PriceBasis, closed=True)
    # In minor units of the currency that the shop had then.
    minor = BigIntegerField(constraints=[Check("minor >= 0"), whole("minor")])
    currency = TextField()
    document = TextField(null=True)
    said_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


class HourlyRate(Record):
    """What an hour's work costs from a day on; of two for one day the last one said holds."""

    id = BigAutoField()
    minor = BigIntegerField(constraints=[Check("minor >= 0"), whole("minor")])
    currency = TextField()
    since = DateField()
    deed = ForeignKeyField(Deed)
    deed_id: int
