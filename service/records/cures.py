"""Cures: what was asked, what the logger said, what it proves."""

from peewee import (
    AutoField,
    BigAutoField,
    BooleanField,
    Check,
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
    # [{"name", "low_c", "high_c", "minimum_min", "maximum_min", "heating_limit_k_min", "cooling_limit_k_min",
    #   "over_c", "may_be_split"}]
    stages = Json()
    evidence = Word(Evidence, closed=True)
    start_within_min = IntegerField(null=True, constraints=[Check("start_within_min > 0")])
    demould_below_c = DoubleField(null=True)
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
    version = IntegerField(default=1)


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
    # Which probes lie on the part, which in the air; the others of the file are kept and prove nothing.
    part_probes = Json()
    air_probes = Json()
    # {"times_s": [...], "probes": {name: [...]}}, times from the log's first reading on
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
    remark = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int

    class Meta:
        constraints = [
            together("low_c", "high_c"),
            Check("low_c IS NULL OR low_c <= high_c"),
            Check(f"(kind = '{Evidence.DECLARED}') = (low_c IS NULL)"),
        ]
