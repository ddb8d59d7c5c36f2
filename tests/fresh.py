"""The account that every test begins with: migrated and founded once on each engine, given anew to each test.

SQLite: a copy of the founded file. PostgreSQL: the rows go and the founded ones come back, with the counters as they
were (measured: 10 ms, against 1 s for CREATE DATABASE … TEMPLATE and 0.5 s for a TRUNCATE of all tables); where
anything else than rows has changed, the schema is made again.

What many tests do first can be marked ``made_once``: what it made of a fresh account is kept and put back.
"""

import functools
import os
import shutil
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
from psycopg.sql import Literal

from schemas.words import Role, Scope
from service.database import connected, database, on_postgresql, open_database
from service.operations.door import founding, signatures
from service.operations.door.act import Act
from service.operations.door.people import add_key, add_person
from service.operations.door.signatures import Signing
from service.operations.door.signing import new_token, set_secret
from service.records.people import AccessKey, SigningKey

# The file, beside the founded accounts, that guards the secrets of their people.
PEPPER = "potmark-secrets.key"

# For so long they are here already, so that tests tell of days before that on which they begin.
SINCE = timedelta(days=700)

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
    # Each person's secret, a token that signs for as long as any test takes, and the key that signs.
    secrets: dict[str, str]
    tokens: dict[str, str]
    signers: dict[str, Signing]


def found(url: str, at: datetime, pepper: Path) -> Founded:
    """Make the schema in an empty database, a site, one person in each role, and a key and a secret for each."""
    open_database(url)
    signatures.make_pepper(pepper)
    signatures.look_in(pepper)
    with connected():
        founding.migrate()
        first = founding.found(site="Test yard", zone="Europe/Copenhagen", administrator="Ada", at=at)
        people, keys = {"administrator": first.administrator}, {"administrator": first.key}
        boss = Act(first.administrator, frozenset({Role.ADMINISTRATOR}), first.site, occurred_at=at, recorded_at=at)
        for who in STAFF:
            person = add_person(
                replace(boss, occurred_at=at - SINCE), name=who.title(), roles=[who.split()[-1]], with_key=True
            )
            people[who] = person.id
            keys[who] = str(person.secret)
        keys["integrator"] = str(add_key(boss, system="orders", scopes=list(Scope)).secret)
        secrets, tokens, signers = {}, {}, {}
        for number, (who, person) in enumerate(people.items()):
            secrets[who] = f"48{90_210 + number}"
            keys[who], tokens[who], signers[who] = settle_in(
                Act(person, frozenset(), first.site, occurred_at=at, recorded_at=at), secrets[who]
            )
    database.close_all()
    return Founded(first.site, people, keys, secrets, tokens, signers)


def settle_in(act: Act, secret: str) -> tuple[str, str, Signing]:
    """A person who was just given a key makes it theirs and sets a secret: key, token without an end, and signer."""
    key = AccessKey.get(AccessKey.person == act.person)
    act = replace(act, key=key.id, roles=frozenset({Role.LAMINATOR}))
    own = str(set_secret(act, secret=secret).secret)
    row = SigningKey.get((SigningKey.person == act.person) & SigningKey.ended_at.is_null())
    seed = signatures.derive(secret, row.salt, row.cost)
    token = new_token(row.id, seed, access_key=key.id, until=act.recorded_at + timedelta(days=36_500))
    return own, token, Signing(person=act.person, key=row.id, seed=seed)


