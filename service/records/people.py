"""The site, its people and the keys that open the service."""

from peewee import (
    AutoField,
    BooleanField,
    Check,
    CompositeKey,
    DoubleField,
    ForeignKeyField,
    IntegerField,
    TextField,
)

from schemas.words import Role
from service.records.base import Instant, Json, Record, Word


class Site(Record):
    """One shop: its time zone and the settings in which shops differ."""

    id = AutoField()
    name = TextField()
    zone = TextField()
    late_after_min = IntegerField(constraints=[Check("late_after_min BETWEEN 1 AND 1440")])
    # How much of the pot life may be gone when a pot is still corrected, in percent (shop rule 20).
    correction_share_pct = IntegerField(constraints=[Check("correction_share_pct BETWEEN 1 AND 100")])
    # How many characters the secret has at least that a person signs with.
    secret_least = IntegerField(default=6, constraints=[Check("secret_least BETWEEN 6 AND 64")])
    # For what there is no second person here, and why: printed with what was done alone.
    alone_in = Json(null=True)
    alone_because = TextField(null=True)
    # The shop's calendar: days of the week, from and until, days on which it is closed. Nothing: every day, all of it.
    weekdays = Json(null=True)
    opens_at = TextField(null=True)
    closes_at = TextField(null=True)
    closed_on = Json(null=True)
    # How long a part takes its mould, where the mould itself does not say.
    mould_hours = DoubleField(null=True, constraints=[Check("mould_hours > 0")])
    # Of prices: three letters by ISO 4217.
    currency = TextField(null=True)
    version = IntegerField(default=1)


# The number of the service itself, in whose name the command line and the program's own entries stand. It is nobody's
# to be looked up, named or changed by number: those of people begin at 1.
MACHINE = 0
MACHINE_NAME = "Potmark"


class Person(Record):
    id = AutoField()
    name = TextField(unique=True)
    active = BooleanField(default=True)
    # From when on they did things here; nothing of whoever was here before the account.
    since = Instant(null=True)
    # A program that acts in its own name: it has no secret and signs nothing.
    is_system = BooleanField(default=False)
    version = IntegerField(default=1)


class PersonRole(Record):
    person = ForeignKeyField(Person, backref="roles")
    person_id: int
    role = Word(Role)

    class Meta:
        primary_key = CompositeKey("person", "role")


class AccessKey(Record):
    """A key belongs to a person, or to a system, which acts in its own name. Only its SHA-256 is kept."""

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
    # When its person made it one that nobody else knows: whoever handed it out had seen it.
    claimed_at = Instant(null=True)
    # Of a system's key: in whose name it acts, and what it is let do.
    acts_as = ForeignKeyField(Person, null=True)
    acts_as_id: int | None
    scopes = Json(null=True)

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
    # The name that the tablet was given when somebody first signed on at it, and what its browser calls itself.
    tablet = TextField(null=True)
    browser = TextField(null=True)

    class Meta:
        constraints = [Check("until > begun_at")]


class SigningKey(Record):
    """The public half of the key that a person's secret gives; the secret is kept nowhere. One of them is in use."""

    id = AutoField()
    person = ForeignKeyField(Person)
    person_id: int
    public_key = TextField()
    salt = TextField()
    cost = TextField()
    # Made with the pepper, which is not in the database: nobody else can put a key here that counts.
    voucher = TextField()
    made_at = Instant()
    ended_at = Instant(null=True)


class SecretReset(Record):
    """Somebody forgot their secret: one person asks that it be set anew, another agrees."""

    id = AutoField()
    person = ForeignKeyField(Person)
    person_id: int
    why = TextField()
    asked_at = Instant()
    asked_by = ForeignKeyField(Person)
    asked_by_id: int
    agreed_at = Instant(null=True)
    agreed_by = ForeignKeyField(Person, null=True)
    agreed_by_id: int | None


class SecretTry(Record):
    """How many wrong secrets were tried for a person since the last right one."""

    person = ForeignKeyField(Person, primary_key=True)
    person_id: int
    failed = IntegerField()


class SigningToken(Record):
    """A person has given their secret just now: until then they sign with what opens ``sealed``, which is not kept."""

    digest = TextField(primary_key=True)
    signing_key = ForeignKeyField(SigningKey)
    signing_key_id: int
    access_key = ForeignKeyField(AccessKey)
    access_key_id: int
    sealed = TextField()
    until = Instant()
