"""The one database, SQLite or PostgreSQL; what differs between the two lives here alone.

Instants are kept as whole microseconds in UTC, since an aware datetime comes back from PostgreSQL shifted and naive.
"""

import itertools
import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

from peewee import DatabaseProxy, IntegrityError, ModelSelect, OperationalError, PeeweeException, PostgresqlDatabase, fn
from playhouse.db_url import connect, register_database
from playhouse.pool import PooledPostgresqlDatabase, PooledSqliteDatabase

from service.kept_sql import composed

database = DatabaseProxy()

# Tables whose rows no entry of the journal names, and why not. All others are bound (see records/bound.py).
NOT_BOUND = {
    "entry": "it is the chain itself, each entry bound by the hash of the one before it",
    "head": "it repeats the last entry, and is compared with it",
    "item_change": "it repeats, for who follows, which parts, lots and orders the bound rows of an entry concern",
    "answer": "it keeps what was answered, so that the same request is answered again; nothing else reads it",
    "secret_try": "it counts wrong secrets of a person, before there is any act and however it ends",
    "signing_token": "it opens signing for some minutes and is swept away; what was signed proves itself",
    "webhook_progress": "it says how far the telling of the journal has come; nothing of the account rests on it",
    "webhook_delivery": "it is what is told of the journal on its way out; nothing of the account rests on it",
    "schema_migration": "it says which steps the schema has had, before there was any chain",
}


# SQLite lets anybody put text that is none into a column, and says so as it is fetched, past what peewee wraps.
NotText = sqlite3.OperationalError


class NotBound(RuntimeError):
    """Something would write a row that no entry of the journal could name: a fault of the program, never a refusal."""


_writer: ContextVar[str | None] = ContextVar("who writes", default=None)  # a hook, a step, or nobody who may

_WRITES = re.compile(
    r"(?<!FOR )\b(?:INSERT(?:\s+OR\s+\w+)?\s+INTO|REPLACE\s+INTO|UPDATE(?:\s+OR\s+\w+)?|DELETE\s+FROM|MERGE\s+INTO"
    r'|TRUNCATE(?:\s+TABLE)?|COPY)\s+(?:ONLY\s+)?(?:temp\.)?"?(\w+)',
    re.IGNORECASE,
)
_MAY_WRITE = ("INSERT", "UPDATE", "DELETE", "REPLAC", "MERGE ", "TRUNCA", "COPY", "WITH")


@contextmanager
def through_a_hook() -> Iterator[None]:
    """Write where every row is seen and hashed."""
    with _writing_as("hook"):
        yield


@contextmanager
def through_a_step() -> Iterator[None]:
    """Write rows for a step of the schema, whose tables are marked anew when it is done."""
    with _writing_as("step"):
        yield


@contextmanager
def _writing_as(who: str) -> Iterator[None]:
    before = _writer.set(who)
    try:
        yield
    finally:
        _writer.reset(before)


def seen_by_a_hook() -> bool:
    """Is the statement that is being sent one of a hook's own?"""
    return _writer.get() == "hook"


class _Guarded:
    """Refuses a statement that would write a bound table and has not come through a hook."""

    def execute_sql(self, sql: str, params: Any = None) -> Any:
        if _writer.get() is None:
            begin = sql.lstrip()[:6].upper()
            if begin.startswith(_MAY_WRITE) or (begin == "SELECT" and ";" in sql):
                for table in _WRITES.findall(sql):
                    if table not in NOT_BOUND and not table.startswith(SCRATCH):
                        raise NotBound(f"{table} is written by a statement whose rows are not seen: {sql[:80]}")
        return super().execute_sql(sql, params)  # type: ignore[misc]

    def execute(self, query: Any) -> Any:
        return self.execute_sql(*composed(self, query))


SCRATCH = "scratch_"  # names of temporary tables, what a check puts down for itself, begin so


class GuardedSqliteDatabase(_Guarded, PooledSqliteDatabase):
    pass


