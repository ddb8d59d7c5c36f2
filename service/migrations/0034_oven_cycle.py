"""A schedule for thin parts says how long its oven's cycle is."""

from typing import Any

from peewee import Check, DoubleField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column("schedule", "oven_cycle_min", DoubleField(null=True, constraints=[Check("oven_cycle_min > 0")]))
