"""Plain values: what is journalled and fingerprinted, and results that can be kept and given again."""

import hashlib
import json
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any

from service.records.base import instant, microseconds


def plain(value: Any) -> Any:
    """A value as JSON can say it; an instant in RFC 3339, bytes by their SHA-256."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        items = sorted(value, key=str) if isinstance(value, set | frozenset) else value
        return [plain(v) for v in items]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bytes):
        return {"sha256": hashlib.sha256(value).hexdigest(), "size": len(value)}
    return value


def dump_result(value: Any) -> str:
    """Keep a result so that dates and instants come back as what they were."""
    return json.dumps(_tagged(value), ensure_ascii=False, separators=(",", ":"))


def load_result(text: str) -> Any:
    return json.loads(text, object_hook=_untag)


def _tagged(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _tagged(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(k): _tagged(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_tagged(v) for v in value]
    if isinstance(value, Enum):
        return value.value
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
