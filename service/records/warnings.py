"""What a look over the stock found, once a day: what is short, what is soon past its date."""

from peewee import SQL, BigAutoField, BigIntegerField, Check, DateField, ForeignKeyField

from schemas.words import Unit, WarningKind
from service.records.base import Instant, Record, Word, together, whole
from service.records.items import Item
from service.records.journal import Deed
from service.records.materials import Material


class StockWarning(Record):
    """One finding, from the look that found it first to the look that no longer does."""

    id = BigAutoField()
    kind = Word(WarningKind, closed=True)
    material = ForeignKeyField(Material)
    material_id: int
    # The can that goes past its date, and the day.
    item = ForeignKeyField(Item, null=True)
    item_id: int | None
    good_until = DateField(null=True)
    # What was fit for use and reserved by nobody, and the least that is to be there.
    free = BigIntegerField(null=True, constraints=[Check("free >= 0"), whole("free")])
    least = BigIntegerField(null=True, constraints=[Check("least > 0"), whole("least")])
    unit = Word(Unit, closed=True, null=True)
    found_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
    ended_at = Instant(null=True)
    ended_in = ForeignKeyField(Deed, null=True)
    ended_in_id: int | None

    class Meta:
        constraints = [
            together("item_id", "good_until"),
            together("free", "least", "unit"),
            together("ended_at", "ended_in_id"),
            Check("(item_id IS NULL) <> (free IS NULL)"),
        ]


# Two looks at once find the same thing once.
StockWarning.add_index(
    StockWarning.material, unique=True, name="stock_warning_short", where=SQL("ended_at IS NULL AND item_id IS NULL")
)
StockWarning.add_index(
    StockWarning.item, unique=True, name="stock_warning_expiring", where=SQL("ended_at IS NULL AND item_id IS NOT NULL")
)
