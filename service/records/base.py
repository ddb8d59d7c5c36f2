"""What every table shares: the database, and columns that keep instants, words and JSON exactly."""

import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

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


class UnknownWord(ValueError):
    """Something is to be written that is none of its column's words."""


class Word(TextField):
    """One of the words that this version of the program knows, checked with every value that is written or asked for.

    A vocabulary that a trade extends (kinds of defect, material, movement) is guarded here and at the edge alone: a new
    word is a new line in schemas/words.py, and no table is built anew for it. A set that is ``closed`` by what it means
    (units, verdicts) is held by a CHECK of the database as well. `potmark check` names rows whose word is not known.
    """

    def __init__(self, words: Iterable[str], *, closed: bool = False, **kwargs: Any) -> None:
        self.words = tuple(str(word) for word in words)
        self.closed = closed
        super().__init__(**kwargs)

    def bind(self, model: Any, name: str, set_attribute: bool = True) -> Any:
        bound = super().bind(model, name, set_attribute)
        if self.closed:
            listed = ", ".join("'" + word.replace("'", "''") + "'" for word in self.words)
            self.constraints = [Check(f"{self.column_name} IN ({listed})")]
        return bound

    if TYPE_CHECKING:  # peewee puts the row's value in the field's place

        def __get__(self, row: Any, table: Any) -> Any: ...

        def __set__(self, row: Any, value: Any) -> None: ...

    def db_value(self, value: Any) -> Any:
        if value is None:
            return None
        if value not in self.words:
            raise UnknownWord(f"{self.model.__name__}.{self.name} has no word {value!r}.")
        return str(value)


def together(*columns: str) -> Check:
    """Columns that are all there or all missing."""
    none = " AND ".join(f"{c} IS NULL" for c in columns)
    every = " AND ".join(f"{c} IS NOT NULL" for c in columns)
    return Check(f"(({none}) OR ({every}))")


def whole(column: str) -> Check:
    """SQLite would keep the text 'x' in a column of whole numbers; PostgreSQL knows the type already."""
    return Check(f"({column} IS NULL OR {column} = CAST({column} AS BIGINT))")
