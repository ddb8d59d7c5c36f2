"""Pots: what was planned, what the scales said, what became of it."""

from peewee import (
    BigAutoField,
    BigIntegerField,
    BooleanField,
    Check,
    DoubleField,
    ForeignKeyField,
    IntegerField,
    TextField,
    fn,
)

from schemas.words import Component, Purpose, ReadingSource, Verdict
from service.records.base import Instant, Json, Record, Word, whole
from service.records.items import Item, Movement
from service.records.journal import Deed, Document
from service.records.materials import Container, ResinSystem, Scale, ScaleReading, SystemHardener


class Mix(Record):
    """One pot. Its ratio, tolerance and tables are a frozen copy of the system's, kept with their hash."""

    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    system = ForeignKeyField(ResinSystem)
    system_id: int
    hardener = ForeignKeyField(SystemHardener)
    hardener_id: int
    frozen = ForeignKeyField(Document)
    frozen_id: int
    ratio = DoubleField(constraints=[Check("ratio > 0")])
    tolerance_pct = DoubleField(constraints=[Check("tolerance_pct > 0")])
    purpose = Word(Purpose)
    planned_mg = BigIntegerField(constraints=[Check("planned_mg > 0"), whole("planned_mg")])
    plan = Json(null=True)
    separate_cups = BooleanField(default=False)
    started_at = Instant()
    # First contact of resin and hardener, and the temperature of the mix (or of the air, if that is all there is).
    contact_at = Instant(null=True)
    temperature_c = DoubleField(null=True)
    temperature_of_air = BooleanField(default=False)
    use_before = Instant(null=True)
    life_note = TextField(null=True)
    in_tray_at = Instant(null=True)
    # Verdict as it stands, cached from the pours.
    deviation_pct = DoubleField(null=True)
    uncertainty_pct = DoubleField(null=True)
    verdict = Word(Verdict, closed=True, null=True)
    closed_at = Instant(null=True, index=True)


# A run chart begins with the latest pots.
Mix.add_index(fn.COALESCE(Mix.contact_at, Mix.started_at), Mix.item, name="mix_by_contact")


class PlannedPour(Record):
    """What a started weighing reserves in a container until it is poured, or the pot is given up."""

    id = BigAutoField()
    mix = ForeignKeyField(Mix)
    mix_id: int
    container = ForeignKeyField(Container)
    container_id: int
    component = Word(Component)
    amount_mg = BigIntegerField(constraints=[Check("amount_mg > 0"), whole("amount_mg")])
    settled_at = Instant(null=True)


class Pour(Record):
    """One reading at the scales: what it showed, whether it had been zeroed, who or what read it."""

    id = BigAutoField()
    mix = ForeignKeyField(Mix)
    mix_id: int
    container = ForeignKeyField(Container)
    container_id: int
    movement = ForeignKeyField(Movement, unique=True)
    movement_id: int
    component = Word(Component)
    scale = ForeignKeyField(Scale)
    scale_id: int
    reading_mg = BigIntegerField(constraints=[Check("reading_mg >= 0"), whole("reading_mg")])
    zeroed = BooleanField()
    before_mg = BigIntegerField(constraints=[whole("before_mg")])
    emptied_cup_mg = BigIntegerField(null=True)
    source = Word(ReadingSource, closed=True)
    target_mg = BigIntegerField(null=True)
    correction = BooleanField(default=False)
    # Measured out, or given by a pump: the volume, the strokes, and the standard uncertainty of the mass.
    volume_ul = BigIntegerField(null=True, constraints=[Check("volume_ul > 0")])
    strokes = IntegerField(null=True, constraints=[Check("strokes > 0")])
    uncertainty_mg = DoubleField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
    # What the scale sent, where it was captured.
    received = ForeignKeyField(ScaleReading, null=True)
    received_id: int | None


class Stirring(Record):
    id = BigAutoField()
    mix = ForeignKeyField(Mix)
    mix_id: int
    started_at = Instant()
    ended_at = Instant()
    scraped = BooleanField()
    second_cup = BooleanField()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        constraints = [Check("ended_at >= started_at")]


class Closing(Record):
    """How a pot ended: poured = applied + left + loss. One that was corrected may be followed by another."""

    id = BigAutoField()
    mix = ForeignKeyField(Mix)
    mix_id: int
    applied_mg = BigIntegerField(constraints=[Check("applied_mg >= 0")])
    left_mg = BigIntegerField(constraints=[Check("left_mg >= 0")])
    loss_mg = BigIntegerField(constraints=[Check("loss_mg >= 0")])
    left_estimated = BooleanField()
    loss_estimated = BooleanField()
    cup_kept = BooleanField()
    deed = ForeignKeyField(Deed)
    deed_id: int


class CupCheck(Record):
    """The retained cup next morning: hard or not."""

    id = BigAutoField()
    mix = ForeignKeyField(Mix)
    mix_id: int
    hard = BooleanField()
    hardness = DoubleField(null=True)
    hardness_scale = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
