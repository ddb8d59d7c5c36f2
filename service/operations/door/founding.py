"""The first act of all: the schema, the site, the administrator and their key."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from playhouse.migrations import Runner

from schemas.words import Role
from service.database import connected, database, writing
from service.operations.door.people import make_key
from service.records.people import Person, PersonRole, Site

_MIGRATIONS = str(Path(__file__).resolve().parents[2] / "migrations")


@dataclass(frozen=True, slots=True)
class Founded:
    site: int
    administrator: int
    key: str


def pending_steps() -> list[str]:
    """Schema steps that this version brings and this database has not had yet."""
    with connected():
        return [step.name for step in Runner(database.obj, _MIGRATIONS).status() if step.path and not step.applied]


def unknown_steps() -> list[str]:
    """Schema steps that this database has had and this version does not know: it is older than its database."""
    with connected():
        return [step.name for step in Runner(database.obj, _MIGRATIONS).status() if step.path is None]


def migrate() -> list[str]:
    """Apply what is pending, each step whole or not at all."""
    with connected():
        return list(Runner(database.obj, _MIGRATIONS).up())


def found(*, site: str, zone: str, administrator: str, at: datetime) -> Founded:
    """Make the site and the first person, who is its administrator, with a key that is shown once."""
    with writing():
        row = Site.create(name=site, zone=zone, late_after_min=15, correction_share_pct=25)
        person = Person.create(name=administrator)
        PersonRole.create(person=person, role=Role.ADMINISTRATOR)
        secret, _ = make_key(person=person.id, system=None, at=at)
    return Founded(site=row.id, administrator=person.id, key=secret)


def is_founded() -> bool:
    with connected():
        return bool(Site.table_exists() and Site.select().exists())
