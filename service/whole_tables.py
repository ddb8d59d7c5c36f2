"""Whole tables as they go out of one database and into another: all rows in the order of their keys, and all at once.

What the two engines do differently here is how they sort text, how many rows they take quickest, when they look at
references, and that one of them counts numbers apart from the rows that have them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from peewee import __exception_wrapper__ as in_our_words  # type: ignore[attr-defined]

from service.database import database, on_postgresql, row_by_row, through_a_step


def rows_by_key(
    table: str, columns: Sequence[str], keys: Mapping[str, bool], *, at_once: int = 2000
) -> Iterator[tuple[Any, ...]]:
    """All rows in the order of their keys, of which is said whether each is text: the same on both engines."""
    listed = ", ".join(f'"{column}"' for column in columns)
    by_bytes = ' COLLATE "C"' if on_postgresql() else ""
    order = ", ".join(f'"{key}"{by_bytes if text else ""}' for key, text in keys.items())
    return row_by_row(f'SELECT {listed} FROM "{table}" ORDER BY {order}', at_once=at_once)


@contextmanager
def put_back() -> Iterator[None]:
    """One transaction in which whole tables are written, and references are looked at when it ends."""
    with through_a_step(), database.atomic():
        if not on_postgresql():
            # PostgreSQL looks at the end of each statement, and each table is one.
            database.execute_sql("PRAGMA defer_foreign_keys = ON")
        yield


def put_rows(table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Write all rows of a table as they were elsewhere; within ``put_back``."""
    listed = ", ".join(f'"{column}"' for column in columns)
    connection = database.connection()
    with in_our_words:
        if not on_postgresql():
            connection.executemany(f'INSERT INTO "{table}" ({listed}) VALUES ({", ".join("?" * len(columns))})', rows)
            return
        with connection.cursor() as cursor, cursor.copy(f'COPY "{table}" ({listed}) FROM STDIN') as copy:
            for row in rows:
                copy.write_row(row)


def count_on(table: str, key: str) -> None:
    """Let the next row of a table have the number after its last one, as SQLite does by itself."""
    if on_postgresql():
        database.execute_sql(
            f"SELECT setval(sequence, greatest(last, 1), last > 0) FROM (SELECT pg_get_serial_sequence('\"{table}\"', "
            f'\'{key}\') AS sequence, (SELECT coalesce(max("{key}"), 0) FROM "{table}") AS last) AS counted '
            "WHERE sequence IS NOT NULL"
        )
