"""What every table shares: the database, and columns that keep instants, words and JSON exactly."""

import json
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Any, ClassVar, Literal, Self, TypeVar, cast, overload

from peewee import SQL, BigIntegerField, Check, DoesNotExist, Model, NodeList, TextField

from service.database import database
from service.records.bound import delete_from, insert_into, update_of
from service.records.lookups import RowSelect, column_and_value, look_up

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def microseconds(at: datetime) -> int:
    """Whole microseconds since 1970 in UTC."""
    if at.tzinfo is None:
        raise ValueError("an instant without a zone")
    return (at - _EPOCH) // timedelta(microseconds=1)


def instant(value: int) -> datetime:
    return _EPOCH + timedelta(microseconds=value)


T = TypeVar("T")
W = TypeVar("W", bound=StrEnum)

# What a row holds in the column. peewee's columns have it for the type checker and not when the program runs.
V = TypeVar("V")


if TYPE_CHECKING:
    _Number = BigIntegerField[V]
    _Text = TextField[V]
else:

    class _Number(BigIntegerField):
        def __class_getitem__(cls, value: Any) -> Any:
            return cls

    class _Text(TextField):
        def __class_getitem__(cls, value: Any) -> Any:
            return cls


class Instant(_Number[V]):
    """An instant in UTC."""

    @overload
    def __init__(self: "Instant[datetime | None]", *, null: Literal[True], **more: Any) -> None: ...
    @overload
    def __init__(self: "Instant[datetime]", **more: Any) -> None: ...
    def __init__(self, **more: Any) -> None:
        super().__init__(**more)

    def db_value(self, value: Any) -> Any:
        return microseconds(value) if isinstance(value, datetime) else value

    def python_value(self, value: Any) -> Any:
        return None if value is None else instant(value)


class Json(_Text[Any]):
    """A small JSON value whose inside is never searched."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)

    def db_value(self, value: Any) -> Any:
        return None if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)

    def python_value(self, value: Any) -> Any:
        return None if value is None else json.loads(value)


def read_all(texts: Iterable[str]) -> list[Any]:
    """The JSON of many rows as one text: they are small, and a call for each would take as long as its text.

    >>> read_all(['{"thickness_mm": 0.5}', "[1, 2]"])
    [{'thickness_mm': 0.5}, [1, 2]]
    """
    values: list[Any] = json.loads(f"[{','.join(texts)}]")
    return values


def as_day(value: date | str | None) -> date | None:
    """A day as a statement gives it: SQLite has it as text.

    >>> as_day("2026-11-03")
    datetime.date(2026, 11, 3)
    """
    return date.fromisoformat(value) if isinstance(value, str) else value


def known(value: T | None) -> T:
    """A value that its column may lack in general, and that this row has by the rules or by the query it came from."""
    if value is None:
        raise LookupError("a value is missing that the account's rules promise")
    return value


@overload
def as_word(words: type[W], value: str) -> W: ...
@overload
def as_word(words: type[W], value: str | None) -> W | None: ...
def as_word(words: type[W], value: str | None) -> W | None:
    """What a row holds, typed as one of its vocabulary: only those are written (see `Word`), so none is looked up."""
    return cast(W | None, value)


class Record(Model):
    DoesNotExist: ClassVar[type[DoesNotExist]]

    class Meta:
        database = database
        legacy_table_names = False

    @classmethod
    def select(cls, *fields: Any) -> "RowSelect[Self]":
        return cast("RowSelect[Self]", super().select(*fields))

    @classmethod
    def create(cls, **columns: Any) -> Self:
        """A new row. peewee would keep a name that is none of the table's columns as something of the object alone."""
        strange = columns.keys() - cls._meta.combined.keys()
        if strange:
            raise AttributeError(f"{cls.__name__} has no column {', '.join(sorted(strange))}")
        return super().create(**columns)

    # Whatever is written goes through the hooks of `bound`, however it is asked for: these make all of peewee's ways.
    if not TYPE_CHECKING:

        @classmethod
        def insert(cls, data=None, /, **columns):
            return insert_into(cls, cls._normalize_data(data, columns))

        @classmethod
        def insert_many(cls, rows, fields=None):
            return insert_into(cls, rows, fields)

        @classmethod
        def insert_from(cls, query, fields):
            return insert_into(cls, query, [getattr(cls, f) if isinstance(f, str) else f for f in fields])

        @classmethod
        def update(cls, data=None, /, **columns):
            return update_of(cls, cls._normalize_data(data, columns))

        @classmethod
        def delete(cls):
            return delete_from(cls)

    @classmethod
    def get(cls, *query: Any) -> Self:
        """One row; by the short way where one column is asked for one value."""
        asked = column_and_value(cls, query)
        if asked is None or asked[1] is None:
            return super().get(*query)
        row = look_up(cls, *asked)
        if row is None:
            raise cls.DoesNotExist(f"no {cls.__name__} with {asked[0].name} {asked[1]!r}")
        return row


class UnknownWord(ValueError):
    """Something is to be written that is none of its column's words."""


class Word(_Text[V]):
    """One of the words that this version of the program knows, checked with every value that is written or asked for.

    A vocabulary that a trade extends (kinds of defect, material, movement) is guarded here and at the edge alone: a new
    word is a new line in schemas/words.py, and no table is built anew for it. A set that is ``closed`` by what it means
    (units, verdicts) is held by a CHECK of the database as well. `potmark check` names rows whose word is not known.
    """

    @overload
    def __init__(
        self: "Word[str | None]", words: Iterable[str], *, closed: bool = ..., null: Literal[True], **more: Any
    ) -> None: ...
    @overload
    def __init__(self: "Word[str]", words: Iterable[str], *, closed: bool = ..., **more: Any) -> None: ...
    def __init__(self, words: Iterable[str], *, closed: bool = False, **more: Any) -> None:
        self.words = tuple(str(word) for word in words)
        self.closed = closed
        super().__init__(**more)

    def bind(self, model: Any, name: str, set_attribute: bool = True) -> None:
        super().bind(model, name, set_attribute)
        if self.closed:
            listed = ", ".join("'" + word.replace("'", "''") + "'" for word in self.words)
            self.constraints = [Check(f"{self.column_name} IN ({listed})")]

    def db_value(self, value: Any) -> Any:
        if value is None:
            return None
        if value not in self.words:
            raise UnknownWord(f"{self.model.__name__}.{self.name} has no word {value!r}.")
        return str(value)


def together(*columns: str) -> SQL | NodeList:
    """Columns that are all there or all missing."""
    none = " AND ".join(f"{c} IS NULL" for c in columns)
    every = " AND ".join(f"{c} IS NOT NULL" for c in columns)
    return Check(f"(({none}) OR ({every}))")


def whole(column: str) -> SQL | NodeList:
    """SQLite would keep the text 'x' in a column of whole numbers; PostgreSQL knows the type already."""
    return Check(f"({column} IS NULL OR {column} = CAST({column} AS BIGINT))")
