"""Pots that were closed lately, moulds that wait and the newest checks of a scale are found by an index.

With statistics SQLite found the last two by itself; nothing in the program gathers any.
"""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("mix", "closed_at")
    steps.add_index("mould", "ready_at")
    steps.add_index("scale_check", "scale_id", "id")
