"""A schedule asks for vacuum and pressure; a log says which of its columns are gauges."""

from typing import Any

from peewee import TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column("schedule", "pressures", TextField(), fill="'[]'")
    steps.add_column("cure_log", "gauges", TextField(), fill="'{}'")
