"""What an answer costs its database, counted by the engine itself: no clock, so the same work gives the same number.

On SQLite the steps of its virtual machine, in hundreds; on PostgreSQL the rows that were read, whether by an index or
one after the other. Twice the machine's load changes neither.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from service.database import connected, database, on_postgresql

_AT_ONCE = 100


@dataclass(slots=True)
class Effort:
    spent: int = 0


@contextmanager
def effort(table: str | None = None) -> Iterator[Effort]:
    """Count for the length of the block, whatever connections it uses (SQLite) or this thread's own (PostgreSQL).

    On PostgreSQL the rows of one table alone can be counted.
    """
    counted = Effort()
    if on_postgresql():
        before = _rows_read(table)
        yield counted
        counted.spent = _rows_read(table) - before
        return
    engine: Any = database.obj
    send = engine.execute_sql

    def tick() -> int:
        counted.spent += _AT_ONCE
        return 0

    def sending(sql: str, params: Any = None, *more: Any) -> Any:
        engine.connection().set_progress_handler(tick, _AT_ONCE)
        return send(sql, params, *more)

    engine.execute_sql = sending
    try:
        yield counted
    finally:
        del engine.execute_sql
        with connected():
            engine.connection().set_progress_handler(None, 0)


def _rows_read(table: str | None) -> int:
    """By this connection's server since it began: what a transaction read is told when the next one begins."""
    with connected():
        database.execute_sql("SELECT pg_stat_force_next_flush()")
        database.execute_sql("SELECT pg_stat_clear_snapshot()")
        query = "SELECT sum(seq_tup_read) + sum(coalesce(idx_tup_fetch, 0)) FROM pg_stat_user_tables"
        which, given = ("", ()) if table is None else (" WHERE relname = %s", (table,))
        return int(database.execute_sql(query + which, given).fetchone()[0])
