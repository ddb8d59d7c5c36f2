"""History is added to and never edited: the database itself refuses, on both engines, whatever a program tries."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from peewee import BlobField, BooleanField, DatabaseError, FloatField, ForeignKeyField, IntegerField, Model, TextField

from service.database import database, on_postgresql
from service.guards import guarded_tables
from service.records import ALL, KEPT
from tests.forging import say


@contextmanager
def _row_of_anything(table: type[Model]) -> Iterator[None]:
    """One row with any values that the columns can hold; its meaning is not checked, and it is gone afterwards."""
    meta = table._meta  # type: ignore[attr-defined]
    name = meta.table_name
    settable = KEPT[table]
    if not on_postgresql():
        database.execute_sql("PRAGMA foreign_keys = 0")
        database.execute_sql("PRAGMA ignore_check_constraints = 1")
    with database.atomic() as transaction:
        if on_postgresql():
            found = database.execute_sql(
                "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND contype IN ('c', 'f')",
                (f'"{name}"',),
            )
            for (constraint,) in found.fetchall():
                database.execute_sql(f'ALTER TABLE "{name}" DROP CONSTRAINT "{constraint}"')
        columns = [field for field in meta.sorted_fields if field.column_name not in settable]
        listed = ", ".join(f'"{field.column_name}"' for field in columns)
        marks = ", ".join([database.param] * len(columns))
        say(f'INSERT INTO "{name}" ({listed}) VALUES ({marks})', *(_value(f, 1) for f in columns))
        yield
        transaction.rollback()


def _value(field: Any, number: int) -> Any:
    while isinstance(field, ForeignKeyField):
        field = field.rel_field
    if isinstance(field, BooleanField):
        return bool(number % 2)
    if isinstance(field, BlobField):
        return bytes([number])
    if isinstance(field, TextField):
        return str(number)
    # Numbers that no row of the founded account has.
    return number + 900 if isinstance(field, IntegerField | FloatField) else f"2026-11-0{number}"


def _refuses(statement: str, *values: Any) -> bool:
    try:
        with database.atomic():
            say(statement, *values)
    except DatabaseError as error:
        return "history is added to" in str(error)
    return False


@pytest.mark.parametrize("table", list(KEPT), ids=lambda table: table._meta.table_name)
def test_a_kept_row_can_be_neither_changed_nor_deleted(shop: Any, table: type[Model]) -> None:
    meta = table._meta  # type: ignore[attr-defined]
    name = meta.table_name
    mark = database.param
    kept = [f for f in meta.sorted_fields if f.column_name not in KEPT[table] and not f.primary_key]
    with _row_of_anything(table):
        for field in kept:
            assert _refuses(f'UPDATE "{name}" SET "{field.column_name}" = {mark}', _value(field, 2)), field
        assert _refuses(f'DELETE FROM "{name}"')
        for column in KEPT[table]:
            field = meta.columns[column]
            once = f'UPDATE "{name}" SET "{column}" = {mark}'
            say(once, _value(field, 1))
            assert _refuses(once, _value(field, 2)), f"{column} was set twice"
            assert _refuses(f'UPDATE "{name}" SET "{column}" = NULL'), f"{column} was emptied"


def test_every_kept_table_is_guarded_and_no_other(shop: Any) -> None:
    assert guarded_tables() == {table._meta.table_name for table in KEPT}
    assert set(KEPT) <= set(ALL)