class GuardedPostgresqlDatabase(_Guarded, PooledPostgresqlDatabase):
    pass


register_database(GuardedSqliteDatabase, "sqlite+pool")
register_database(GuardedPostgresqlDatabase, "postgresql+pool")

S = TypeVar("S", bound="ModelSelect[Any]")

# SQLSTATE of a PostgreSQL deadlock and of a serialization failure: both mean "run it again".
_AGAIN = ("40P01", "40001")
_LOCK_NOT_AVAILABLE, _UNIQUE_VIOLATION = "55P03", "23505"


def open_database(url: str, *, connections: int = 20) -> Any:
    """Make ready the database that ``url`` names, without connecting: a connection must not cross a fork.

    ``connections`` are as many as threads may use at once.
    """
    if url.startswith("sqlite"):
        opened = connect(
            url.replace("sqlite:", "sqlite+pool:", 1),
            autoconnect=False,
            lock_type="IMMEDIATE",
            check_same_thread=False,
            max_connections=connections,
            stale_timeout=300,
            pragmas={"journal_mode": "wal", "synchronous": "full", "foreign_keys": 1, "busy_timeout": 10_000},
        )
    else:
        rest = url.split(":", 1)[1]
        opened = connect(
            f"postgresql+pool:{rest}",
            autoconnect=False,
            max_connections=connections,
            timeout=10,
            stale_timeout=300,
            unquote_user=True,
            unquote_password=True,
            # Compiling a statement takes longer than any of ours runs; and a row is looked up by its index, where for a
            # disk with arms the planner reads a small table anew for each row.
            options="-c lock_timeout=10s -c timezone=UTC -c jit=off -c random_page_cost=1.1",
        )
    database.initialize(opened)
    return opened


def on_postgresql() -> bool:
    return isinstance(database.obj, PostgresqlDatabase)


@contextmanager
def connected() -> Iterator[None]:
    """Have a connection for the length of the block, the one that is open already if there is one."""
    if not database.is_closed():
        yield
        return
    database.connect()
    try:
        yield
    finally:
        database.close()


@contextmanager
def reading() -> Iterator[None]:
    """One snapshot, in which nothing can be written on PostgreSQL and nothing is written on SQLite."""
    with connected():
        if database.in_transaction():
            yield
            return
        with database.atomic("REPEATABLE READ READ ONLY" if on_postgresql() else "DEFERRED"):
            yield


@contextmanager
def writing() -> Iterator[None]:
    """One transaction that holds the right to write from its first line (SQLite) or takes locks as it goes."""
    with connected(), database.atomic():
        yield


def locked(query: S) -> S:
    """Ask for the rows' locks where the engine has them; SQLite's writer is alone already."""
    return query.for_update() if on_postgresql() else query


def each(table: str, alias: str, on: str) -> str:
    """Join a table to what stands before it by looking each row up, by the index of the column that ``on`` names.

    SQLite turns tables around unless it is told CROSS JOIN; PostgreSQL hashes the whole table where it expects many
    rows, unless OFFSET 0 keeps the subquery apart. Where SQLite expects many rows, as behind a recursive query, or the
    statement asks more of a row than ``on``, it reads all of the table into a Bloom filter first, once it has
    statistics; a condition that says IN (x) in place of = x spares it that.
    """
    if on_postgresql():
        return f'CROSS JOIN LATERAL (SELECT * FROM "{table}" {alias} WHERE {on} OFFSET 0) {alias}'
    return f'CROSS JOIN "{table}" {alias} ON {on}'


def each_or_none(table: str, alias: str, on: str) -> str:
    """The same as an outer join."""
    if on_postgresql():
        return f'LEFT JOIN LATERAL (SELECT * FROM "{table}" {alias} WHERE {on} OFFSET 0) {alias} ON TRUE'
    return f'LEFT JOIN "{table}" {alias} ON {on}'


