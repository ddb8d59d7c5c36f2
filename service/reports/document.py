"""A report as a JSON document, and its fingerprint.

Masses leave as grams (`mass_g`), instants in RFC 3339, days as YYYY-MM-DD. The same facts give the same bytes (RFC
8785), so that whoever holds the file can compare its SHA-256 with the one that is printed.
"""

import hashlib
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any

import rfc8785


def as_document(value: Any) -> Any:
    """A dataclass, and all that is in it, as JSON can say it. Fields marked ``document=False`` stay inside."""
    if is_dataclass(value) and not isinstance(value, type):
        return dict(_member(f.name, getattr(value, f.name)) for f in fields(value) if f.metadata.get("document", True))
    if isinstance(value, dict):
        return dict(_member(str(k), v) for k, v in value.items())
    if isinstance(value, list | tuple):
        return [as_document(v) for v in value]
    if isinstance(value, set | frozenset):
        return sorted(as_document(v) for v in value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    return value


def _member(name: str, value: Any) -> tuple[str, Any]:
    if name.endswith("_mg") and (value is None or (isinstance(value, int) and not isinstance(value, bool))):
        return f"{name[:-3]}_g", None if value is None else value / 1000
    return name, as_document(value)


def canonical(value: Any) -> bytes:
    """The document of a report in canonical JSON."""
    return rfc8785.dumps(as_document(value))


def fingerprint(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
