"""At registration: what a request brings is what its function takes.

A schema and the function behind its route are written in two places. A field that the function does not take, or a
parameter that no request can give, is found when the service starts, not when the first one asks.
"""

import inspect
import re
import typing
from collections.abc import Callable
from typing import Any, get_args

import marshmallow as ma

from schemas.base import In, PageIn

_IN_PATH = re.compile(r"<(?:\w+(?:\([^)]*\))?:)?(\w+)>")

# What an operation is handed in place of an act, and an act's own facts, which never reach it as parameters.
_OF_THE_ACT = frozenset({"work", "act"})
_FACTS_OF_AN_ACT = frozenset({"occurred_at", "why"})


class Misfit(TypeError):
    """A route was declared with a schema that is not its function's."""


def require_fit(rule: str, function: Callable[..., Any], schema: In | None, *, given: frozenset[str]) -> None:
    """Refuse a route whose fields and path are not its function's parameters; ``given`` is what the route adds itself.

    A function with ``**changes: Annotated[Any, Person]`` takes columns of that table besides what it names.
    """
    parameters = inspect.signature(function).parameters
    named = {n: p for n, p in parameters.items() if p.kind is not p.VAR_KEYWORD and n not in _OF_THE_ACT}
    given |= getattr(function, "made_ready", frozenset())
    fields = _loaded(schema) - (_FACTS_OF_AN_ACT if hasattr(function, "operation_name") else frozenset())
    if isinstance(schema, PageIn):
        fields -= {"sort"}  # it is a part of the cursor
    comes = fields | frozenset(_IN_PATH.findall(rule))
    lacking = comes - named.keys() - _columns(function, [n for n in parameters if n not in named])
    if lacking:
        raise Misfit(f"{rule}: {function.__name__} has no parameter {', '.join(sorted(lacking))}.")
    wanting = named.keys() - comes - given
    if wanting:
        raise Misfit(f"{rule}: no request gives {function.__name__} its {', '.join(sorted(wanting))}.")
    needed = {n for n, p in named.items() if p.default is p.empty} & fields - given
    if unsure := needed & _may_lack(schema):
        raise Misfit(f"{rule}: a request may leave out {', '.join(sorted(unsure))}, which {function.__name__} needs.")


def _columns(function: Callable[..., Any], unnamed: list[str]) -> frozenset[str]:
    """The columns that a function takes without naming them."""
    plain = inspect.unwrap(function)
    taken = next((n for n in unnamed if n not in _OF_THE_ACT and n in plain.__annotations__), None)
    if taken is None:
        return frozenset()
    table = get_args(typing.get_type_hints(plain, include_extras=True)[taken])
    if not table:
        raise Misfit(f"{plain.__name__} does not say which table's columns **{taken} are.")
    return frozenset(table[1]._meta.fields)


def _may_lack(schema: In | None) -> frozenset[str]:
    fields = schema.fields.items() if schema is not None else ()
    return frozenset(f.attribute or n for n, f in fields if not f.required and f.load_default is ma.missing)


def _loaded(schema: In | None) -> frozenset[str]:
    """The names under which a schema hands on what it loaded."""
    if schema is None:
        return frozenset()
    gathered = {name for names in schema.GATHERS.values() for name in names}
    alone = {field.attribute or name for name, field in schema.fields.items() if name not in gathered}
    return frozenset(alone | schema.GATHERS.keys())
