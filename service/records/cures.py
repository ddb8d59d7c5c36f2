"""Cures: what was asked, what the logger said, what it proves."""

from peewee import AutoField, BigAutoField, BooleanField, ForeignKeyField, IntegerField, TextField

from schemas.words import Evidence
from service.records.base import Instant, Json, Record, one_of, together
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
    evidence = TextField(constraints=[one_of("evidence", Evidence)])
    start_within_min = IntegerField(null=True)
    demould_below_c = IntegerField(null=True)
    approved_at = Instant(null=True)
    approved_by = ForeignKeyField(Person, null=True)
    document = ForeignKeyField(Document, null=True)
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
    schedule = ForeignKeyField(Schedule)
    post_cure = BooleanField()
    started_at = Instant()
    ended_at = Instant(null=True)
    evidence = TextField(null=True, constraints=[one_of("evidence", Evidence)])
    passed = BooleanField(null=True)
    verdict = Json(null=True)
    judged_in = ForeignKeyField(Deed, null=True)


class CureLog(Record):
    """One logger file of a cure: the raw file as a document, and what was read from it."""

    id = BigAutoField()
    cure = ForeignKeyField(Cure)
    logger = ForeignKeyField(Logger)
    document = ForeignKeyField(Document)
    profile = Json()
    # Which probes lie on the part, which in the air.
    part_probes = Json()
    air_probes = Json()
    # {"times_s": [...], "probes": {name: [...]}}, times from the cure's first reading on
    readings = Json()
    first_at = Instant()
    deed = ForeignKeyField(Deed)


class CureReading(Record):
    """A reading taken by hand: minimum and maximum of a thermometer, or a declared temperature."""

    id = BigAutoField()
    cure = ForeignKeyField(Cure)
    low_c = Json()
    high_c = Json()
    remark = TextField(null=True)
    occurred_at = Instant()
    deed = ForeignKeyField(Deed)