class OnSqlite:
    """Accounts are files; one is kept by copying it, and the file that a test works on is always another."""

    def __init__(self, folder: Path, at: datetime) -> None:
        self._folder = folder
        self._founded = found(f"sqlite:///{folder}/0.db", at, folder / PEPPER)
        self._kept = 0

    def renew(self, url: str) -> Founded:
        """Put a founded account into the file that ``url`` names, to which nobody is connected."""
        self.put_back(url, 0)
        return self._founded

    def is_untouched(self, url: str) -> bool:
        """Has nothing been written since the account was kept or put back?"""
        return self._state(url) == self._begun

    def keep(self, url: str) -> int:
        """Remember the account as it is; the number to put it back by."""
        self._kept += 1
        shutil.copyfile(self._path(url), self._folder / f"{self._kept}.db")
        self._mark(url)
        return self._kept

    def put_back(self, url: str, kept: int) -> None:
        path = self._path(url)
        for part in ("-wal", "-shm"):
            Path(f"{path}{part}").unlink(missing_ok=True)
        shutil.copyfile(self._folder / f"{kept}.db", path)
        self._mark(url)

    def _mark(self, url: str) -> None:
        os.utime(self._path(url), (0, 0))  # so that a write shows, however soon it comes
        self._begun = self._state(url)

    def _state(self, url: str) -> tuple[int, int]:
        path = self._path(url)
        journal = Path(f"{path}-wal")
        return path.stat().st_mtime_ns, journal.stat().st_size if journal.exists() else 0

    def _path(self, url: str) -> Path:
        return Path(url.removeprefix("sqlite:///"))


class OnPostgresql:
    """One database; an account is kept as the statements that put its rows back."""

    def __init__(self, url: str, at: datetime, folder: Path, full_bytes: int = 24_000_000) -> None:
        """``full_bytes``: deleted rows stay on their pages, so from this size on the pages are thrown away."""
        self._url, self._at, self._full_bytes = url, at, full_bytes
        self._pepper = folder / PEPPER
        self._db = psycopg.connect(url, autocommit=True)
        self._db.execute("SET session_replication_role = replica")  # the guards and the references keep still
        self._shape: str | None = None
        self._kept: list[str] = []

    def renew(self, url: str) -> Founded:
        """Put a founded account into the database that ``url`` names; only one is known here."""
        assert url == self._url
        shape, size = self._look()
        if shape != self._shape:
            self._make()
        elif size > self._full_bytes:
            self._db.execute(f"TRUNCATE {', '.join(self._tables)}")
        self.put_back(url, 0)
        return self._founded

    def is_untouched(self, url: str) -> bool:
        """Has nothing been written since the account was kept or put back?"""
        return url == self._url and self._last_transaction() == self._begun

    def keep(self, url: str) -> int:
        """Remember the account as it is; the number to put it back by."""
        self._kept.append(self._statements())
        self._begun = self._last_transaction()
        return len(self._kept) - 1

    def put_back(self, url: str, kept: int) -> None:
        self._db.execute(self._kept[kept])
        self._begun = self._last_transaction()

    def _make(self) -> None:
        self._db.execute("DROP SCHEMA public CASCADE")
        self._db.execute("CREATE SCHEMA public")
        if not self._kept:
            self._founded = found(self._url, self._at, self._pepper)
            self._tables = self._column("SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public'")
            self.keep(self._url)
        else:  # the schema alone: who was founded stays who they are, with the keys that they have
            open_database(self._url)
            founding.migrate()
            database.close_all()
        self._shape, _ = self._look()

    def _statements(self) -> str:
        """Statements, sent as one, after which the rows and the counters are what they are now."""
        rows = " UNION ALL ".join(f"SELECT '{t}', json_agg(row)::text FROM {t} AS row" for t in self._tables)
        found = self._db.execute(f"SELECT * FROM ({rows}) AS found (t, listed) WHERE listed IS NOT NULL").fetchall()
        held = [(t, Literal(listed).as_string(self._db)) for t, listed in found]
        return "; ".join(
            [f"DELETE FROM {table}" for table in self._tables]
            + [f"INSERT INTO {t} SELECT * FROM json_populate_recordset(NULL::{t}, {listed})" for t, listed in held]
            + self._column(
                "SELECT format('SELECT setval(%L, %s, %L)', quote_ident(sequencename), coalesce(last_value, 1),"
                " last_value IS NOT NULL) FROM pg_sequences WHERE schemaname = 'public'"
            )
        )

    def _look(self) -> tuple[str, int]:
        row = self._db.execute(_SHAPE).fetchone()
        assert row is not None
        return str(row[0]), int(row[1] or 0)

    def _last_transaction(self) -> int:
        return int(self._column("SELECT pg_snapshot_xmax(pg_current_snapshot())::text")[0])

    def _column(self, query: str) -> list[Any]:
        return [row[0] for row in self._db.execute(query).fetchall()]

    def close(self) -> None:
        self._db.close()


