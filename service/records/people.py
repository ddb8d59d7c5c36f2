"""The site, its people and the keys that open the service."""

from peewee import AutoField, BooleanField, Check, CompositeKey, ForeignKeyField, IntegerField, TextField

from schemas.words import Role
from service.records.base import Instant, Record, Word


class Site(Record):
    """One shop: its time zone and the settings in which shops differ."""

    id = AutoField()
    name = TextField()
    zone = TextField()
    late_after_min = IntegerField(constraints=[Check("late_after_min BETWEEN 1 AND 1440")])
    # How much of the pot life may be gone when a pot is still corrected, in percent (shop rule 20).
    correction_share_pct = IntegerField(constraints=[Check("correction_share_pct BETWEEN 1 AND 100")])
    version = IntegerField(default=1)


class Person(Record):
    id = AutoField()
    name = TextField(unique=True)
    active = BooleanField(default=True)
    version = IntegerField(default=1)


class PersonRole(Record):
    person = ForeignKeyField(Person, backref="roles")
    person_id: int
    role = Word(Role)

    class Meta:
        primary_key = CompositeKey("person", "role")


class AccessKey(Record):
    """A key belongs to a person, or to a system that names the person it acts for. Only its SHA-256 is kept."""

    id = AutoField()
    digest = TextField(unique=True)
    person = ForeignKeyField(Person, null=True)
    person_id: int | None
    system = TextField(null=True)
    role = Word(Role, null=True)
    created_at = Instant()
    revoked_at = Instant(null=True)
    # The code of the badge that opens the pages by this key. Nobody was ever told the key's own secret.
    badge = TextField(null=True, unique=True)

    class Meta:
        constraints = [Check("(person_id IS NULL) <> (system IS NULL)"), Check("(system IS NULL) = (role IS NULL)")]


class BrowserSession(Record):
    """A browser that was given a key, for a shift. It holds a token of its own, of which only the SHA-256 is kept.

    Its forms carry another secret, by which a tap stays the act of whoever the form was drawn for.
    """

    id = AutoField()
    digest = TextField(unique=True)
    key = ForeignKeyField(AccessKey)
    key_id: int
    begun_at = Instant()
    until = Instant()
    ended_at = Instant(null=True)
    form_digest = TextField(null=True, unique=True)

    class Meta:
        constraints = [Check("until > begun_at")]
