"""A report as a JSON document, and its fingerprint.

Masses leave as grams (`mass_g`), instants in RFC 3339, days as YYYY-MM-DD. The same facts give the same bytes (RFC
8785), so that whoever holds the file can compare its SHA-256 with the one that is printed.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import fields
from functools import cache
from typing import Any

import rfc8785

from service.operations.door.plain import as_said, walked


def as_document(value: Any) -> Any:
    """A dataclass, and all that is in it, as JSON can say it. Fields marked ``document=False`` stay inside."""
    return walked(value, as_said, of=_shown, named=_in_grams)


def _shown(value: Any) -> Iterable[tuple[str, Any]]:
    return [(name, getattr(value, name)) for name in _names(value.__class__)]


@cache
def _names(table: type[Any]) -> tuple[str, ...]:
    return tuple(field.name for field in fields(table) if field.metadata.get("document", True))


def _in_grams(name: str, value: Any) -> tuple[str, Any]:
    if name.endswith("_mg") and (value is None or (isinstance(value, int) and not isinstance(value, bool))):
        return f"{name[:-3]}_g", None if value is None else value / 1000
    return name, value


def canonical(value: Any) -> bytes:
    """The document of a report in canonical JSON."""
    return rfc8785.dumps(as_document(value))


def fingerprint(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
