"""What customers have ordered, and the numbers that other systems know things by."""

from peewee import (
    SQL,
    AutoField,
    BigAutoField,
    BigIntegerField,
    Check,
    DateField,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from schemas.words import Referred, ReplacedBy
from service.records.base import Instant, Record, Word, together
from service.records.journal import Deed
from service.records.people import Person


class Customer(Record):
    """Who orders; one name in any case of its letters."""

    id = AutoField()
    name = TextField()
    # The name as it is looked up: case folded.
    name_key = TextField(unique=True)
    version = IntegerField(default=1)
    deed = ForeignKeyField(Deed)
    deed_id: int


class Order(Record):
    """What a customer has ordered. Its parts are planned from the day on which it is placed."""

    id = AutoField()
    customer = ForeignKeyField(Customer, null=True)
    customer_id: int | None
    due = DateField(null=True)
    remark = TextField(null=True)
    # SHA-256 of what was asked: the same sent again is the same order, whatever was changed of it since.
    content = TextField()
    placed_at = Instant()
    placed_by = ForeignKeyField(Person)
    placed_by_id: int
    deed = ForeignKeyField(Deed)
    deed_id: int
    cancelled_at = Instant(null=True)
    cancelled_in = ForeignKeyField(Deed, null=True)
    cancelled_in_id: int | None
    version = IntegerField(default=1)

    class Meta:
        # A bare "order" is a word of SQL's own.
        table_name = "shop_order"
        constraints = [together("cancelled_at", "cancelled_in_id")]


class OrderLine(Record):
    """So many parts of one number. Without a revision each is built by the one that is newest as it is started."""

    id = BigAutoField()
    order = ForeignKeyField(Order)
    order_id: int
    number = IntegerField(constraints=[Check("number >= 1")])
    part_number = TextField()
    revision = TextField(null=True)
    quantity = IntegerField(constraints=[Check("quantity >= 0")])
    due = DateField(null=True)
    replaced_by = Word(ReplacedBy, closed=True)
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("order", "number"), True),)


class ExternalReference(Record):
    """What another system calls a thing. It is unique within that system and kind, in any case of its letters."""

    id = BigAutoField()
    kind = Word(Referred, closed=True)
    # The id of the order, line, item, customer, material or supplier.
    subject = BigIntegerField()
    system = TextField()
    text = TextField()
    # Both as they are looked up: case folded.
    system_key = TextField()
    text_key = TextField()
    deed = ForeignKeyField(Deed)
    deed_id: int
    withdrawn_at = Instant(null=True)
    withdrawn_in = ForeignKeyField(Deed, null=True)
    withdrawn_in_id: int | None

    class Meta:
        indexes = ((("kind", "subject"), False),)
        constraints = [together("withdrawn_at", "withdrawn_in_id")]


# A reference that was withdrawn may be given again.
ExternalReference.add_index(
    ExternalReference.system_key,
    ExternalReference.kind,
    ExternalReference.text_key,
    unique=True,
    name="external_reference_that_stands",
    where=SQL("withdrawn_in_id IS NULL"),
)
