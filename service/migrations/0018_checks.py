"""The shop's calendar, how long a part takes its mould, and the currency of prices."""

from typing import Any

from peewee import Check, DoubleField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    for name in ("weekdays", "opens_at", "closes_at", "closed_on", "currency"):
        steps.add_column("site", name, TextField(null=True))
    steps.add_column("site", "mould_hours", DoubleField(null=True, constraints=[Check("mould_hours > 0")]))
    steps.add_column("mould", "hours", DoubleField(null=True, constraints=[Check("hours > 0")]))
