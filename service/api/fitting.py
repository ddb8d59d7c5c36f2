"""At registration: what a request brings is what its function takes.

A schema and the function behind its route are written in two places. A field that the function does not take, or a
parameter that no request can give, is found when the service starts, not when the first one asks.
"""

import inspect
import re
from collections.abc import Callable
from typing import Any

from schemas.base import In

_IN_PATH = re.compile(r"<(?:\w+(?:\([^)]*\))?:)?(\w+)>")

# What an operation is handed in place of an act, and an act's own facts, which never reach it as parameters.
_OF_THE_ACT = frozenset({"work", "act"})
_FACTS_OF_AN_ACT = frozenset({"occurred_at", "why"})


class Misfit(TypeError):
    """A route was declared with a schema that is not its function's."""


def require_fit(rule: str, function: Callable[..., Any], schema: type[In] | None, *, given: frozenset[str]) -> None:
    """Refuse a route whose fields and path are not its function's parameters; ``given`` is what the route adds itself.

    A function with ``**facts`` takes any field; what it names without a default has to come all the same.
    """
    parameters = inspect.signature(function).parameters
    anything = any(p.kind is p.VAR_KEYWORD for p in parameters.values())
    named = {n: p for n, p in parameters.items() if p.kind is not p.VAR_KEYWORD and n not in _OF_THE_ACT}
    comes = _loaded(schema) - (_FACTS_OF_AN_ACT if hasattr(function, "operation_name") else frozenset())
    comes |= frozenset(_IN_PATH.findall(rule))
    lacking = comes - named.keys()
    if lacking and not anything:
        raise Misfit(f"{rule}: {function.__name__} has no parameter {', '.join(sorted(lacking))}.")
    wanting = {n for n, p in named.items() if p.default is p.empty} - comes - given
    if wanting:
        raise Misfit(f"{rule}: no request gives {function.__name__} its {', '.join(sorted(wanting))}.")


def _loaded(schema: type[In] | None) -> frozenset[str]:
    """The names under which a schema hands on what it loaded."""
    if schema is None:
        return frozenset()
    gathered = {name for names in schema.GATHERS.values() for name in names}
    alone = {field.attribute or name for name, field in schema().fields.items() if name not in gathered}
    return frozenset(alone | schema.GATHERS.keys())
