"""What the shop builds: designs, moulds, kits, parts, what was done to them and what was found."""

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

from schemas.defects import DefectKind
from schemas.words import Disposition, Face, OwnStep, StepKind, TreatmentKind
from service.records.base import Instant, Json, Record, Word, together, whole
from service.records.items import Item, Movement
from service.records.journal import Deed, Document
from service.records.materials import Container
from service.records.orders import OrderLine
from service.records.people import Person


class Design(Record):
    """One revision of what is to be built: resin need by purpose, plies, checks. Locked once a part was started."""

    id = AutoField()
    part_number = TextField()
    revision = TextField()
    name = TextField()
    # [{"purpose", "system" name, "mass_g"}]
    resin_need = Json()
    # [{"number", "material" id, "angle_deg", "face", "area_m2", "length_mm", "zone"}], mould side first; of a piece
    # also "width_mm", "grain", and "outline", "holes" and "allowance_mm", from which its area then comes
    plies = Json()
    zones = Json(default=list)
    ply_by_ply = BooleanField(default=False)
    traceable = BooleanField(default=True)
    schedule = TextField(null=True)
    # Standard deviation of the mass of one piece, cut and weave together; a kit's spread is not known without it.
    piece_spread_pct = DoubleField(null=True, constraints=[Check("piece_spread_pct > 0")])
    # Densities of fibre and cured resin, for the fractions after the trim: {"fibre_g_cm3", "matrix_g_cm3"}
    densities = Json(null=True)
    # What the laminate is to be, by its process: "fibre_mass_fraction" or "fibre_volume_fraction", "loss_fraction",
    # "uptakes", "gel_coat"; thickness and need of resin are worked out from it
    laminate = Json(null=True)
    # Vacuum and drop test of the process sheet: {"least_vacuum_mbar", "drop_limit_mbar", "drop_minutes"}
    bag = Json(null=True)
    # Who wrote and changed it while it was a draft; another approves it, or it says why there was nobody.
    authors = Json(null=True)
    approved_alone = TextField(null=True)
    approved_at = Instant(null=True)
    approved_by = ForeignKeyField(Person, null=True)
    approved_by_id: int | None
    document = ForeignKeyField(Document, null=True)
    document_id: int | None
    version = IntegerField(default=1)

    class Meta:
        indexes = ((("part_number", "revision"), True),)
        constraints = [together("approved_at", "approved_by_id")]


class Mould(Record):
    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    part_number = TextField(null=True)
    pulls = IntegerField(default=0)
    # When the release agent's wait is over; nothing while none has been laid on.
    ready_at = Instant(null=True, index=True)
    # How many pulls a semi-permanent release lasts here, where that is not what its data sheet says.
    release_pulls = IntegerField(null=True, constraints=[Check("release_pulls > 0")])
    # Of the release that is on: the count of pulls at which it is used up, the coats laid and those asked for.
    release_until_pull = IntegerField(null=True)
    coats_on = IntegerField(null=True)
    coats_asked = IntegerField(null=True)
    # From the start of a part to its demoulding here, where that is not what the shop has for all.
    hours = DoubleField(null=True, constraints=[Check("hours > 0")])


class MouldTreatment(Record):
    """Cleaning, release coats, repair of a mould."""

    id = BigAutoField()
    mould = ForeignKeyField(Mould)
    mould_id: int
    kind = Word(TreatmentKind)
    container = ForeignKeyField(Container, null=True)
    container_id: int | None
    coats = IntegerField(null=True)
    # The count of the mould's pulls at which this coat is used up.
    until_pull = IntegerField(null=True)
    ready_at = Instant(null=True)
    remark = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        indexes = ((("mould", "kind", "occurred_at"), False),)


