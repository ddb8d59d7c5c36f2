"""References that few rows have are found by an index of those rows alone; a scale's last check by the time of it.

SQLite takes an index over a column that nearly all rows lack for one that leads to few: it read all movements that
there ever were to find those of one pot that nobody had cancelled.
"""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    for table, column in (("movement", "cancelled_by_id"), ("deed", "corrects_id")):
        steps.drop_index(table, column)
        steps.add_index(table, column, where=f"{column} IS NOT NULL", name=f"{table}_with_{column[:-3]}")
    steps.add_index("scale_check", "scale_id", "occurred_at")
    steps.drop_index("scale_check", "scale_id")
    steps.add_index("item", "state", where="kind = 'M' AND balance > 0", name="item_in_a_cup")
    steps.add_index("item", "state", where="kind = 'P' AND state = 'laying'", name="item_being_laid")
    steps.add_index("item", "state", where="kind = 'C' AND state = 'open'", name="item_opened")
