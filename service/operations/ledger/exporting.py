"""Every table of the account row by row, in the units and words of the API, for spreadsheets and other programs.

What opens a door stays here: keys, sessions, what people sign with. Content of documents is fetched as documents.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from peewee import BlobField, BooleanField, DateField, Field, Model

from service.database import row_by_row
from service.operations.door.plain import plain
from service.operations.ledger.archive import LEFT_OUT
from service.operations.ledger.rows import leads_to_item
from service.records import ALL
from service.records.base import Instant, Json, instant

_OPENS_DOORS = frozenset({"access_key", "browser_session", "signing_key", "secret_reset"})
_OPENS_DOORS_TOO = ("secret", "token", "digest", "salt", "voucher")

Value = str | int | float | bool | None | list[Any] | dict[str, Any]


@dataclass(frozen=True, slots=True)
class ExportedTable:
    """One table of the account, and the columns that it goes out with."""

    name: str
    about: str | None
    columns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Column:
    """A column as it is called outside, how it is asked for, and how its value is said."""

    name: str
    asked: str
    said: Callable[[Any], Value] | None


# Table -> what it holds.
TABLES: dict[str, type[Model]] = {
    table._meta.table_name: table for table in ALL if table._meta.table_name not in {*LEFT_OUT, *_OPENS_DOORS}
}


def read_exports() -> list[ExportedTable]:
    """Which tables can be fetched, with their columns."""
    return [
        ExportedTable(name, _about(table), tuple(column.name for column in _columns(table)))
        for name, table in sorted(TABLES.items())
    ]


def columns_of(table: str) -> list[str]:
    return [column.name for column in _columns(TABLES[table])]


def rows_of_table(table: str) -> Iterator[list[Value]]:
    """All rows in the order of their keys, as many as there are at a time; within one snapshot."""
    model = TABLES[table]
    columns = _columns(model)
    said = [(place, column.said) for place, column in enumerate(columns) if column.said is not None]
    keys = ", ".join(f't."{field.column_name}"' for field in model._meta.get_primary_keys())
    asked = ", ".join(column.asked for column in columns)
    for found in row_by_row(f'SELECT {asked} FROM "{table}" t ORDER BY {keys}'):
        row = list(found)
        for place, say in said:
            if row[place] is not None:
                row[place] = say(row[place])
        yield row


def _about(table: type[Model]) -> str | None:
    told = " ".join((table.__doc__ or "").split("\n\n")[0].split())
    return None if not told or told.startswith(f"{table.__name__}(") else told


def _columns(table: type[Model]) -> list[_Column]:
    return [
        _column(field)
        for field in table._meta.sorted_fields
        if not isinstance(field, BlobField) and not any(word in field.column_name for word in _OPENS_DOORS_TOO)
    ]


def _column(field: Field) -> _Column:
    name, asked = field.column_name, f't."{field.column_name}"'
    if leads_to_item(field):
        # Outside, a thing is known by the code on its label.
        return _Column(name.removesuffix("_id"), f"(SELECT i.code FROM item i WHERE i.id = {asked})", None)
    if isinstance(field, Instant):
        return _Column(name, asked, _moment)
    if isinstance(field, Json):
        return _Column(name, asked, json.loads)
    if isinstance(field, BooleanField):
        return _Column(name, asked, bool)
    if isinstance(field, DateField):
        return _Column(name, asked, lambda value: value.isoformat() if isinstance(value, date) else value)
    if name.endswith("_mg"):
        return _Column(f"{name[:-3]}_g", asked, lambda value: value / 1000)
    return _Column(name, asked, None)


def _moment(value: int) -> Value:
    return plain(instant(value))