class Kit(Record):
    """Fabric cut for a part, with clean hands."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    design = ForeignKeyField(Design, null=True)
    design_id: int | None
    cut_at = Instant()
    mass_mg = BigIntegerField(null=True, constraints=[whole("mass_mg")])
    # 3 of 4 for one part.
    number = IntegerField(null=True)
    of = IntegerField(null=True)

    class Meta:
        constraints = [together("number", "of"), Check("number BETWEEN 1 AND of")]


class Cut(Record):
    """One length cut from a roll: cut = kit + offcut + waste."""

    id = BigAutoField()
    kit = ForeignKeyField(Kit)
    kit_id: int
    roll = ForeignKeyField(Container)
    roll_id: int
    movement = ForeignKeyField(Movement, unique=True)
    movement_id: int
    kit_mm = BigIntegerField()
    waste_mm = BigIntegerField()
    offcut_mm = BigIntegerField()
    offcut = ForeignKeyField(Container, null=True)
    offcut_id: int | None
    plies = Json(default=list)
    deed = ForeignKeyField(Deed)
    deed_id: int


class Part(Record):
    """One moulding, with its code from the day it is planned or started, so that an abandoned one is in the record.

    It is one piece from then on until it is shipped, scrapped or part of an assembly.
    """

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    design = ForeignKeyField(Design)
    design_id: int
    mould = ForeignKeyField(Mould, null=True)
    mould_id: int | None
    order = TextField(null=True)
    customer = TextField(null=True)
    # Neither while the part is only planned.
    started_at = Instant(index=True, null=True)
    started_by = ForeignKeyField(Person, null=True)
    started_by_id: int | None
    laid_up_at = Instant(index=True, null=True)
    demoulded_at = Instant(null=True)
    released_at = Instant(null=True)
    released_by = ForeignKeyField(Person, null=True)
    released_by_id: int | None
    shipped_at = Instant(null=True)
    mass_mg = BigIntegerField(null=True, constraints=[whole("mass_mg")])
    # The line of an order that it was planned for.
    line = ForeignKeyField(OrderLine, null=True)
    line_id: int | None
    serial = TextField(null=True)
    # Part number and serial, case folded; nothing once the part is cancelled, so that the serial is free again.
    serial_key = TextField(null=True, unique=True)
    # The scrapped part in whose place it was planned.
    replaces = ForeignKeyField(Item, null=True)
    replaces_id: int | None

    class Meta:
        indexes = ((("mould", "started_at"), False),)
        constraints = [together("released_at", "released_by_id"), together("started_at", "started_by_id")]


# What still lies in a mould, or was given up in it.
Part.add_index(Part.mould, name="part_in_a_mould", where=SQL("demoulded_at IS NULL"))
# What is being built.
Part.add_index(Part.item, name="part_not_released", where=SQL("released_at IS NULL"))


class PlyLaid(Record):
    """One ply as it was laid, by ply or as part of a kit."""

    id = BigAutoField()
    part = ForeignKeyField(Part)
    part_id: int
    number = IntegerField()
    source = ForeignKeyField(Item)
    source_id: int
    angle_deg = DoubleField(null=True)
    face = Word(Face, closed=True, null=True)
    zone = TextField(null=True)
    in_order = BooleanField()
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


class PartStep(Record):
    """A step that takes nothing from stock: tack test, backers, bag, drop test, demould, trim, mass."""

    id = BigAutoField()
    part = ForeignKeyField(Part)
    part_id: int
    kind = Word([*StepKind, *OwnStep])
    facts = Json()
    passed = BooleanField(null=True)
    occurred_at = Instant(index=True)
    deed = ForeignKeyField(Deed)
    deed_id: int


class Inspection(Record):
    id = BigAutoField()
    part = ForeignKeyField(Part)
    part_id: int
    accepted = BooleanField()
    remark = TextField(null=True)
    measurements = Json(default=list)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int


# Few of very many.
Inspection.add_index(Inspection.part, name="inspection_that_rejected", where=SQL("NOT accepted"))


class Nonconformance(Record):
    """What is wrong with an item, found in the shop or by the customer, and what was decided."""

    id = BigAutoField()
    item = ForeignKeyField(Item)
    item_id: int
    found = TextField()
    in_service = BooleanField()
    failed = BooleanField()
    opened_at = Instant()
    opened_by = ForeignKeyField(Person)
    opened_by_id: int
    deed = ForeignKeyField(Deed)
    deed_id: int
    disposition = Word(Disposition, null=True)
    decided_because = TextField(null=True)
    decided_at = Instant(null=True)
    decided_by = ForeignKeyField(Person, null=True)
    decided_by_id: int | None
    decided_in = ForeignKeyField(Deed, null=True)
    decided_in_id: int | None

    class Meta:
        constraints = [together("disposition", "decided_because", "decided_at", "decided_by_id", "decided_in_id")]


Nonconformance.add_index(Nonconformance.id, name="nonconformance_to_decide", where=SQL("decided_at IS NULL"))


class Defect(Record):
    """One defect in the trade's words: what, where, how large."""

    id = BigAutoField()
    inspection = ForeignKeyField(Inspection, null=True)
    inspection_id: int | None
    nonconformance = ForeignKeyField(Nonconformance, null=True)
    nonconformance_id: int | None
    part = ForeignKeyField(Part)
    part_id: int
    kind = Word(DefectKind)
    zone = TextField()
    size_mm = DoubleField(null=True, constraints=[Check("size_mm > 0")])
    limit_mm = DoubleField(null=True)
    accepted = BooleanField()
    remark = TextField(null=True)
    deed = ForeignKeyField(Deed)
    deed_id: int


class Shipment(Record):
    """A part on its way to a customer."""

    id = BigAutoField()
    part = ForeignKeyField(Part)
    part_id: int
    customer = TextField()
    document = TextField()
    shipped_on = DateField()
    deed = ForeignKeyField(Deed)
    deed_id: int
