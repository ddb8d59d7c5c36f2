"""Holds that stand are found by an index of their own, however many were ever lifted."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("hold", "item_id", where="lifted_at IS NULL", name="hold_that_stands")
