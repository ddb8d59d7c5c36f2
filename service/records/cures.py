"""Cures: what was asked, what the logger said, what it proves."""

from peewee import (
    AutoField,
    BigAutoField,
    BooleanField,
    Check,
    DateField,
    DoubleField,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from schemas.words import Evidence
from service.records.base import Instant, Json, Record, Word, together
from service.records.items import Item
from service.records.journal import Deed, Document
from service.records.people import Person


class Schedule(Record):
    """One revision of a cure in stages. Locked once it is approved."""

    id = AutoField()
    name = TextField()
    revision = IntegerField()
    source = TextField()
    # Each the fields of formulas.stages.Stage.
    stages = Json()
    # Each the fields of formulas.pressure_bands.PressureBand, from and until when: a stage's name, or the whole cure.
    pressures = Json(default=list)
    longest_interval_min = DoubleField(constraints=[Check("longest_interval_min > 0 AND longest_interval_min <= 60")])
    # Of an oven whose swings thin parts follow: from one switching on of its heating to the next.
    oven_cycle_min = DoubleField(null=True, constraints=[Check("oven_cycle_min > 0")])
    evidence = Word(Evidence, closed=True)
    start_within_min = IntegerField(null=True, constraints=[Check("start_within_min > 0")])
    demould_below_c = DoubleField(null=True)
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
        indexes = ((("name", "revision"), True),)
        constraints = [together("approved_at", "approved_by_id")]


class Logger(Record):
    """A data logger and how its files are to be read."""

    id = AutoField()
    name = TextField(unique=True)
    profile = Json(null=True)
    # What its sensors can read; beyond it a reading is not one.
    sensor_low_c = DoubleField(null=True)
    sensor_high_c = DoubleField(null=True)
    version = IntegerField(default=1)
    # When it was last calibrated, by whom and with what paper, and until when that counts.
    calibrated_on = DateField(null=True)
    calibration = TextField(null=True)
    calibration_due_on = DateField(null=True)

    class Meta:
        constraints = [
            together("sensor_low_c", "sensor_high_c"),
            Check("sensor_low_c < sensor_high_c"),
            together("calibrated_on", "calibration"),
            Check("calibration_due_on > calibrated_on"),
        ]


class Cure(Record):
    item = ForeignKeyField(Item, primary_key=True, lazy_load=False)
    item_id: int
    schedule = ForeignKeyField(Schedule)
    schedule_id: int
    post_cure = BooleanField()
    started_at = Instant()
    ended_at = Instant(null=True)
    # The verdict as it stands, cached: it can be worked out again from the logs and readings.
    evidence = Word(Evidence, closed=True, null=True)
    passed = BooleanField(null=True)
    verdict = Json(null=True)
    judged_in = ForeignKeyField(Deed, null=True)
    judged_in_id: int | None

    class Meta:
        constraints = [Check("ended_at IS NULL OR ended_at >= started_at"), together("ended_at", "passed")]


class CureLog(Record):
    """One logger file of a cure: the raw file as a document, and what was read from it."""

    id = BigAutoField()
    cure = ForeignKeyField(Cure)
    cure_id: int
    logger = ForeignKeyField(Logger)
    logger_id: int
    document = ForeignKeyField(Document)
    document_id: int
    profile = Json()
    # Which probes lie on the part, which in the air. Each probe of the file is named once.
    part_probes = Json()
    air_probes = Json()
    # {probe: [codes]}: for which parts a probe stands; {probe: reason}: left out; measuring something else.
    stands_for = Json(default=dict)
    left_out = Json(default=dict)
    elsewhere = Json(default=list)
    # {name: what it measures} of the gauges: vacuum, pressure or absolute
    gauges = Json(default=dict)
    # {"times_s": [...], "probes": {name: [...]}, "gauges": {name: [...]}}, times from the log's first reading on
    readings = Json()
    # {"rows", "missing", "notes", "probes": {name: {"lowest_c", "highest_c"}}}
    summary = Json()
    first_at = Instant()
    last_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        constraints = [Check("last_at >= first_at")]


class CureReading(Record):
    """What a person says of a cure: minimum and maximum of a thermometer, or a declaration without a measurement."""

    id = BigAutoField()
    cure = ForeignKeyField(Cure)
    cure_id: int
    kind = Word([Evidence.MINIMUM_MAXIMUM, Evidence.DECLARED], closed=True)
    low_c = DoubleField(null=True)
    high_c = DoubleField(null=True)
    # When the thermometer was reset; it was read at `occurred_at`.
    reset_at = Instant(null=True)
    remark = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        constraints = [
            together("low_c", "high_c", "reset_at"),
            Check("reset_at IS NULL OR reset_at <= occurred_at"),
            Check("low_c IS NULL OR low_c <= high_c"),
            Check(f"(kind = '{Evidence.DECLARED}') = (low_c IS NULL)"),
        ]
