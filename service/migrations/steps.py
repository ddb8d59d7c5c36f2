"""What a schema step is made of: a table, a column, an index, another check; the same call on both engines.

A step says itself what it makes and reads nothing from service/records, which goes on changing. Where SQLite cannot
change a table in place it is built anew with all its rows, indexes and references; the guards that keep history are
taken away for the length of the change and set again over all columns, the new ones too. A step is run by `potmark
upgrade` in one transaction, and what fails leaves nothing behind.

    from peewee import TextField
    from service.migrations import steps

    def up(migrator, db):
        steps.add_column("material", "colour", TextField(null=True))
        steps.change_check("item", old=steps.listed("unit", ["mg", "mm"]), new=steps.listed("unit", ["mg", "mm", "ml"]))
"""

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from peewee import AutoField, BigAutoField, Check, Field, ForeignKeyField, Model
from playhouse.migrate import make_index_name

from service.database import database, guard_against_change, on_postgresql, set_once_in, take_guard_away


@contextmanager
def ample_memory() -> Iterator[None]:
    """For what goes through whole tables: SQLite has 2 MB of pages at hand, and indexes are written at all their ends.

    Half a gigabyte, and a quarter of the machine's memory at most. PostgreSQL has its own.
    """
    if on_postgresql():
        yield
        return
    quarter_kib = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 4096
    before = {}
    for part in ("main", "temp"):
        before[part] = database.execute_sql(f"PRAGMA {part}.cache_size").fetchone()[0]
        database.execute_sql(f"PRAGMA {part}.cache_size = {-min(500_000, quarter_kib)}")
    try:
        yield
    finally:
        for part, size in before.items():
            database.execute_sql(f"PRAGMA {part}.cache_size = {size}")


def add_table(
    name: str,
    columns: Mapping[str, Field],
    *,
    unique: Sequence[tuple[str, ...]] = (),
    checks: Sequence[str] = (),
    settable_once: Sequence[str] | None = None,
) -> None:
    """A new table with its indexes. With ``settable_once`` its rows are history: neither changed nor deleted, but for
    the columns named there, which may be set once."""
    model = _model(name, columns, unique=unique, checks=checks)
    database.create_tables([model], safe=False)
    if settable_once is not None:
        guard_against_change(name, settable_once=tuple(settable_once), columns=_columns(name))


def add_column(table: str, name: str, field: Field, *, fill: str | None = None) -> None:
    """A new column, with its index if it has one. ``fill`` is an SQL expression over the row for the rows there are;
    a column that may not be empty needs one."""
    model = _model(table, {name: field})
    column = field.column_name
    if not field.null and fill is None:
        raise ValueError(f"{table}.{column} may not be empty; say what fills it in the rows there are")
    definition = _sql(model, field.ddl)
    reference = _sql(model, lambda ctx: field.foreign_key_constraint()) if isinstance(field, ForeignKeyField) else None
    with _unguarded(table):
        if on_postgresql():
            database.execute_sql(f'ALTER TABLE "{table}" ADD COLUMN {definition.replace(" NOT NULL", "", 1)}')
            if fill is not None:
                database.execute_sql(f'UPDATE "{table}" SET "{column}" = {fill}')
            if not field.null:
                database.execute_sql(f'ALTER TABLE "{table}" ALTER COLUMN "{column}" SET NOT NULL')
            if reference is not None:
                database.execute_sql(f'ALTER TABLE "{table}" ADD {reference}')
        else:
            _build_anew(table, lambda parts: _with_column(parts, definition, reference), {column: fill or "NULL"})
    model._schema.create_indexes(safe=False)


def let_be_empty(table: str, *columns: str) -> None:
    """Columns that every row had to have and that some may lack from now on."""
    if on_postgresql():
        for column in columns:
            database.execute_sql(f'ALTER TABLE "{table}" ALTER COLUMN "{column}" DROP NOT NULL')
        return
    with _unguarded(table):
        _build_anew(table, lambda parts: [_nullable(part, columns) for part in parts], {})