@dataclass(frozen=True)
class Made:
    """What was made of an account: where it is kept, what time it was then, and what the maker noted and answered."""

    number: int
    now: datetime
    noted: dict[str, Any]
    answer: Any
    api: Any


@dataclass
class Accounts:
    """Founded accounts, by engine, made at the first use of each; and what was made of them."""

    folder: Path
    at: datetime
    _on: dict[str, OnSqlite | OnPostgresql] = field(default_factory=dict)
    _made: dict[Any, Made] = field(default_factory=dict)
    # How the account came to be what it is, if nobody has done anything else since.
    _way: tuple[Any, ...] = ()

    def renew(self, url: str) -> Founded:
        """Let ``url`` name an account in which nothing has happened, and open it."""
        kind = url.partition(":")[0]
        if database.obj is not None:
            database.close_all()
        if kind not in self._on:
            self._on[kind] = (
                OnSqlite(self.folder, self.at) if kind == "sqlite" else OnPostgresql(url, self.at, self.folder)
            )
        founded = self._on[kind].renew(url)
        self._way = (kind,)
        open_database(url)
        signatures.look_in(self.folder / PEPPER)
        return founded

    def made(self, name: Any, api: Any, build: Callable[[], Any]) -> Any:
        """``build()``; or what came of it the last time, if it was called on just such an account before."""
        on = self._on[api.url.partition(":")[0]]
        if not self._is_as_made(on, api):
            return build()
        database.close_all()
        way = (*self._way, name)
        if way in self._made:
            made = self._made[way]
            on.put_back(api.url, made.number)
            api.shop.clock.now = made.now
            noted, answer = _about(api, made)
            vars(api).update(noted)
        else:
            answer = build()
            database.close_all()
            self._made[way] = Made(
                on.keep(api.url), api.shop.clock.now, *deepcopy((_noted(api), answer), {id(api): api}), api
            )
        self._way = way
        return answer

    def _is_as_made(self, on: OnSqlite | OnPostgresql, api: Any) -> bool:
        before = self._made.get(self._way)
        now, noted = (self.at, {}) if before is None else (before.now, _about(api, before)[0])
        return on.is_untouched(api.url) and api.shop.clock.now == now and _noted(api) == noted

    def close(self) -> None:
        for one in self._on.values():
            if isinstance(one, OnPostgresql):
                one.close()


def _about(api: Any, made: Made) -> tuple[dict[str, Any], Any]:
    """What was noted and answered, as of this ``Api``; a copy, since a test may change it."""
    copied: tuple[dict[str, Any], Any] = deepcopy((made.noted, made.answer), {id(made.api): api})
    return copied


def _noted(api: Any) -> dict[str, Any]:
    return {name: value for name, value in vars(api).items() if name not in api.__dataclass_fields__}


def made_once(build: Callable[..., Any]) -> Callable[..., Any]:
    """Mark a function of an ``Api`` that many tests begin with.

    Called on a fresh account, or right after another such function, it runs once a session for each of its arguments.
    """

    @functools.wraps(build)
    def made(api: Any, *which: Any, **facts: Any) -> Any:
        name = (build.__module__, build.__qualname__, repr(which), repr(facts))
        return api.accounts.made(name, api, lambda: build(api, *which, **facts))

    return made


def clear() -> None:
    """Leave nothing at all in the database that is open."""
    if on_postgresql():
        database.execute_sql("DROP SCHEMA public CASCADE")
        database.execute_sql("CREATE SCHEMA public")
        return
    database.execute_sql("PRAGMA foreign_keys = 0")
    for (name,) in database.execute_sql("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        database.execute_sql(f'DROP TABLE "{name}"')
