"""The first act of all: the schema, the site, the administrator and their key."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from playhouse.migrations import Runner

from schemas.words import Role
from service.database import connected, database, through_a_step, writing
from service.migrations.steps import ample_memory
from service.operations.door import entry
from service.operations.door.act import by_the_machine
from service.operations.door.marking import marked_anew
from service.operations.door.people import make_key
from service.records.bound import changes
from service.records.people import MACHINE, MACHINE_NAME, Person, PersonRole, SigningKey, Site

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


def all_steps() -> list[str]:
    """Schema steps that this version brings, in their order."""
    with connected():
        return [step.name for step in Runner(database.obj, _MIGRATIONS).migrations()]


def make_schema(until: str) -> None:
    """Give a database without an account the schema that it had after that step."""
    with connected(), ample_memory(), through_a_step():
        Runner(database.obj, _MIGRATIONS).up(until)


def migrate(*, at: datetime | None = None, steps: str = _MIGRATIONS) -> list[str]:
    """Apply what is pending, all of it or nothing. In an account with history, rows that a step changed are named in
    the journal, for which the time is needed."""
    with connected(), ample_memory(), through_a_step():
        runner = Runner(database.obj, steps)
        pending = [step.name for step in runner.status() if step.path and not step.applied]
        if not pending or not is_founded():
            return list(runner.up())
        if at is None:
            raise ValueError("an account with history is brought up to date at a time")
        # As the runner does it for each step: SQLite follows references or not for the length of a transaction.
        with runner.migrator.migration_context(), marked_anew(pending, at, had=sorted(runner.applied())):
            return list(runner.up())


def found(*, site: str, zone: str, administrator: str, at: datetime) -> Founded:
    """Make the site and the first person, who is its administrator, with a key that is shown once."""
    with writing(), changes() as changed:
        row = Site.create(name=site, zone=zone, late_after_min=15, correction_share_pct=25)
        Person.create(id=MACHINE, name=MACHINE_NAME, is_system=True, since=at)
        person = Person.create(name=administrator)
        PersonRole.create(person=person, role=Role.ADMINISTRATOR)
        secret, _ = make_key(person=person.id, system=None, at=at)
        act = by_the_machine(row.id, at, device="command line")
        deed = entry.begin(act, "found_account", late_after_min=row.late_after_min)
        asked = {"site": site, "zone": zone, "administrator": administrator}
        said = {"asked": asked, "notes": [{"schema": sorted(Runner(database.obj, _MIGRATIONS).applied())}]}
        entry.seal(act, deed, "found_account", said, changed=changed, touched={}, zone=zone)
    return Founded(site=row.id, administrator=person.id, key=secret)


def is_founded() -> bool:
    with connected():
        return bool(Site.table_exists() and Site.select().exists())


def has_secrets() -> bool:
    """Does anybody sign here already, so that their secrets need the pepper that they were made with?"""
    return bool(SigningKey.table_exists() and SigningKey.select().exists())
