"""Everything that carries a code, and everything that went from one such thing into another."""

from peewee import SQL, BigAutoField, BigIntegerField, BooleanField, Check, ForeignKeyField, IntegerField, TextField

from schemas.words import Decision, Kind, LabelSize, MovementKind, PermissionKind, State, Unit
from service.records.base import Instant, Json, Record, Word, together, whole
from service.records.journal import Deed
from service.records.people import Person, Site


class Item(Record):
    """Anything with a code. Balance, state and holds are cached; `potmark check` works them out again."""

    id = BigAutoField()
    code = TextField(unique=True)
    kind = Word(Kind)
    name = TextField()
    state = Word(State)
    place: "ForeignKeyField[Item | None]" = ForeignKeyField("self", null=True)
    place_id: int | None
    unit = Word(Unit, closed=True, null=True)
    balance = BigIntegerField(default=0, constraints=[Check("balance >= 0"), whole("balance")])
    holds = IntegerField(default=0, constraints=[Check("holds >= 0")])
    version = IntegerField(default=1)
    site = ForeignKeyField(Site)
    site_id: int
    deed = ForeignKeyField(Deed)
    deed_id: int


# Places and scales are told apart by their names, on the label as in the head.
Item.add_index(Item.kind, Item.name, unique=True, name="item_name_of_place_or_scale", where=SQL("kind IN ('A', 'S')"))
# What is being done is little, whatever was ever finished; in the order of ids, so that a page of it ends early.
Item.add_index(Item.kind, Item.state, Item.id)
# The shorter ones below have both columns, too: SQLite takes the one that serves more conditions, however long it is.
# What is on the shelf does not grow with all that ever stood there.
Item.add_index(Item.kind, Item.state, name="item_on_the_shelf", where=SQL("kind = 'C' AND balance > 0"))
# What is planned and not begun, among all parts that there ever were.
Item.add_index(Item.kind, Item.state, name="item_planned", where=SQL("kind = 'P' AND state = 'planned'"))
# What still stands in a cup, what is being laid up, and which cans are open.
Item.add_index(Item.kind, Item.state, name="item_in_a_cup", where=SQL("kind = 'M' AND balance > 0"))
Item.add_index(Item.kind, Item.state, name="item_being_laid", where=SQL("kind = 'P' AND state = 'laying'"))
Item.add_index(Item.kind, Item.state, name="item_opened", where=SQL("kind = 'C' AND state = 'open'"))


class Counter(Record):
    """The last number given to each kind of item."""

    kind = Word(Kind, primary_key=True)
    last = BigIntegerField()


class Movement(Record):
    """What went from where to where. Never changed, but that it may be cancelled once."""

    id = BigAutoField()
    source = ForeignKeyField(Item, null=True, backref="given", index=False)
    source_id: int | None
    target = ForeignKeyField(Item, null=True, backref="taken", index=False)
    target_id: int | None
    amount = BigIntegerField(null=True, constraints=[Check("amount > 0"), whole("amount")])
    unit = Word(Unit, closed=True, null=True)
    kind = Word(MovementKind)
    estimated = BooleanField(default=False)
    purpose = TextField(null=True)
    # Where on a part: the root, the tip.
    zone = TextField(null=True)
    occurred_at = Instant(index=True)
    deed = ForeignKeyField(Deed)
    deed_id: int
    cancelled_by = ForeignKeyField(Deed, null=True, index=False)
    cancelled_by_id: int | None

    class Meta:
        indexes = (
            (("source", "target", "cancelled_by"), False),
            (("target", "source", "cancelled_by"), False),
        )
        constraints = [
            together("amount", "unit"),
            Check("source_id IS NOT NULL OR target_id IS NOT NULL"),
            Check("source_id IS NULL OR target_id IS NULL OR source_id <> target_id"),
            Check("amount IS NOT NULL OR (source_id IS NOT NULL AND target_id IS NOT NULL)"),
        ]


# Nearly all movements stand: an index over all of them is taken for one that leads to few.
Movement.add_index(Movement.cancelled_by, name="movement_with_cancelled_by", where=SQL("cancelled_by_id IS NOT NULL"))


class StateChange(Record):
    """Every state that an item has been in, and since when."""

    id = BigAutoField()
    item = ForeignKeyField(Item)
    item_id: int
    state = Word(State)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


