"""The account's first schema, as SQL that never changes: all tables, and the triggers that keep history unedited.

The text was composed from the tables in service/records when this step was made; a test holds that a database made by
all steps is the one that the records describe. What changes from here on is a step of its own.
"""

from pathlib import Path
from typing import Any

from service.database import on_postgresql


def up(migrator: Any, db: Any) -> None:
    engine = "postgresql" if on_postgresql() else "sqlite"
    text = (Path(__file__).parent / f"0001_start.{engine}.sql").read_text(encoding="utf-8")
    for statement in text.split("\n-- next\n"):
        db.execute_sql(statement.strip())
