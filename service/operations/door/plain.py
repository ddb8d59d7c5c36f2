"""Plain values: what is journalled and fingerprinted, and results that can be kept and given again."""

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from functools import cache
from typing import Any

from service.records.base import instant, microseconds

# What JSON says as it is; most of what is walked is of these.
_AS_IT_IS = frozenset((str, int, float, bool, type(None)))


def members(value: Any) -> Iterable[tuple[str, Any]]:
    """What a dataclass has, field by field."""
    return [(name, getattr(value, name)) for name in _names(value.__class__)]


@cache
def _names(table: type[Any]) -> tuple[str, ...]:
    return tuple(field.name for field in fields(table))


def walked(
    value: Any,
    leaf: Callable[[Any], Any],
    *,
    of: Callable[[Any], Iterable[tuple[str, Any]]] = members,
    named: Callable[[str, Any], tuple[str, Any]] | None = None,
) -> Any:
    """Dataclasses as dictionaries of their members, sequences and sets as lists, words as text, days by ``leaf``.

    ``of`` says which members a dataclass shows; ``named`` gives a member of one or of a dictionary another name and
    value before the walk goes on into it.
    """

    def walk(value: Any) -> Any:
        if type(value) in _AS_IT_IS:
            return value
        if is_dataclass(value) and not isinstance(value, type):
            return table(of(value))
        if isinstance(value, dict):
            return table((str(name), inner) for name, inner in value.items())
        if isinstance(value, list | tuple):
            return [walk(inner) for inner in value]
        if isinstance(value, set | frozenset):
            return [walk(inner) for inner in sorted(value, key=str)]
        return value.value if isinstance(value, Enum) else leaf(value)

    def table(held: Iterable[tuple[str, Any]]) -> dict[str, Any]:
        if named is not None:
            held = [named(name, inner) for name, inner in held]
        return {name: walk(inner) for name, inner in held}

    return walk(value)


def plain(value: Any) -> Any:
    """A value as JSON can say it; an instant in RFC 3339, bytes by their SHA-256."""
    return walked(value, as_said)


def as_said(value: Any) -> Any:
    """A single value as JSON can say it."""
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bytes):
        return {"sha256": hashlib.sha256(value).hexdigest(), "size": len(value)}
    return value


def dump_result(value: Any) -> str:
    """Keep a result so that dates and instants come back as what they were."""
    return json.dumps(walked(value, _tagged), ensure_ascii=False, separators=(",", ":"))


def load_result(text: str) -> Any:
    return json.loads(text, object_hook=_untag)


def _tagged(value: Any) -> Any:
    if isinstance(value, datetime):
        return {"$instant": microseconds(value)}
    if isinstance(value, date):
        return {"$date": value.isoformat()}
    return value


def _untag(value: dict[str, Any]) -> Any:
    if value.keys() == {"$instant"}:
        return instant(value["$instant"])
    if value.keys() == {"$date"}:
        return date.fromisoformat(value["$date"])
    return value