class Touched(Record):
    """Which items a deed was about: an item's own history in one look."""

    id = BigAutoField()
    deed = ForeignKeyField(Deed)
    deed_id: int
    item = ForeignKeyField(Item)
    item_id: int

    class Meta:
        indexes = ((("item", "deed"), True),)


class MadeWith(Record):
    """What was used on an item without becoming part of it: mould, scale, gauge, place, person."""

    id = BigAutoField()
    item = ForeignKeyField(Item)
    item_id: int
    used = ForeignKeyField(Item, null=True, index=False)
    used_id: int | None
    person = ForeignKeyField(Person, null=True)
    person_id: int | None
    role = TextField()
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("used", "item"), False),)
        constraints = [Check("(used_id IS NULL) <> (person_id IS NULL)")]


class Hold(Record):
    """A stop on an item (or, for the next use only, on a person); what was made of it is stopped with it."""

    id = BigAutoField()
    item = ForeignKeyField(Item, null=True)
    item_id: int | None
    person = ForeignKeyField(Person, null=True)
    person_id: int | None
    reason = TextField()
    # Stops only what was taken from this time on; nothing means always.
    since = Instant(null=True)
    flag = BigIntegerField(null=True, index=True)
    nonconformance = BigIntegerField(null=True, index=True)
    placed_at = Instant()
    placed_by = ForeignKeyField(Deed)
    placed_by_id: int
    lifted_at = Instant(null=True)
    lifted_by = ForeignKeyField(Deed, null=True)
    lifted_by_id: int | None

    class Meta:
        constraints = [together("lifted_at", "lifted_by_id"), Check("(item_id IS NULL) <> (person_id IS NULL)")]


# Every trace begins with them.
Hold.add_index(Hold.item, name="hold_that_stands", where=SQL("lifted_at IS NULL"))


class Flag(Record):
    """Something about an item that a release must look at: out of limit, late, typed apart, permitted, corrected."""

    id = BigAutoField()
    item = ForeignKeyField(Item)
    item_id: int
    kind = TextField(index=True)
    sentence = TextField()
    facts = Json()
    # A stop needs a concession (or had a deviation permit); a review is read and signed off at release.
    stops = BooleanField()
    permission = BigIntegerField(null=True, index=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


class Permission(Record):
    """A deviation permit (before the act) or a concession (after it): one asks, another signs."""

    id = BigAutoField()
    kind = Word(PermissionKind, closed=True)
    item = ForeignKeyField(Item)
    item_id: int
    # The reasons that it answers, in the words of the refusals or flags.
    reasons = Json()
    # For a concession the flags that it accepts; a deviation permit comes before there are any.
    flags = Json(default=list)
    why = TextField()
    until = Instant(null=True)
    decision = Word(Decision, closed=True)
    asked_by = ForeignKeyField(Person)
    asked_by_id: int
    asked_at = Instant()
    asked_in = ForeignKeyField(Deed)
    asked_in_id: int
    signed_by = ForeignKeyField(Person, null=True)
    signed_by_id: int | None
    signed_at = Instant(null=True)
    signed_in = ForeignKeyField(Deed, null=True)
    signed_in_id: int | None
    remark = TextField(null=True)
    # A signed permit may end before its time. What was done under it until then stays covered.
    withdrawn_by = ForeignKeyField(Person, null=True)
    withdrawn_by_id: int | None
    withdrawn_at = Instant(null=True)
    withdrawn_in = ForeignKeyField(Deed, null=True)
    withdrawn_in_id: int | None
    withdrawn_because = TextField(null=True)

    class Meta:
        constraints = [
            together("signed_by_id", "signed_at", "signed_in_id"),
            together("withdrawn_by_id", "withdrawn_at", "withdrawn_in_id", "withdrawn_because"),
            Check("(decision = 'withdrawn') = (withdrawn_by_id IS NOT NULL)"),
            Check("signed_by_id IS NULL OR signed_by_id <> asked_by_id"),
            Check("(decision = 'asked') = (signed_by_id IS NULL)"),
        ]


class Label(Record):
    """One issue of an item's label, and the facts that stand on it."""

    id = BigAutoField()
    item = ForeignKeyField(Item)
    item_id: int
    issue = IntegerField(constraints=[Check("issue >= 1")])
    size = Word(LabelSize)
    facts = Json()
    issued_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
    void_at = Instant(null=True)
    void_by = ForeignKeyField(Deed, null=True)
    void_by_id: int | None

    class Meta:
        indexes = ((("item", "issue"), True),)
        constraints = [together("void_at", "void_by_id")]
