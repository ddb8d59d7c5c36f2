"""Looking rows up by one column, without composing the same SQL again.

Most queries of an operation ask for one row by its key or code, or for the few rows that belong to one item. peewee
composes the text of a query anew each time, which for a table of twenty columns takes several times as long as SQLite
takes to answer. The text depends on the table and the column alone, so it is composed once. Anything else than
`column == value` goes the usual way.
"""

import functools
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, TypeVar

from peewee import OP, SQL, Expression, Field, ForeignKeyField, Model, ModelSelect

from service.database import each, listed, looked_up, worded

M = TypeVar("M", bound=Model)

# (model, column, engine) -> (SQL, fields in the order of its columns)
_TEXTS: dict[tuple[type[Model], str, str], tuple[str, list[Field]]] = {}


def column_and_value(model: type[Model], query: tuple[Any, ...]) -> tuple[Field, Any] | None:
    """The column and the plain value, if this is a lookup of that kind."""
    if len(query) != 1 or not isinstance(query[0], Expression) or query[0].op != OP.EQ:
        return None
    field, value = query[0].lhs, query[0].rhs
    if not isinstance(field, Field) or field.model is not model:
        return None
    if isinstance(value, Model):
        value = value.get_id()
    if value is not None and not isinstance(value, int | str):
        return None
    return field, value


def look_up(model: type[M], field: Field, value: Any) -> M | None:
    """The first row with that value in that column, or nothing."""
    database = model._meta.database
    where = (model, field.name, database.obj.__class__.__name__)
    kept = _TEXTS.get(where)
    if kept is None:
        # The value and the limit are parameters, so the text is the same for every value.
        sql, _ = model.select().where(field == value).limit(1).sql()
        kept = _TEXTS[where] = (sql, list(model._meta.sorted_fields))
    sql, fields = kept
    found = database.execute_sql(sql, (field.db_value(value), 1)).fetchone()
    if found is None:
        return None
    return _row(model, fields, found)


def rows_by(model: type[M], field: Field, value: int | str) -> list[M]:
    """All rows with that value in that column, in the order of their key."""
    database = model._meta.database
    where = (model, f"{field.name} all", database.obj.__class__.__name__)
    kept = _TEXTS.get(where)
    if kept is None:
        sql, _ = model.select().where(field == value).order_by(model._meta.primary_key).sql()
        kept = _TEXTS[where] = (sql, list(model._meta.sorted_fields))
    sql, fields = kept
    return [_row(model, fields, found) for found in database.execute_sql(sql, (field.db_value(value),)).fetchall()]


def rows_among(model: type[M], field: Field, values: Iterable[int]) -> list[M]:
    """All rows whose column has one of these values; by the short way where it is but one."""
    wanted = list(values)
    if len(wanted) == 1:
        return rows_by(model, field, wanted[0])
    return list(model.select().where(field.in_(wanted)).order_by(model._meta.primary_key)) if wanted else []


@functools.cache
def another(model: type[Model], name: str) -> Any:
    """The table once more in a query that has it; made once for each name, for peewee makes a class for each column."""
    return model.alias()


def among(field: Field, values: Iterable[int]) -> Expression:
    """The column has one of these numbers, which are given as one value however many they are."""
    return field.in_(SQL(worded(f"(SELECT id FROM {looked_up()})"), (listed(values),)))


def newest_in_each(most: int, key: Field, group: Field, values: Iterable[int]) -> Expression:
    """The row is among so many newest (by ``key``) of those that have one of these numbers in their ``group``.

    Each number's rows are looked up from the newest one on, however many there are.
    """
    table, number, its = key.model._meta.table_name, key.column_name, group.column_name
    oldest = f'SELECT o.{number} FROM "{table}" o WHERE o.{its} = given.id ORDER BY o.{number} DESC'
    since = f"t.{number} >= coalesce(({oldest} LIMIT 1 OFFSET {most - 1}), 0)"
    found = each(table, "t", f"t.{its} IN (given.id) AND {since}")
    return key.in_(SQL(worded(f"(SELECT t.{number} FROM {looked_up()} {found})"), (listed(values),)))


def _row(model: type[M], fields: list[Field], found: tuple[Any, ...]) -> M:
    row = model(__no_default__=1, **{f.name: _as_python(f, v) for f, v in zip(fields, found, strict=True)})
    row._dirty.clear()  # type: ignore[attr-defined]
    return row


def _as_python(field: Field, value: Any) -> Any:
    if isinstance(field, ForeignKeyField):
        return value
    return field.python_value(value)


if TYPE_CHECKING:

    class RowSelect(ModelSelect[M]):
        """A select as the type checker reads it: it gives rows of its table until it is asked for something else."""

        def tuples(self, as_tuple: bool = True) -> Any: ...
        def dicts(self, as_dict: bool = True) -> Any: ...
        def objects(self, constructor: Any = None) -> Any: ...

else:
    RowSelect = ModelSelect
