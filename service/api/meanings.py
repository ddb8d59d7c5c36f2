"""What the fields of the API mean. One name means one thing; where it does not, its schema is named before it.

A schema or a docstring that says more of a field of its own goes before what stands here.
"""

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any


@cache
def meanings() -> dict[str, str]:
    """Name of a field, or `Schema.field`, `path.name`, `query.name` -> what it is, with its unit."""
    found: dict[str, str] = json.loads(Path(__file__).with_name("meanings.json").read_text("utf-8"))
    return found


def add_meanings(described: dict[str, Any]) -> None:
    """Say of every field and of all that may be asked in an address what it is, where nobody has said it yet."""
    schemas = described["components"]["schemas"]
    for owner, name, said in _fields(described):
        # What an answer gives back means what it meant when it came in.
        asked = schemas.get(f"{owner.removesuffix('Out')}In", {}).get("properties", {}).get(name, {})
        meaning = meanings().get(f"{owner}.{name}") or asked.get("description") or meanings().get(name)
        if meaning is not None and "description" not in said:
            said["description"] = meaning


def _fields(described: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for schema, facts in described["components"]["schemas"].items():
        for name, said in facts.get("properties", {}).items():
            yield schema, name, said
    for methods in described["paths"].values():
        for asked in methods.get("parameters", ()):
            yield asked["in"], asked["name"], asked
        for method, route in methods.items():
            if method != "parameters":
                for asked in route.get("parameters", ()):
                    yield asked["in"], asked["name"], asked
