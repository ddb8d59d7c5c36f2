"""A statement's text, composed once for each form of query and kept.

peewee composes the SQL of a query anew each time, which costs an act more than the database does. But the program has
only some hundreds of forms of query: what differs from one time to the next is the values. So a query is walked, which
gives its form (all that its text depends on) and its values in their order. The first of a form is composed by peewee;
from then on its text is at hand, and each value goes through the same column's conversion as it did the first time.

A query with anything in it that the walk does not know, or whose values peewee did not take in the order in which the
walk met them, is composed each time. `tests/budgets/test_kept_sql.py` compares every statement of a job with peewee's.
"""

from collections.abc import Callable
from typing import Any

from peewee import Context, Insert, Select, Update

from service.sql_forms import UnknownNode, Walk

Form = tuple[Any, ...]


class _Recording(Context):
    """peewee's writer, which remembers each value as it came and what it was converted by."""

    __slots__ = ("plain", "taken")

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.taken: list[tuple[Any, Callable[[Any], Any] | None]] = []
        self.plain = True

    def value(self, value: Any, converter: Any = None, add_param: bool = True) -> Any:
        before = len(self._values)  # type: ignore[attr-defined]
        used = converter if converter is not None else self.state.converter
        done = super().value(value, converter, add_param)
        self.plain = self.plain and len(self._values) == before + 1  # type: ignore[attr-defined]
        self.taken.append((value, used or None))
        return done


class _Kept:
    """The text of a form, what converts each of its values, and the parts of the query of which it was made.

    A form tells columns and tables by where they lie in memory: kept alive, so that nothing else comes to lie there.
    """

    __slots__ = ("converters", "parts", "sql")

    def __init__(self, sql: str, converters: tuple[Callable[[Any], Any] | None, ...], parts: Any) -> None:
        self.sql, self.converters, self.parts = sql, converters, parts


# More than the program has forms; a list of each length, though, is a form of its own.
_MOST = 5000
_KEPT: dict[Form, _Kept | None] = {}


def composed(database: Any, query: Any) -> tuple[str, list[Any]]:
    """The text of a query for an engine, and its values as the driver takes them."""
    walk = Walk()
    try:
        if not isinstance(query, Select | Insert | Update):
            raise UnknownNode(type(query))
        walk(query)
    except UnknownNode:
        return _as_peewee_does(database, query)
    form = (database.__class__, *walk.form)
    if form not in _KEPT:
        return _first(database, query, form, walk.values)
    kept = _KEPT[form]
    if kept is None:
        return _as_peewee_does(database, query)
    return kept.sql, [
        value if convert is None else convert(value)
        for convert, value in zip(kept.converters, walk.values, strict=True)
    ]


def _as_peewee_does(database: Any, query: Any) -> tuple[str, list[Any]]:
    sql, values = database.get_sql_context().sql(query).query()
    return str(sql), list(values)


def _first(database: Any, query: Any, form: Form, values: list[Any]) -> tuple[str, list[Any]]:
    writer = _Recording(**database.get_context_options())
    sql, sent = writer.sql(query).query()
    in_order = len(writer.taken) == len(values) and all(
        taken is value for (taken, _), value in zip(writer.taken, values, strict=True)
    )
    if len(_KEPT) >= _MOST:
        _KEPT.clear()
    if writer.plain and in_order:
        # Of what is written, which may be long, only the table and what it is asked for by.
        parts = query.clone() if isinstance(query, Select) else (query.model, getattr(query, "_where", None))
        _KEPT[form] = _Kept(sql, tuple(by for _, by in writer.taken), parts)
    else:
        _KEPT[form] = None
    return str(sql), list(sent)
