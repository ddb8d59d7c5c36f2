"""A plugin for the type checker: a row is made from the columns of its table, and from nothing else.

peewee takes the columns of ``Item.create``, ``Item.insert`` and ``Item.update`` as keywords of any name. With this the
three take one keyword a column, of that column's type: a misspelled name is an error, and so is a wrong value.
No keyword has to be given, as a column's default stands in the call that declares it and not in its type; the database
refuses a row that lacks what it needs.
"""

import functools
from collections.abc import Callable, Iterator

from mypy.maptype import map_instance_to_supertype
from mypy.nodes import ARG_NAMED_OPT, ARG_STAR2, TypeInfo, Var
from mypy.plugin import MethodSigContext, Plugin
from mypy.types import CallableType, FunctionLike, Instance, Type, TypeType, UnionType, get_proper_type

_TABLES, _RECORD, _FIELD, _FOREIGN_KEY, _EXPRESSION = (
    "service.records.",
    "service.records.base.Record",
    "peewee.Field",
    "peewee.ForeignKeyField",
    "peewee.Node",
)
_MAKING = ("create", "insert", "update")


class RecordColumns(Plugin):
    def get_method_signature_hook(self, fullname: str) -> Callable[[MethodSigContext], FunctionLike] | None:
        made_by = fullname.rpartition(".")[2]
        if not fullname.startswith(_TABLES) or made_by not in _MAKING:
            return None
        # A row of its own is made from values; what is written by a statement may be an expression in SQL as well.
        return functools.partial(_with_columns, in_sql=made_by != "create")


def plugin(version: str) -> type[Plugin]:
    return RecordColumns


def _with_columns(context: MethodSigContext, *, in_sql: bool) -> FunctionLike:
    made, table = context.default_signature, _table(context.type)
    if table is None:
        return made
    number = context.api.named_generic_type("builtins.int", [])
    columns = dict(_columns(table, number, in_sql=in_sql))
    rest = [i for i, kind in enumerate(made.arg_kinds) if kind != ARG_STAR2]
    return made.copy_modified(
        arg_types=[*(made.arg_types[i] for i in rest), *columns.values()],
        arg_kinds=[*(made.arg_kinds[i] for i in rest), *([ARG_NAMED_OPT] * len(columns))],
        arg_names=[*(made.arg_names[i] for i in rest), *columns],
    )


def _table(owner: Type) -> TypeInfo | None:
    """The class on which the method is called, if it is a table's."""
    proper = get_proper_type(owner)
    if isinstance(proper, CallableType):
        proper = get_proper_type(proper.ret_type)
    elif isinstance(proper, TypeType):
        proper = get_proper_type(proper.item)
    return proper.type if isinstance(proper, Instance) and proper.type.has_base(_RECORD) else None


def _columns(table: TypeInfo, number: Type, *, in_sql: bool) -> Iterator[tuple[str, Type]]:
    """Each column's name and what can be written into it; a foreign key under its second name too, as a number."""
    for name, symbol in table.names.items():
        field = get_proper_type(symbol.node.type) if isinstance(symbol.node, Var) and symbol.node.type else None
        if not isinstance(field, Instance) or not field.type.has_base(_FIELD):
            continue
        mro = {info.fullname: info for info in field.type.mro}
        takes: list[Type] = [map_instance_to_supertype(field, mro[_FIELD]).args[0]]
        if in_sql:
            takes.append(Instance(mro[_EXPRESSION], []))
        if _FOREIGN_KEY in mro:
            takes.append(number)
            yield f"{name}_id", UnionType.make_union(takes)
        yield name, UnionType.make_union(takes)
