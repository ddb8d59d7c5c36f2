"""What the shop buys: materials, lots, receipts, containers, and the systems that say what mixes with what."""

from peewee import (
    SQL,
    AutoField,
    BigAutoField,
    BigIntegerField,
    BooleanField,
    Check,
    DateField,
    DoubleField,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from schemas.words import (
    CertificateType,
    DateBasis,
    FabricForm,
    MaterialKind,
    ReceiptKind,
    ScaleForm,
    SystemKind,
    ToleranceKind,
)
from service.records.base import Instant, Json, Record, Word, together, whole
from service.records.items import Item
from service.records.journal import Deed, Document
from service.records.people import Person


class Supplier(Record):
    id = AutoField()
    name = TextField(unique=True)
    approved = BooleanField()
    version = IntegerField(default=1)


class Material(Record):
    """A product as its data sheet describes it."""

    id = AutoField()
    name = TextField(unique=True)
    kind = Word(MaterialKind)
    supplier = ForeignKeyField(Supplier, null=True)
    supplier_id: int | None
    gtin = TextField(null=True, unique=True)
    density_g_ml = DoubleField(null=True, constraints=[Check("density_g_ml > 0")])
    shelf_life_days = IntegerField(null=True, constraints=[Check("shelf_life_days > 0")])
    opened_life_days = IntegerField(null=True, constraints=[Check("opened_life_days > 0")])
    storage_low_c = DoubleField(null=True)
    storage_high_c = DoubleField(null=True)
    # What it bears outside that range, added up over its life: [{"temperature_c", "hours"}].
    bears = Json(default=list)
    # Cold stock is left closed this long after it comes out, so that no water condenses in it.
    warm_up_hours = DoubleField(null=True, constraints=[Check("warm_up_hours >= 0")])
    tare_mg = BigIntegerField(null=True, constraints=[Check("tare_mg > 0"), whole("tare_mg")])
    h_codes = Json(default=list)
    glove_advice = TextField(null=True)
    # What incoming goods are checked for: [{"name", "low", "high", "unit"}].
    incoming_checks = Json(default=list)
    certificate_wanted = Word(CertificateType, null=True)
    # fabric
    form = Word(FabricForm, null=True)
    areal_weight_g_m2 = DoubleField(null=True, constraints=[Check("areal_weight_g_m2 > 0")])
    fibre = TextField(null=True)
    width_mm = IntegerField(null=True, constraints=[Check("width_mm > 0")])
    # Prepreg and film adhesive, out of the cold: {"out": [{"temperature_c", "hours"}], "tack": [...]}
    out_time = Json(null=True)
    face = BooleanField(null=True)
    # release agent: coats, the wait between them, and for how many pulls a semi-permanent one lasts
    release_coats = IntegerField(null=True)
    release_pulls = IntegerField(null=True, constraints=[Check("release_pulls > 0")])
    release_wait_min = IntegerField(null=True)
    # An organic peroxide, whatever its H-codes; and what must never come near one.
    organic_peroxide = BooleanField(default=False)
    acetone = BooleanField(default=False)
    # From here on a peroxide may decompose by itself: nobody touches it.
    emergency_c = DoubleField(null=True)
    # The supplier's vented type of container, the only one that a peroxide may be decanted into.
    vented_container = TextField(null=True)
    # The least that is to be there, fit for use and reserved by nobody; a look over the stock tells of less.
    least_stock_mg = BigIntegerField(null=True, constraints=[Check("least_stock_mg > 0"), whole("least_stock_mg")])
    least_stock_mm = IntegerField(null=True, constraints=[Check("least_stock_mm > 0")])
    version = IntegerField(default=1)

    class Meta:
        constraints = [
            together("storage_low_c", "storage_high_c"),
            Check("storage_low_c IS NULL OR storage_low_c < storage_high_c"),
            Check("kind <> 'fabric' OR (form IS NOT NULL AND areal_weight_g_m2 IS NOT NULL AND width_mm IS NOT NULL)"),
        ]


class Lot(Record):
    """What the maker calls one lot. A second delivery of it is a second receipt under it."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    material = ForeignKeyField(Material)
    material_id: int
    supplier = ForeignKeyField(Supplier, null=True)
    supplier_id: int | None
    makers_lot = TextField(null=True)
    # Why the maker's lot is not known; such a lot is barred from parts that must be traceable.
    unknown_because = TextField(null=True)
    made_on = DateField(null=True)
    expires_on = DateField(null=True)
    date_basis = Word(DateBasis, closed=True)
    retest_on = DateField(null=True)
    # A longer life that one person has asked for, and nobody agreed to yet.
    extension_until = DateField(null=True)
    extension_asked_by = ForeignKeyField(Person, null=True)
    extension_asked_by_id: int | None

    class Meta:
        indexes = ((("material", "supplier", "makers_lot"), True),)
        constraints = [
            Check("(makers_lot IS NULL) <> (unknown_because IS NULL)"),
            Check("(expires_on IS NULL) = (date_basis = 'no expiry')"),
        ]


# Nothing equals nothing in an index, so a lot whose supplier is not known has one of its own.
Lot.add_index(Lot.material, Lot.makers_lot, unique=True, name="lot_without_supplier", where=SQL("supplier_id IS NULL"))


class Receipt(Record):
    """One arrival of a lot: where from, with which papers, when, by whom."""

    id = BigAutoField()
    lot = ForeignKeyField(Lot)
    lot_id: int
    kind = Word(ReceiptKind)
    supplier = ForeignKeyField(Supplier, null=True)
    supplier_id: int | None
    delivery_note = TextField(null=True)
    place = ForeignKeyField(Item)
    place_id: int
    amount = BigIntegerField(constraints=[Check("amount > 0"), whole("amount")])
    received_at = Instant()
    remark = TextField(null=True)
    deed = ForeignKeyField(Deed)
    deed_id: int
    # Each arrival is released on its own: a second delivery of a released lot waits like the first did.
    released_in = ForeignKeyField(Deed, null=True)
    released_in_id: int | None

    class Meta:
        constraints = [Check("kind <> 'delivery' OR (supplier_id IS NOT NULL AND delivery_note IS NOT NULL)")]


class Certificate(Record):
    id = BigAutoField()
    lot = ForeignKeyField(Lot)
    lot_id: int
    type = Word(CertificateType)
    number = TextField()
    issued_on = DateField()
    document = ForeignKeyField(Document, null=True)
    document_id: int | None
    deed = ForeignKeyField(Deed)
    deed_id: int


class IncomingCheck(Record):
    """One examination of incoming or retested goods: result, limit, verdict, person."""

    id = BigAutoField()
    lot = ForeignKeyField(Lot)
    lot_id: int
    name = TextField()
    result = TextField()
    value = DoubleField(null=True)
    low = DoubleField(null=True)
    high = DoubleField(null=True)
    unit = TextField(null=True)
    passed = BooleanField()
    deed = ForeignKeyField(Deed)
    deed_id: int


class Container(Record):
    """A can, drum, bottle, jug, roll or offcut."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    lot = ForeignKeyField(Lot)
    lot_id: int
    material = ForeignKeyField(Material)
    material_id: int
    receipt = ForeignKeyField(Receipt, null=True)
    receipt_id: int | None
    parent: "ForeignKeyField[Container | None]" = ForeignKeyField("self", null=True)
    parent_id: int | None
    # 2 of 4 in its delivery.
    number = IntegerField()
    of = IntegerField()
    # Net as labelled; for a roll its length.
    net = BigIntegerField(constraints=[Check("net > 0"), whole("net")])
    tare_mg = BigIntegerField(null=True, constraints=[Check("tare_mg > 0"), whole("tare_mg")])
    expires_on = DateField(null=True)
    opened_at = Instant(null=True)
    not_before = Instant(null=True)
    blend = BooleanField(default=False)


class StorageReading(Record):
    """What a thermometer in a place said."""

    id = BigAutoField()
    place = ForeignKeyField(Item, index=False)
    place_id: int
    temperature_c = DoubleField()
    # Since the reading before, where the thermometer keeps them.
    lowest_c = DoubleField()
    highest_c = DoubleField()
    humidity_pct = DoubleField(null=True, constraints=[Check("humidity_pct BETWEEN 0 AND 100")])
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        # A year has 50,000 of one place: the last is found by the first index, those outside a range by the others.
        indexes = (
            (("place", "occurred_at"), False),
            (("place", "lowest_c", "occurred_at"), False),
            (("place", "highest_c", "occurred_at"), False),
        )
        constraints = [Check("lowest_c <= temperature_c AND temperature_c <= highest_c")]


class Scale(Record):
    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    interval_mg = BigIntegerField(constraints=[Check("interval_mg > 0"), whole("interval_mg")])
    repeatability_mg = BigIntegerField(constraints=[Check("repeatability_mg >= 0"), whole("repeatability_mg")])
    maximum_mg = BigIntegerField(constraints=[Check("maximum_mg > 0"), whole("maximum_mg")])
    check_every_days = IntegerField(null=True, constraints=[Check("check_every_days > 0")])
    # Of a graduated measure, step and size are what they hold of water: a milligram is a microlitre.
    form = Word(ScaleForm, default=ScaleForm.SCALE)
    # A pump's hose was changed: what was weighed of it before says nothing any more.
    changed_at = Instant(null=True)
    # How a line of a settled reading is written, if the scale sends any and not in the usual way.
    line_format = TextField(null=True)


class ScaleReading(Record):
    """What a scale sent itself, as the service received it: the number and the whole line."""

    id = BigAutoField()
    scale = ForeignKeyField(Scale, index=False)
    scale_id: int
    reading_mg = BigIntegerField(constraints=[Check("reading_mg >= 0")])
    line = TextField()
    received_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


ScaleReading.add_index(ScaleReading.scale, ScaleReading.id)


class ScaleCheck(Record):
    """A check weight put on a scale."""

    id = BigAutoField()
    scale = ForeignKeyField(Scale, index=False)
    scale_id: int
    weight = TextField()
    nominal_mg = BigIntegerField(constraints=[Check("nominal_mg > 0")])
    reading_mg = BigIntegerField(constraints=[Check("reading_mg >= 0")])
    limit_mg = BigIntegerField(constraints=[Check("limit_mg > 0")])
    passed = BooleanField()
    # Of a pump: the pairs of shots, their means and spreads.
    shots = Json(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("scale", "occurred_at"), False),)


