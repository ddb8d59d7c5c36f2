"""What every table shares: the database, and columns that keep instants, words and JSON exactly."""

import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from peewee import BigIntegerField, Check, Model, TextField

from service.database import database
from service.records.lookups import PlainSelect, column_and_value, look_up

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def microseconds(at: datetime) -> int:
    """Whole microseconds since 1970 in UTC."""
    if at.tzinfo is None:
        raise ValueError("an instant without a zone")
    return (at - _EPOCH) // timedelta(microseconds=1)


def instant(value: int) -> datetime:
    return _EPOCH + timedelta(microseconds=value)


class Instant(BigIntegerField):
    """An instant in UTC."""

    def db_value(self, value: Any) -> Any:
        return microseconds(value) if isinstance(value, datetime) else value

    def python_value(self, value: Any) -> Any:
        return None if value is None else instant(value)


class Json(TextField):
    """A small JSON value whose inside is never searched."""

    def db_value(self, value: Any) -> Any:
        return None if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)

    def python_value(self, value: Any) -> Any:
        return None if value is None else json.loads(value)


class Record(Model):
    class Meta:
        database = database
        legacy_table_names = False

    @classmethod
    def select(cls, *fields: Any) -> Any:
        return PlainSelect(cls, fields or cls._meta.sorted_fields, is_default=not fields)

    @classmethod
    def get(cls, *query: Any, **filters: Any) -> Any:
        """One row; by the short way where one column is asked for one value."""
        asked = None if filters else column_and_value(cls, query)
        if asked is None or asked[1] is None:
            return super().get(*query, **filters)
        row = look_up(cls, *asked)
        if row is None:
            raise cls.DoesNotExist(f"no {cls.__name__} with {asked[0].name} {asked[1]!r}")
        return row


def one_of(column: str, words: Iterable[StrEnum | str]) -> Check:
    listed = ", ".join("'" + str(w).replace("'", "''") + "'" for w in words)
    return Check(f"{column} IN ({listed})")


def together(*columns: str) -> Check:
    """Columns that are all there or all missing."""
    none = " AND ".join(f"{c} IS NULL" for c in columns)
    every = " AND ".join(f"{c} IS NOT NULL" for c in columns)
    return Check(f"(({none}) OR ({every}))")


def whole(column: str) -> Check:
    """SQLite would keep the text 'x' in a column of whole numbers; PostgreSQL knows the type already."""
    return Check(f"({column} IS NULL OR {column} = CAST({column} AS BIGINT))")
