"""Every row of every table beside the last entry that names it: changed, added, missing and laundered rows.

A row whose last entry left it as it is can still have been changed in between and touched by an honest act later: then
that act's "before" is not what the entry before it had left, which is looked at for every mark of every row.
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

from peewee import Field, ForeignKeyField

from service.database import bound_tables, key_as_text, row_by_row, rows_of
from service.operations.door.acts import ACTS, OF_THE_MACHINE, called
from service.operations.door.chain import LINKS, UNREADABLE, read_body
from service.records import ALL
from service.records.bound import Whole
from service.records.items import Item


class Differs(NamedTuple):
    """A row that is not as the journal left it; ``say`` tells it in a sentence, for which it has to look more up."""

    what: str
    key: str
    say: Callable[[], str]


# Content of tens of kilobytes a row is asked for a few rows at a time.
_WIDE = {"document", "document_issue"}


class _Table:
    """A bound table as the database has it, whether or not this program knows it."""

    def __init__(self, name: str, columns: tuple[str, ...], keys: tuple[str, ...]) -> None:
        self.name, self.columns, self.key = name, columns, key_as_text(keys)
        self.read = Whole(columns, keys)
        self.fields = _FIELDS.get(name, ())

    def named(self, key: str, row: dict[str, Any]) -> str:
        """The row in words, with the code of the thing that it is about."""
        code = self._code(key, row)
        return f"Row {key} of the table {self.name}{f' ({code})' if code else ''}"

    def _code(self, key: str, row: dict[str, Any]) -> str | None:
        if "code" in row:
            return str(row["code"])
        for field in self.fields:
            if leads_to_item(field):
                number = row.get(field.column_name) or (key if field.primary_key else None)
                found = rows_of("SELECT code FROM item WHERE id = ?", int(number)) if number else []
                if found:
                    return str(found[0][0])
        return None

    def as_it_is(self, key: str) -> dict[str, Any]:
        found = rows_of(f'SELECT t.* FROM "{self.name}" t WHERE {self.key} = ?', key)
        return self.by_column(found[0]) if found else {}

    def by_column(self, row: Sequence[Any]) -> dict[str, Any]:
        return dict(zip(self.columns, row, strict=True))


_FIELDS: dict[str, tuple[Field, ...]] = {table._meta.table_name: tuple(table._meta.sorted_fields) for table in ALL}


def leads_to_item(field: Field) -> bool:
    """Does a column name an item, by whatever rows?"""
    while isinstance(field, ForeignKeyField):
        if field.rel_model is Item:
            return True
        field = field.rel_field
    return False


def compare_rows(count: Callable[[int], None]) -> Iterator[Differs]:
    """Compare all rows with the marks that were put down; ``count`` is told how many rows each table has."""
    live = dict(rows_of(f"SELECT tab, COUNT(*) FROM {LINKS} WHERE last = 1 AND after IS NOT NULL GROUP BY tab"))
    tables = {name: _Table(name, *form) for name, form in bound_tables().items()}
    for name, table in tables.items():
        try:
            yield from _compare(table, live.pop(name, 0), count)
        except UNREADABLE as error:
            yield Differs("changed", name, partial(_unreadable, name, str(error)))
    for name in sorted(live):
        yield Differs("missing", name, partial("The table {} is gone, of which the journal has rows.".format, name))
    yield from _laundered(tables)


def _compare(table: _Table, live: int, count: Callable[[int], None]) -> Iterator[Differs]:
    name, read = table.name, table.read
    joined = f"LEFT JOIN {LINKS} m ON m.tab = '{name}' AND m.last = 1 AND m.key = {table.key}"
    rows = row_by_row(f'SELECT t.*, m.seq, m.after FROM "{name}" t {joined}', at_once=10 if name in _WIDE else 1000)
    total = found = 0
    for *row, seq, after in rows:
        total += 1
        found += after is not None
        if read.hash(row) != after:
            what = "changed" if after is not None else "added"
            key = str(read.key(row))
            yield Differs(what, key, partial(_unlike, table, key, table.by_column(row), seq, after))
        if name in _WIDE:
            yield from _content(table.by_column(row))
    count(total)
    if found < live:
        gone = (
            f"SELECT key FROM {LINKS} WHERE tab = '{name}' AND last = 1 AND after IS NOT NULL"
            f' EXCEPT SELECT {table.key} FROM "{name}" t'
        )
        for (key,) in row_by_row(f"SELECT key FROM ({gone}) AS gone ORDER BY LENGTH(key), key"):
            yield Differs("missing", key, partial(_missing, table, key))


def _unreadable(name: str, error: str) -> str:
    return f"Rows of the table {name} cannot be read to the end: in one is what this program does not write ({error})."


def _unlike(table: _Table, key: str, row: dict[str, Any], seq: int | None, after: str | None) -> str:
    if seq is None:
        return f"{table.named(key, row)} is in no entry of the journal."
    if after is None:
        return f"{table.named(key, row)} is there again; {_entry(seq)} removed it."
    return f"{table.named(key, row)} is not as {_entry(seq)} left it."


def _missing(table: _Table, key: str) -> str:
    ((seq,),) = rows_of(f"SELECT seq FROM {LINKS} WHERE tab = ? AND key = ? AND last = 1", table.name, key)
    return f"{table.named(key, {})} is gone; {_entry(seq)} left it, and none removed it."


def _laundered(tables: dict[str, _Table]) -> Iterator[Differs]:
    rows = row_by_row(f"SELECT tab, key, seq, prior FROM {LINKS} WHERE broken = 1 ORDER BY tab, key, seq")
    for name, key, seq, prior in rows:
        yield Differs("laundered", key, partial(_washed, tables.get(name), name, key, seq, prior))


def _washed(table: _Table | None, name: str, key: str, seq: int, prior: int | None) -> str:
    row = table.named(key, table.as_it_is(key)) if table is not None else f"Row {key} of the table {name}"
    if prior is None:
        return f"{row} was there before {_entry(seq)}, and no entry had written it."
    return f"{row} was changed between {_entry(prior)} and {_entry(seq)}, outside any act."


def _entry(seq: int) -> str:
    """An entry in words: its number, the act, the things that it was about."""
    found = rows_of("SELECT body FROM entry WHERE seq = ?", seq)
    said = read_body(found[0][0]) if found else {}
    name = said.get("operation")
    act = called(name) if name in ACTS or name in OF_THE_MACHINE else name or "which is gone"
    items = [str(item) for item in said.get("items", ())]
    about = f" of {', '.join(items[:4])}{' and more' if len(items) > 4 else ''}" if items else ""
    return f"entry {seq} ({act}{about})"


def _content(row: dict[str, Any]) -> Iterator[Differs]:
    content = bytes(row["content"])
    if hashlib.sha256(content).hexdigest() != row["sha256"] or len(content) != row["size"]:
        if "issue" in row:
            sentence = f"Issue {row['issue']} of {row['document']} is not as it was issued."
        else:
            sentence = f"Document {row['id']} ({row['name']}) is not as it was kept."
        yield Differs("document", str(row["id"]), lambda: sentence)