ScaleCheck.add_index(ScaleCheck.scale, ScaleCheck.id)
ScaleCheck.add_index(ScaleCheck.scale, name="scale_check_failed", where=SQL("NOT passed"))


class ResinSystem(Record):
    """One version of what a data sheet says of a resin and its hardeners. Locked once it is approved."""

    id = AutoField()
    name = TextField()
    kind = Word(SystemKind, default=SystemKind.TWO_PART)
    revision = IntegerField()
    data_sheet = TextField()
    resin = ForeignKeyField(Material)
    resin_id: int
    tolerance_kind = Word(ToleranceKind, closed=True)
    tolerance_value = DoubleField(constraints=[Check("tolerance_value > 0")])
    tolerance_source = TextField()
    largest_pot_mg = BigIntegerField(constraints=[Check("largest_pot_mg > 0"), whole("largest_pot_mg")])
    stir_min = DoubleField(null=True, constraints=[Check("stir_min > 0")])
    # Bounds for the air and the mix at work; nothing where the data sheet gives none.
    work_low_c = DoubleField(null=True)
    work_high_c = DoubleField(null=True)
    work_high_humidity_pct = DoubleField(null=True)
    # How far a life of its tables is known: over it by less is noted, beyond it held.
    life_uncertainty_pct = DoubleField(default=5.0, constraints=[Check("life_uncertainty_pct BETWEEN 0 AND 50")])
    # Fitted cure constants, heat of reaction and the like, with their source; nothing is drawn without them.
    constants = Json(null=True)
    # Who wrote and changed it while it was a draft; another approves it, or it says why there was nobody.
    authors = Json(null=True)
    approved_alone = TextField(null=True)
    approved_at = Instant(null=True)
    approved_by = ForeignKeyField(Person, null=True)
    approved_by_id: int | None
    replaced_by: "ForeignKeyField[ResinSystem | None]" = ForeignKeyField("self", null=True)
    replaced_by_id: int | None
    document = ForeignKeyField(Document, null=True)
    document_id: int | None
    version = IntegerField(default=1)

    class Meta:
        indexes = ((("name", "revision"), True),)
        constraints = [together("approved_at", "approved_by_id")]


class SystemHardener(Record):
    """One hardener of a system: its speed, its ratio, its cup and film tables."""

    id = AutoField()
    system = ForeignKeyField(ResinSystem, backref="hardeners")
    system_id: int
    material = ForeignKeyField(Material)
    material_id: int
    speed = TextField()
    # Grams of hardener to 100 g of resin, and millilitres to 100 ml where the sheet says so.
    parts_by_weight = DoubleField(constraints=[Check("parts_by_weight > 0")])
    parts_by_volume = DoubleField(null=True, constraints=[Check("parts_by_volume > 0")])
    # The sheet gives parts by volume only; the parts by weight were worked out from the densities.
    weight_worked_out = BooleanField(default=False)
    # [{"mass_g", "temperature_c", "life_min"}]
    cup_life = Json()
    tray_life = Json(default=list)
    film_life = Json(default=list)
    # A peroxide: its promoter, its table of per cents by temperature, its life by per cent.
    catalyst = Json(null=True)
    # Two hardeners of the system in one cup, or in a can blended before.
    blend = Json(null=True)

    class Meta:
        indexes = ((("system", "material"), True),)
