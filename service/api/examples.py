"""Examples of answers, by the name of their schema: what the description shows."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from schemas.answers import schema_of


@cache
def examples() -> dict[str, Any]:
    """Name of a schema -> one such answer, or what matters of it."""
    found: dict[str, Any] = json.loads(Path(__file__).with_name("examples.json").read_text("utf-8"))
    return found


def example_of(cls: type, *, many: bool = False) -> Any:
    """What the description shows of an answer; nothing where there is no example of it."""
    example = examples().get(schema_of(cls).__name__)
    return [example] if many and example else example
