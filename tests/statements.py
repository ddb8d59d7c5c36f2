"""The SQL statements of a request: how many, and which of them say the very same again."""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from service.database import database, seen_by_a_hook

# What frames a transaction, which every request has once.
_FRAME = ("BEGIN", "COMMIT", "ROLLBACK", "SAVEPOINT", "RELEASE", "SET ")


@dataclass
class Statements:
    """What was said to the database, in order: the text of each statement with its values."""

    said: list[tuple[str, str]] = field(default_factory=list)
    # The looks at a row before it is changed, from which the journal has its hash before: one to each change.
    before: list[tuple[str, str]] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.said)

    @property
    def repeated(self) -> dict[tuple[str, str], int]:
        """Statements that were sent more than once with the same values, and how often."""
        return {one: times for one, times in Counter(self.said).items() if times > 1}

    def __str__(self) -> str:
        return "\n".join(f"{number:3} {sql} -- {values}" for number, (sql, values) in enumerate(self.said, 1))


@contextmanager
def statements() -> Iterator[Statements]:
    """Listen to every statement for the length of the block; peewee sends each of them through one method."""
    heard = Statements()
    engine: Any = database.obj
    send = engine.execute_sql

    def listening(sql: str, params: Any = None, *more: Any, **named: Any) -> Any:
        if not sql.lstrip().upper().startswith(_FRAME):
            look = seen_by_a_hook() and sql.startswith("SELECT")
            (heard.before if look else heard.said).append((sql, repr(params)))
        return send(sql, params, *more, **named)

    engine.execute_sql = listening
    try:
        yield heard
    finally:
        del engine.execute_sql
