"""The account's first schema: all tables, and the triggers that keep history from being edited."""

from typing import Any

from service.database import guard_against_change
from service.records import ALL, KEPT


def up(migrator: Any, db: Any) -> None:
    db.create_tables(ALL, safe=False)
    for table, settable_once in KEPT.items():
        meta = table._meta
        guard_against_change(
            meta.table_name,
            settable_once=settable_once,
            columns=tuple(field.column_name for field in meta.sorted_fields),
        )
    db.execute_sql("INSERT INTO head (id, seq, hash) VALUES (1, 0, '')")
