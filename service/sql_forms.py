"""The form of a query, which is all that its text depends on, and its values in the order in which they are written.

Columns and tables are told by where they lie in memory; sources that have no name by the order of their appearance.
"""

from collections.abc import Callable, Iterable
from typing import Any

from peewee import (
    SQL,
    Alias,
    Cast,
    Column,
    Entity,
    Expression,
    Field,
    FieldAlias,
    ForeignKeyField,
    Function,
    Insert,
    Join,
    Model,
    ModelAlias,
    Negated,
    Node,
    NodeList,
    Ordering,
    Select,
    StringExpression,
    Table,
    Update,
    Value,
)  # fmt: skip
from peewee import ForUpdate as Lock


class UnknownNode(Exception):
    """Something of which the walk does not know what its text depends on."""


class Walk:
    """The form of a query and its values, in the order in which they are written."""

    __slots__ = ("form", "sources", "values")

    def __init__(self) -> None:
        self.form: list[Any] = []
        self.values: list[Any] = []
        # Sources have no names of their own: each is told by its number, in the order of their first appearance.
        self.sources: dict[int, int] = {}

    def __call__(self, node: Any) -> None:
        way = _WAYS.get(type(node))
        (way or _way(type(node)))(self, node)

    def all(self, nodes: Iterable[Any] | None) -> None:
        if nodes is None:
            self.form.append(None)
            return
        self.form.append("[")
        for node in nodes:
            self(node)
        self.form.append("]")

    def is_new(self, source: Any) -> bool:
        known = len(self.sources)
        number = self.sources.setdefault(id(source), known)
        self.form += ("source", number)
        return number == known


def _value(walk: Walk, node: Any) -> None:
    walk.form.append("?")
    walk.values.append(node)


def _nothing(walk: Walk, node: None) -> None:
    # Written as NULL after IS, and as a value elsewhere.
    walk.form.append(None)
    walk.values.append(None)


def _list(walk: Walk, node: Any) -> None:
    if len(node) > _LONGEST:
        raise UnknownNode(list)
    walk.all(node)


def _field(walk: Walk, node: Field) -> None:
    walk.form.append(id(node))


def _field_alias(walk: Walk, node: Any) -> None:
    walk.form += ("of", id(node.field))
    walk(node.source)


def _column(walk: Walk, node: Column) -> None:
    walk.form += ("column", node.name)
    walk(node.source)


def _model(walk: Walk, node: type[Model]) -> None:
    walk.form.append(id(node))


def _table(walk: Walk, node: Any) -> None:
    walk.form += ("table", node._path, node._alias)


def _model_alias(walk: Walk, node: Any) -> None:
    if walk.is_new(node):
        walk.form += ("alias", id(node.model), node.alias)


def _expression(walk: Walk, node: Any) -> None:
    walk.form += (node.op, node.flat, getattr(node.lhs, "_coerce", None))
    walk(node.lhs)
    if node.rhs is None and node.op in ("IS", "IS NOT"):
        walk.form.append(None)
    else:
        walk(node.rhs)


def _string_expression(walk: Walk, node: Any) -> None:
    walk.form.append("text")
    _expression(walk, node)


def _sql(walk: Walk, node: Any) -> None:
    walk.form.append(node.sql)
    walk.values += node.params or ()


def _entity(walk: Walk, node: Any) -> None:
    walk.form += ("entity", *node._path)


def _alias(walk: Walk, node: Any) -> None:
    walk.form += ("as", node._alias)
    walk(node.node)


def _negated(walk: Walk, node: Any) -> None:
    walk.form.append("not")
    walk(node.node)


def _cast(walk: Walk, node: Any) -> None:
    walk.form += ("cast", node._cast)
    walk(node.node)


def _ordering(walk: Walk, node: Any) -> None:
    walk.form += ("order", node.direction, node.collation, node.nulls)
    walk(node.node)


def _given(walk: Walk, node: Value) -> None:
    if node.converter not in (None, False):
        raise UnknownNode(Value)
    if node.multi:
        _list(walk, node.values)
    else:
        walk.form.append(node.converter)
        _value(walk, node.value)


def _node_list(walk: Walk, node: Any) -> None:
    walk.form += ("list", node.glue, node.parens)
    walk.all(node.nodes)


def _function(walk: Walk, node: Any) -> None:
    walk.form += ("fn", node.name, node._coerce)
    walk.all(node.arguments)
    walk.all(node._order_by)
    walk.form.append(node._filter is not None)
    if node._filter is not None:
        walk(node._filter)


