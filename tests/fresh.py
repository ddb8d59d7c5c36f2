"""The account that every test begins with: migrated and founded once on each engine, given anew to each test.

SQLite: a copy of the founded file. PostgreSQL: the rows go and the founded ones come back, with the counters as they
were (measured: 10 ms, against 1 s for CREATE DATABASE … TEMPLATE and 0.5 s for a TRUNCATE of all tables); where
anything else than rows has changed, the schema is made again.
"""

import json
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import psycopg

from service.database import connected, database, open_database
from service.operations.door import founding
from service.operations.door.people import make_key
from service.records.people import Person, PersonRole

STAFF = ("laminator", "second laminator", "lead", "second lead", "quality")

# All that is not rows, in one line of figures and letters, and how many bytes the rows lie on.
_SHAPE = """
    SELECT md5(string_agg(said, '|' ORDER BY said)), sum(bytes) FROM (
        SELECT concat_ws(' ', oid, relname, relkind, relhastriggers), pg_relation_size(oid)
        FROM pg_class WHERE relnamespace = 'public'::regnamespace
        UNION ALL SELECT concat_ws(' ', attrelid, attnum, attname, atttypid, attnotnull), 0
        FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid WHERE relnamespace = 'public'::regnamespace
        UNION ALL SELECT concat_ws(' ', oid, conname), 0
        FROM pg_constraint WHERE connamespace = 'public'::regnamespace
        UNION ALL SELECT concat_ws(' ', oid, tgname, tgenabled), 0 FROM pg_trigger WHERE NOT tgisinternal
        UNION ALL SELECT concat_ws(' ', oid, proname, md5(prosrc)), 0
        FROM pg_proc WHERE pronamespace = 'public'::regnamespace
        UNION ALL SELECT concat_ws(' ', 'statistics of', starelid, staattnum), 0
        FROM pg_statistic JOIN pg_class ON pg_class.oid = starelid WHERE relnamespace = 'public'::regnamespace
    ) AS things (said, bytes)
"""


@dataclass(frozen=True)
class Founded:
    """Who is in the account and by which keys they come in."""

    site: int
    people: dict[str, int]
    keys: dict[str, str]


def found(url: str, at: datetime) -> Founded:
    """Make the schema in an empty database, a site, one person in each role, and a key for each."""
    open_database(url)
    with connected():
        founding.migrate()
        first = founding.found(site="Test yard", zone="Europe/Copenhagen", administrator="Ada", at=at)
        people, keys = {"administrator": first.administrator}, {"administrator": first.key}
        for who in STAFF:
            person = Person.create(name=who.title())
            PersonRole.create(person=person, role=who.split()[-1])
            people[who] = person.id
            keys[who], _ = make_key(person=person.id, system=None, at=at)
        keys["integrator"], _ = make_key(person=None, system="orders", at=at)
    database.close_all()
    return Founded(site=first.site, people=people, keys=keys)


class OnSqlite:
    def __init__(self, folder: Path, at: datetime) -> None:
        self._file = folder / "founded.db"
        self._founded = found(f"sqlite:///{self._file}", at)
        assert [f.name for f in folder.iterdir()] == ["founded.db"], "a journal beside the file would be left behind"

    def renew(self, url: str) -> Founded:
        """Put a founded account into the file that ``url`` names, to which nobody is connected."""
        path = url.removeprefix("sqlite:///")
        for part in ("-wal", "-shm"):
            Path(path + part).unlink(missing_ok=True)
        shutil.copyfile(self._file, path)
        return self._founded


class OnPostgresql:
    def __init__(self, url: str, at: datetime, full_bytes: int = 24_000_000) -> None:
        """``full_bytes``: deleted rows stay on their pages, so from this size on the pages are thrown away."""
        self._url, self._at, self._full_bytes = url, at, full_bytes
        self._db = psycopg.connect(url, autocommit=True)
        self._db.execute("SET session_replication_role = replica")  # the guards and the references keep still
        self._shape: str | None = None

    def renew(self, url: str) -> Founded:
        """Put a founded account into the database that ``url`` names; only one is known here."""
        assert url == self._url
        shape, size = self._look()
        if shape != self._shape:
            self._make()
            return self._founded
        if size > self._full_bytes:
            self._db.execute(f"TRUNCATE {', '.join(self._tables)}")
        self._db.execute(self._begin_again)
        return self._founded

    def close(self) -> None:
        self._db.close()

    def _make(self) -> None:
        self._db.execute("DROP SCHEMA public CASCADE")
        self._db.execute("CREATE SCHEMA public")
        self._founded = found(self._url, self._at)
        self._tables = self._column("SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public'")
        self._begin_again = "; ".join(
            [f"DELETE FROM {table}" for table in self._tables]
            + [self._rows_of(table) for table in self._tables]
            + self._column(
                "SELECT format('SELECT setval(%L, %s, %L)', quote_ident(sequencename), coalesce(last_value, 1),"
                " last_value IS NOT NULL) FROM pg_sequences WHERE schemaname = 'public'"
            )
        )
        self._shape, _ = self._look()

    def _rows_of(self, table: str) -> str:
        """A statement that puts the rows back that are there now."""
        rows = self._column(f"SELECT to_json(row) FROM {table} AS row")
        listed = psycopg.sql.Literal(json.dumps(rows)).as_string(self._db)
        return f"INSERT INTO {table} SELECT * FROM json_populate_recordset(NULL::{table}, {listed})" if rows else ""

    def _look(self) -> tuple[str, int]:
        row = self._db.execute(_SHAPE).fetchone()
        assert row is not None
        return str(row[0]), int(row[1] or 0)

    def _column(self, query: str) -> list[Any]:
        return [row[0] for row in self._db.execute(query).fetchall()]