def _nullable(part: str, columns: Iterable[str]) -> str:
    named = any(part.startswith(f'"{column}" ') for column in columns)
    return part.replace(" NOT NULL", "", 1) if named else part


def add_index(
    table: str, *columns: str, unique: bool = False, where: str | None = None, name: str | None = None
) -> None:
    """An index over these columns, of all rows or of some, named as the records would name it.

    A column may be an expression in brackets, as the engine is to have it; such an index needs a name.
    """
    kind = "UNIQUE INDEX" if unique else "INDEX"
    listed = ", ".join(column if "(" in column else f'"{column}"' for column in columns)
    rows = f" WHERE {where}" if where is not None else ""
    database.execute_sql(f'CREATE {kind} "{name or make_index_name(table, columns)}" ON "{table}" ({listed}){rows}')


def drop_index(table: str, *columns: str, name: str | None = None) -> None:
    """Take an index away that `add_index` or the records have named."""
    database.execute_sql(f'DROP INDEX "{name or make_index_name(table, columns)}"')


def change_check(table: str, *, old: str | None, new: str | None) -> None:
    """Put the check ``new`` in the place of ``old``; nothing in the place of one of them adds or drops it.

    The rows there are have to agree with the new one. ``old`` is the text as the records or an earlier step gave it.
    """
    if on_postgresql():
        if old is not None:
            database.execute_sql(f'ALTER TABLE "{table}" DROP CONSTRAINT "{_named(table, old)}"')
        if new is not None:
            database.execute_sql(f'ALTER TABLE "{table}" ADD CHECK ({new})')
        return
    with _unguarded(table):
        _build_anew(table, lambda parts: _with_check(table, parts, old, new), {})


def listed(column: str, words: Iterable[str]) -> str:
    """The check of a closed set of words, as `Word` in the records writes it."""
    return f"{column} IN ({', '.join(_quoted(word) for word in words)})"


def row_of(table: str, **options: Any) -> ForeignKeyField:
    """A column that points to a row of a table that is there already."""
    (key,) = database.get_primary_keys(table)
    kind = next(c.data_type for c in database.get_columns(table) if c.name == key).lower()
    number = BigAutoField() if kind == "bigint" else AutoField()
    return ForeignKeyField(_model(table, {key: number}), **options)


def _model(
    name: str, columns: Mapping[str, Field], *, unique: Sequence[tuple[str, ...]] = (), checks: Sequence[str] = ()
) -> Any:
    """A table as this step knows it, apart from the records."""
    without_key = not any(field.primary_key for field in columns.values())
    meta = {
        "database": database,
        "table_name": name,
        "legacy_table_names": False,
        "indexes": tuple((columns, True) for columns in unique),
        "constraints": [Check(text) for text in checks],
        **({"primary_key": False} if without_key else {}),
    }
    return type("Step", (Model,), {**columns, "Meta": type("Meta", (), meta)})


def _columns(table: str) -> tuple[str, ...]:
    return tuple(column.name for column in database.get_columns(table))


def _sql(model: Any, part: Callable[[Any], Any]) -> str:
    ctx = model._schema._create_context()
    text, values = ctx.sql(part(ctx)).query()
    if values:
        raise ValueError(f"a definition cannot carry values: {text}")
    return str(text)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


@contextmanager
def _unguarded(table: str) -> Iterator[None]:
    """A change of the table's form is no change of history; the guards stand again right after it."""
    once = set_once_in(table)
    if once is not None:
        take_guard_away(table)
    yield
    if once is not None:
        guard_against_change(table, settable_once=once, columns=_columns(table))


def _named(table: str, check: str) -> str:
    """PostgreSQL's own name of a check. It keeps the text in its own words, so it is asked for those of this one."""
    database.execute_sql(f'CREATE TEMPORARY TABLE step_probe (LIKE "{table}", CHECK ({check}))')
    found = database.execute_sql(
        "SELECT kept.conname FROM pg_constraint kept JOIN pg_constraint probe"
        " ON pg_get_constraintdef(kept.oid) = pg_get_constraintdef(probe.oid)"
        f" WHERE kept.conrelid = '\"{table}\"'::regclass AND kept.contype = 'c'"
        " AND probe.conrelid = 'step_probe'::regclass AND probe.contype = 'c'"
    ).fetchall()
    database.execute_sql("DROP TABLE step_probe")
    if len(found) != 1:
        raise LookupError(f"{table} has {len(found) or 'no'} checks {check}")
    return str(found[0][0])