def _join(walk: Walk, node: Any) -> None:
    walk.form.append("join")
    walk(node.lhs)
    walk.form.append(node.join_type)
    walk(node.rhs)
    walk.form.append(node._on is not None)
    if node._on is not None:
        walk(node._on)


def _lock(walk: Walk, node: Any) -> None:
    if node._of is not None:
        raise UnknownNode(Lock)
    walk.form += (node._expr, node._nowait, node._skip_locked)


def _select(walk: Walk, node: Any) -> None:
    if not walk.is_new(node):
        return
    if node._cte_list or node._windows is not None or node._distinct:
        raise UnknownNode(Select)
    walk.form += (type(node), node._simple_distinct, node._distinct is None, node._lateral, node._alias)
    walk.all(node._returning)
    walk.all(node._from_list)
    for asked in (node._where, node._having, node._limit, node._offset, node._for_update):
        walk.form.append(asked is not None)
    if node._where is not None:
        walk(node._where)
    walk.all(node._group_by)
    if node._having is not None:
        walk(node._having)
    walk.all(node._order_by)
    for last in (node._limit, node._offset, node._for_update):
        if last is not None:
            walk(last)


def _row(walk: Walk, model: type[Model], row: dict[Any, Any], defaults: dict[Field, Any]) -> None:
    named = {model._meta.combined[key] if isinstance(key, str) else key: value for key, value in row.items()}
    columns = defaults | named if defaults else named
    for column in sorted(columns, key=lambda column: column._sort_key):
        value = columns[column]
        walk.form.append(id(column))
        if isinstance(value, Model) and isinstance(column, ForeignKeyField):
            walk.values.append(value)
        elif isinstance(value, Expression):
            walk(value)
        elif isinstance(value, Node) or (isinstance(value, type) and issubclass(value, Model)):
            raise UnknownNode(type(value))
        else:
            walk.values.append(value)


def _insert(walk: Walk, node: Any) -> None:
    rows = [node._insert] if node._query_type == Insert.SIMPLE else node._insert
    if not isinstance(rows, list) or not 0 < len(rows) <= _LONGEST or node._columns or node._cte_list:
        raise UnknownNode(Insert)
    if not all(isinstance(row, dict) for row in rows):
        raise UnknownNode(Insert)
    conflict = node._on_conflict
    if conflict is not None and (conflict._action != "IGNORE" or conflict._conflict_target):
        raise UnknownNode(Insert)
    walk.form += ("insert", id(node.model), conflict is not None)
    defaults = node.get_default_data()
    if any(callable(default) for default in defaults.values()):
        raise UnknownNode(Insert)
    for row in rows:
        walk.form.append("row")
        _row(walk, node.model, row, defaults)
    walk.all(node._returning)


def _update(walk: Walk, node: Any) -> None:
    if node._from is not None or node._cte_list or node._order_by or node._limit is not None:
        raise UnknownNode(Update)
    walk.form += ("update", id(node.model))
    _row(walk, node.model, node._update, {})
    walk.form.append(node._where is not None)
    if node._where is not None:
        walk(node._where)
    walk.all(node._returning)


_WAYS: dict[type, Callable[[Walk, Any], None]] = {
    type(None): _nothing,
    list: _list,
    tuple: _list,
    set: _list,
    frozenset: _list,
    Column: _column,
    Table: _table,
    ModelAlias: _model_alias,
    Expression: _expression,
    StringExpression: _string_expression,
    SQL: _sql,
    Entity: _entity,
    Alias: _alias,
    Negated: _negated,
    Cast: _cast,
    Ordering: _ordering,
    Value: _given,
    NodeList: _node_list,
    Function: _function,
    Join: _join,
    Lock: _lock,
}
# A list of more values than these is rare in each length.
_LONGEST = 50


def _way(kind: type) -> Callable[[Walk, Any], None]:
    """How a kind of node is walked that has not been met before."""
    if issubclass(kind, FieldAlias):
        return _field_alias  # peewee makes a class for each
    way: Callable[[Walk, Any], None] | None = None
    if issubclass(kind, Field):
        way = _field if kind.__sql__ is Field.__sql__ else None
    elif issubclass(kind, Select):
        way = _select
    elif issubclass(kind, Insert):
        way = _insert
    elif issubclass(kind, Update):
        way = _update
    elif issubclass(kind, type):
        way = _model
    elif not issubclass(kind, Node | range) and kind.__module__ != "types" and kind.__name__ != "generator":
        way = _value
    if way is None:
        raise UnknownNode(kind)
    _WAYS[kind] = way
    return way
