"""Every row bound to the act that wrote it: the hooks through which all rows are written, seen and hashed.

Whatever an act writes or removes goes through the four queries below, which `Record` gives out. They ask the database
for the whole row before and after, and keep the two hashes until the act's entry is written, which names them. So no
operation can forget a row, and a table or column that comes later is bound without any work. A write that the hooks
cannot see is refused: here if peewee composes it, by `service.database` if it is text.

The hash of a row is the same on both engines and does not change when a column is added that is empty in that row.
"""

import hashlib
from binascii import b2a_base64
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from json.encoder import encode_basestring
from typing import Any, cast

from peewee import SQL, Insert, Model, ModelDelete, ModelInsert, ModelSelect, ModelUpdate

from service.database import NOT_BOUND, NotBound, locked, through_a_hook
from service.kept_sql import composed
from service.records.concerned import LEADS, Concerned

Key = int | str
# Table, key, hash before (nothing if the row is new), hash after (nothing if it is gone).
Mark = tuple[str, Key, str | None, str | None]


class Changes:
    """What one act has written and removed so far; read once, for its entry, and closed with that."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, Key], tuple[str | None, str | None]] = {}
        self._sealed = False
        self.concerned = Concerned()

    def saw(self, table: str, key: Key, before: str | None, after: str | None) -> None:
        if self._sealed:
            raise NotBound(f"{table} {key} is written after the act's entry, which does not name it")
        first = self._rows.get((table, key))
        if first is not None and first[1] != before:
            raise NotBound(f"{table} {key} was changed within the act by something that is not seen")
        self._rows[table, key] = (before if first is None else first[0], after)

    def so_far(self) -> dict[tuple[str, Key], tuple[str | None, str | None]]:
        return dict(self._rows)

    def back_to(self, then: dict[tuple[str, Key], tuple[str | None, str | None]]) -> None:
        """What was written since then was undone in the database, too."""
        self._rows = then

    def seal(self) -> list[Mark]:
        """All rows that are not as they were; nothing can be written from now on."""
        self._sealed = True
        return [(table, key, *both) for (table, key), both in self._rows.items() if both[0] != both[1]]


_under_way: ContextVar[Changes | None] = ContextVar("the act under way", default=None)


@contextmanager
def changes() -> Iterator[Changes]:
    """Collect what is written within the block; each try of an act begins with nothing."""
    collected = Changes()
    before = _under_way.set(collected)
    try:
        yield collected
    finally:
        _under_way.reset(before)


def _collecting(table: str) -> Changes:
    found = _under_way.get()
    if found is None:
        raise NotBound(f"{table} is written outside any act")
    return found


def row_hash(columns: Sequence[str], values: Iterable[Any]) -> str:
    """SHA-256 of a row in canonical form, in base64 without its filling. ``columns`` come in the order of their names.

    >>> row_hash(("a", "b", "c"), (1, None, "x")) == row_hash(("a", "c"), (1.0, "x"))
    True
    """
    said = ",".join(
        [f'"{name}":{_said(value)}' for name, value in zip(columns, values, strict=True) if value is not None]
    )
    return b2a_base64(hashlib.sha256(f"{{{said}}}".encode()).digest(), newline=False)[:43].decode()


def _number(value: float) -> str:
    # SQLite gives a whole number of a REAL column back as one kind right after the write, and as the other later.
    return str(int(value)) if value.is_integer() else repr(value)


def _bytes(value: Any) -> str:
    return f'{{"sha256":"{hashlib.sha256(value).hexdigest()}"}}'


# By the kind of a value alone, so that it needs nothing but the database to work a hash out again.
_SAYING: dict[type, Callable[[Any], str]] = {
    str: encode_basestring,
    int: str,
    bool: lambda value: "1" if value else "0",
    float: _number,
    date: lambda value: f'"{value.isoformat()}"',
    bytes: _bytes,
    memoryview: _bytes,
}


def _said(value: Any) -> str:
    return _SAYING[type(value)](value)


class Whole:
    """Rows of a table as the database gives them whole: columns by name for the hash, and where the key stands."""

    def __init__(self, columns: Sequence[str], keys: Sequence[str]) -> None:
        self.columns = tuple(columns)
        self._order = sorted(range(len(columns)), key=self.columns.__getitem__)
        self._sorted = tuple(self.columns[place] for place in self._order)
        self.key_places = tuple(self.columns.index(name) for name in keys)

    def key(self, row: Sequence[Any]) -> Key:
        if len(self.key_places) == 1:
            return cast(Key, row[self.key_places[0]])
        return "/".join(str(row[place]) for place in self.key_places)

    def named(self, row: Sequence[Any]) -> dict[str, Any]:
        return dict(zip(self.columns, row, strict=True))

    def hash(self, row: Sequence[Any]) -> str:
        return row_hash(self._sorted, [row[place] for place in self._order])


_WHOLE: dict[tuple[type[Model], tuple[str, ...]], Whole] = {}


def _rows(database: Any, model: type[Model], query: Any) -> tuple[Whole, list[tuple[Any, ...]]]:
    """The rows of a statement that asks for all columns, which the database names: none can be forgotten."""
    return _sent(database, model, *composed(database.obj, query))


def _sent(database: Any, model: type[Model], sql: str, values: Any) -> tuple[Whole, list[tuple[Any, ...]]]:
    with through_a_hook():
        cursor = database.execute_sql(sql, values)
        rows = cursor.fetchall()
    columns = tuple(column[0] for column in cursor.description)
    read = _WHOLE.get((model, columns))
    if read is None:
        keys = [field.column_name for field in model._meta.get_primary_keys()]
        read = _WHOLE[model, columns] = Whole(columns, keys)
    return read, rows


_ALL = (SQL("*"),)


class BoundInsert(ModelInsert):
    def _execute(self: Any, database: Any) -> Any:
        model, conflict = self.model, self._on_conflict
        table = model._meta.table_name
        if conflict is not None and conflict._action != "IGNORE":
            raise NotBound(f"{table} is written with {conflict._action or 'an update'} on conflict, which is not seen")
        collected = _collecting(table)
        asked = self._returning if self._return_cursor else None
        self._returning = _ALL
        try:
            read, rows = _rows(database, model, self)
        except self.DefaultValuesException:
            return None
        finally:
            self._returning = asked
        for row in rows:
            collected.saw(table, read.key(row), None, read.hash(row))
            if table in LEADS:
                collected.concerned.saw(table, None, read.named(row))
        if asked is not None:
            return [_as_model(model, asked, read, row) for row in rows]
        if self._as_rowcount:
            return len(rows)
        keys = [tuple(row[place] for place in read.key_places) for row in rows]
        if self._query_type != Insert.SIMPLE:
            return keys
        return None if not keys else keys[0] if len(keys[0]) > 1 else keys[0][0]


def _as_model(model: type[Model], asked: Sequence[Any], read: Whole, row: Sequence[Any]) -> Model:
    found = dict(zip(read.columns, row, strict=True))
    made = model(__no_default__=1, **{field.name: field.python_value(found[field.column_name]) for field in asked})
    made._dirty.clear()  # type: ignore[attr-defined]
    return made


class BoundUpdate(ModelUpdate):
    def _execute(self: Any, database: Any) -> int:
        model = self.model
        table = model._meta.table_name
        if self._from is not None or self._returning is not None:
            raise NotBound(f"{table} is changed from another table, or asks for what became of it")
        collected = _collecting(table)
        # Composed before anything is asked, so that a value that no column takes is refused even where no row is met.
        self._returning = _ALL
        change = composed(database.obj, self)
        self._returning = None
        query: Any = ModelSelect(model, _ALL)
        if self._where is not None:
            query = query.where(self._where)
        read, rows = _rows(database, model, locked(query))
        if not rows:
            return 0
        before = {read.key(row): read.hash(row) for row in rows}
        was = {read.key(row): read.named(row) for row in rows} if table in LEADS else {}
        read, after = _sent(database, model, *change)
        for row in after:
            key = read.key(row)
            if key not in before:
                raise NotBound(f"{table} {key} came in between the look and the change")
            collected.saw(table, key, before[key], read.hash(row))
            if table in LEADS:
                collected.concerned.saw(table, was[key], read.named(row))
        return len(after)


class BoundDelete(ModelDelete):
    def _execute(self: Any, database: Any) -> int:
        model = self.model
        table = model._meta.table_name
        collected = _collecting(table)
        self._returning = _ALL
        try:
            read, rows = _rows(database, model, self)
        finally:
            self._returning = None
        for row in rows:
            collected.saw(table, read.key(row), read.hash(row), None)
            if table in LEADS:
                collected.concerned.saw(table, read.named(row), None)
        return len(rows)


def insert_into(model: type[Model], rows: Any, columns: Any = None) -> ModelInsert:
    made = ModelInsert if model._meta.table_name in NOT_BOUND else BoundInsert
    return made(model, insert=rows, columns=columns) if columns is not None else made(model, rows)


def update_of(model: type[Model], values: Any) -> ModelUpdate:
    return (ModelUpdate if model._meta.table_name in NOT_BOUND else BoundUpdate)(model, values)


def delete_from(model: type[Model]) -> ModelDelete:
    return (ModelDelete if model._meta.table_name in NOT_BOUND else BoundDelete)(model)
