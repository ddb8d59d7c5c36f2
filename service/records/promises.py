"""What is kept of materials for orders, what was drawn for their parts, and what is expected to come."""

from peewee import (
    BigAutoField,
    BigIntegerField,
    BooleanField,
    Check,
    DateField,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from schemas.words import ExpectedEnd, Unit
from service.records.base import Instant, Record, Word, together, whole
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.materials import Material, Supplier
from service.records.orders import Order
from service.records.parts import Part
from service.records.people import Person


class Reservation(Record):
    """Amounts of materials that are kept for an order, until it expires or is released."""

    id = BigAutoField()
    order = ForeignKeyField(Order)
    order_id: int
    remark = TextField(null=True)
    placed_at = Instant()
    placed_by = ForeignKeyField(Person)
    placed_by_id: int
    expires_at = Instant(index=True)
    deed = ForeignKeyField(Deed)
    deed_id: int
    released_at = Instant(null=True)
    released_in = ForeignKeyField(Deed, null=True)
    released_in_id: int | None
    released_why = TextField(null=True)

    class Meta:
        constraints = [
            Check("expires_at > placed_at"),
            together("released_at", "released_in_id", "released_why"),
        ]


class ReservedAmount(Record):
    """So much of one material for one part; of a cloth one piece, which is cut from one roll."""

    id = BigAutoField()
    reservation = ForeignKeyField(Reservation, index=False)
    reservation_id: int
    material = ForeignKeyField(Material)
    material_id: int
    part = ForeignKeyField(Part)
    part_id: int
    unit = Word(Unit, closed=True)
    amount = BigIntegerField(constraints=[Check("amount > 0"), whole("amount")])
    needed_on = DateField()
    # May stock whose maker's lot is not known not be taken for it?
    known_lot = BooleanField()
    released_in = ForeignKeyField(Deed, null=True)
    released_in_id: int | None

    class Meta:
        indexes = ((("reservation", "material"), False),)


class DrawnFor(Record):
    """A pot or a kit that is for a part, or went into it: what it takes uses up what is reserved for that part."""

    id = BigAutoField()
    part = ForeignKeyField(Part)
    part_id: int
    item = ForeignKeyField(Item)
    item_id: int
    # The part's share of it, in millionths.
    share_ppm = IntegerField(constraints=[Check("share_ppm > 0"), Check("share_ppm <= 1000000")])
    # By which it went into the part, where it was not for it from the start.
    movement = ForeignKeyField(Movement, null=True)
    movement_id: int | None
    deed = ForeignKeyField(Deed)
    deed_id: int


class ExpectedDelivery(Record):
    """A delivery that is on its way: how much of what, and when it is expected to be here and released."""

    id = BigAutoField()
    material = ForeignKeyField(Material)
    material_id: int
    supplier = ForeignKeyField(Supplier, null=True)
    supplier_id: int | None
    reference = TextField(null=True)
    unit = Word(Unit, closed=True)
    amount = BigIntegerField(constraints=[Check("amount > 0"), whole("amount")])
    expected_on = DateField()
    expires_on = DateField(null=True)
    version = IntegerField(default=1)
    stated_at = Instant()
    stated_by = ForeignKeyField(Person)
    stated_by_id: int
    deed = ForeignKeyField(Deed)
    deed_id: int
    ended_as = Word(ExpectedEnd, closed=True, null=True)
    ended_at = Instant(null=True)
    ended_in = ForeignKeyField(Deed, null=True)
    ended_in_id: int | None

    class Meta:
        constraints = [together("ended_as", "ended_at", "ended_in_id")]