def _build_anew(table: str, change: Callable[[list[str]], list[str]], filled: Mapping[str, str]) -> None:
    """SQLite's way to another form: a second table, all rows, the first one gone, its name and indexes given on."""
    if database.execute_sql("PRAGMA foreign_keys").fetchone()[0]:
        raise RuntimeError("a table is built anew with references switched off, as the runner of the steps does")
    (text,) = database.execute_sql(
        "SELECT sql FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)
    ).fetchone()
    more = [
        sql
        for (sql,) in database.execute_sql(
            "SELECT sql FROM sqlite_master WHERE type IN ('index', 'trigger') AND tbl_name = ? AND sql IS NOT NULL"
            " ORDER BY rowid",
            (table,),
        ).fetchall()
    ]
    kept = [f'"{column}"' for column in _columns(table)]
    database.execute_sql(f'CREATE TABLE "{table}__new" ({", ".join(change(definitions(text)))})')
    into = ", ".join([*kept, *(f'"{column}"' for column in filled)])
    database.execute_sql(
        f'INSERT INTO "{table}__new" ({into}) SELECT {", ".join([*kept, *filled.values()])} FROM "{table}"'
    )
    database.execute_sql(f'DROP TABLE "{table}"')
    database.execute_sql(f'ALTER TABLE "{table}__new" RENAME TO "{table}"')
    for sql in more:
        database.execute_sql(sql)
    # All rows were taken over, so that what points to them does so still; a whole account is not looked through again.
    broken = database.execute_sql(f'PRAGMA foreign_key_check("{table}")').fetchall()
    if broken:
        raise RuntimeError(
            f"{len(broken)} references point to nothing, the first from {broken[0][0]} to {broken[0][2]}"
        )


def definitions(text: str) -> list[str]:
    """The columns and constraints of a CREATE TABLE, each as it stands.

    >>> definitions('''CREATE TABLE "t" ("a" TEXT CHECK (a IN ('x, y', 'it''s')), "b" INTEGER, CHECK ((b > 0)))''')
    ['"a" TEXT CHECK (a IN (\\'x, y\\', \\'it\\'\\'s\\'))', '"b" INTEGER', 'CHECK ((b > 0))']
    """
    inside = text[text.index("(") + 1 : text.rindex(")")]
    parts, depth, quote, begin = [], 0, "", 0
    for place, letter in enumerate(inside):
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "'\"":
            quote = letter
        elif letter in "()":
            depth += 1 if letter == "(" else -1
        elif letter == "," and depth == 0:
            parts.append(inside[begin:place].strip())
            begin = place + 1
    return [*parts, inside[begin:].strip()]


def _with_column(parts: list[str], definition: str, reference: str | None) -> list[str]:
    """Columns come before the table's own constraints, and references before its checks."""
    columns = sum(part.startswith('"') for part in parts)
    return [*parts[:columns], definition, *([reference] if reference else []), *parts[columns:]]


def _with_check(table: str, parts: list[str], old: str | None, new: str | None) -> list[str]:
    if old is None:
        return [*parts, f"CHECK ({new})"]
    text = f"CHECK ({old})"
    holders = [place for place, part in enumerate(parts) if text in part]
    if len(holders) != 1 or parts[holders[0]].count(text) != 1:
        raise LookupError(f"{table} has {len(holders) or 'no'} checks {old}")
    part = parts[holders[0]]
    changed = (
        part.replace(text, f"CHECK ({new})") if new is not None else part.replace(f" {text}", "").replace(text, "")
    )
    return [*parts[: holders[0]], *([changed] if changed else []), *parts[holders[0] + 1 :]]