def one_of_few(column: Any, few: Any) -> Any:
    """That a column has one of the values that a query selects, which is asked first, as it has few.

    Before statistics were gathered, as after an archive was put back, PostgreSQL takes what is there at all (IS NOT
    NULL) for nearly everything, and goes through all rows instead.
    """
    return column == fn.ANY(fn.ARRAY(few)) if on_postgresql() else column.in_(few)


def looked_up() -> str:
    """A table of one column, `id`, of numbers that are given as one value (see `listed`), however many they are."""
    return (
        "unnest(CAST(? AS BIGINT[])) AS given(id)"
        if on_postgresql()
        else "(SELECT value AS id FROM json_each(?)) AS given"
    )


def listed(numbers: Iterable[int]) -> Any:
    """Numbers as the one value that `looked_up` takes."""
    return list(numbers) if on_postgresql() else json.dumps(list(numbers))


def rows_of(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """The rows of a statement, as the driver gives them. Values stand as `?` in its text."""
    return list(_executed(sql, values).fetchall())


# Several may be open at once, each under a name of its own.
_cursors = itertools.count()


def row_by_row(sql: str, *values: Any, at_once: int = 1000) -> Iterator[tuple[Any, ...]]:
    """The same, a thousand at a time, so that memory stays flat however many there are. Within `reading()`."""
    if not on_postgresql():
        yield from _executed(sql, values)
        return
    with database.connection().cursor(name=f"row_by_row_{next(_cursors)}") as cursor:
        cursor.itersize = at_once
        cursor.execute(worded(sql), values)
        yield from cursor


def tables() -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Every table as the database has it now: its columns in their order, and those of its key."""
    if on_postgresql():
        query = """
            SELECT c.relname, a.attname, array_position(k.conkey, a.attnum) FROM pg_class c
            JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
            LEFT JOIN pg_constraint k ON k.conrelid = c.oid AND k.contype = 'p'
            WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace ORDER BY c.relname, a.attnum"""
    else:
        query = """
            SELECT m.name, p.name, CASE WHEN p.pk > 0 THEN p.pk END
            FROM sqlite_master m JOIN pragma_table_info(m.name) p
            WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite%' ORDER BY m.name, p.cid"""
    columns: dict[str, list[str]] = {}
    keys: dict[str, list[tuple[int, str]]] = {}
    for table, column, place in database.execute_sql(query).fetchall():
        columns.setdefault(table, []).append(column)
        if place is not None:
            keys.setdefault(table, []).append((place, column))
    return {
        table: (tuple(of_table), tuple(column for _, column in sorted(keys.get(table, []))))
        for table, of_table in columns.items()
    }


def bound_tables() -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Those of them whose rows are bound to the acts that wrote them."""
    return {name: form for name, form in tables().items() if name not in NOT_BOUND}


def key_as_text(keys: Iterable[str], of: str = "t") -> str:
    """A row's key as text, as the journal's marks have it."""
    return " || '/' || ".join(f'CAST({of}."{column}" AS TEXT)' for column in keys)


def scratch_table(name: str, columns: str, *, key: str | None = None) -> None:
    """A temporary table of this connection alone; not kept from an earlier use that was interrupted."""
    database.execute_sql(f"DROP TABLE IF EXISTS {name}")
    primary = f", PRIMARY KEY ({key})" if key is not None else ""
    form = " WITHOUT ROWID" if key is not None and not on_postgresql() else ""
    database.execute_sql(f"CREATE TEMPORARY TABLE {name} ({columns}{primary}){form}")


@contextmanager
def scratch(*names: str) -> Iterator[None]:
    """Drop these temporary tables at the end. What goes wrong within a transaction takes them along by itself."""
    yield
    for name in names:
        database.execute_sql(f"DROP TABLE {name}")


def put_down(scratch: str, rows: Sequence[Sequence[Any]]) -> None:
    """Write many rows into a temporary table."""
    if not rows:
        return
    connection = database.connection()
    if on_postgresql():
        with connection.cursor() as cursor, cursor.copy(f"COPY {scratch} FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
        return
    connection.executemany(f"INSERT INTO {scratch} VALUES ({', '.join('?' * len(rows[0]))})", rows)


def _executed(sql: str, values: tuple[Any, ...]) -> Any:
    return database.execute_sql(worded(sql), values)


def worded(sql: str) -> str:
    """A statement with the engine's own mark for a value instead of `?`."""
    return sql.replace("?", database.obj.param)


def worth_another_try(error: OperationalError) -> bool:
    return _sqlstate(error) in _AGAIN


def is_busy(error: PeeweeException) -> bool:
    """Did the statement give up waiting for someone else's lock?"""
    return _sqlstate(error) == _LOCK_NOT_AVAILABLE or "database is locked" in str(error)


def is_taken(error: IntegrityError) -> bool:
    """Is what was to be written there already, by a rule that lets it be there once?"""
    return _sqlstate(error) == _UNIQUE_VIOLATION or "UNIQUE constraint failed" in str(error)


def _sqlstate(error: PeeweeException) -> str | None:
    cause = getattr(error, "orig", None) or error.__cause__ or error.__context__
    return getattr(cause, "sqlstate", None)


def guard_against_change(table: str, *, settable_once: tuple[str, ...] = (), columns: tuple[str, ...] = ()) -> None:
    """Let no row of ``table`` be deleted or changed, but for the columns that may be set once, from nothing.

    ``columns`` are all columns of the table; only needed together with ``settable_once``.
    """
    kept = [c for c in columns if c not in settable_once]
    differs = "IS DISTINCT FROM" if on_postgresql() else "IS NOT"
    broken = " OR ".join(
        [f'NEW."{c}" {differs} OLD."{c}"' for c in kept]
        + [f'(OLD."{c}" IS NOT NULL AND NEW."{c}" {differs} OLD."{c}")' for c in settable_once]
    )
    if on_postgresql():
        database.execute_sql(
            "CREATE OR REPLACE FUNCTION keep_history() RETURNS trigger LANGUAGE plpgsql AS $$ "
            "BEGIN RAISE EXCEPTION 'history is added to, never edited'; END $$"
        )
        when = f"WHEN ({broken}) " if settable_once else ""
        database.execute_sql(
            f'CREATE TRIGGER keep_{table}_changed BEFORE UPDATE ON "{table}" FOR EACH ROW {when}'
            "EXECUTE FUNCTION keep_history()"
        )
        database.execute_sql(
            f'CREATE TRIGGER keep_{table}_deleted BEFORE DELETE ON "{table}" FOR EACH ROW '
            "EXECUTE FUNCTION keep_history()"
        )
        return
    stop = "SELECT RAISE(ABORT, 'history is added to, never edited');"
    when = f"WHEN {broken} " if settable_once else ""
    database.execute_sql(f'CREATE TRIGGER keep_{table}_changed BEFORE UPDATE ON "{table}" {when}BEGIN {stop} END')
    database.execute_sql(f'CREATE TRIGGER keep_{table}_deleted BEFORE DELETE ON "{table}" BEGIN {stop} END')


def take_guard_away(table: str) -> None:
    """For the length of a schema step alone, which sets it again."""
    on = f' ON "{table}"' if on_postgresql() else ""
    database.execute_sql(f"DROP TRIGGER keep_{table}_changed{on}")
    database.execute_sql(f"DROP TRIGGER keep_{table}_deleted{on}")


def set_once_in(table: str) -> tuple[str, ...] | None:
    """The columns that the guard of a table lets be set once, or nothing if the table is not guarded."""
    if on_postgresql():
        query = "SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE tgname = %s"
    else:
        query = "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?"
    found = database.execute_sql(query, (f"keep_{table}_changed",)).fetchone()
    return None if found is None else tuple(re.findall(r'(?i)\bOLD\."?(\w+)"? IS NOT NULL', found[0]))


def do_not_wait_for_the_disk() -> None:
    """On this connection, for an account that can be built again if the power goes. PostgreSQL waits all the same."""
    if not on_postgresql():
        database.execute_sql("PRAGMA synchronous = OFF")
