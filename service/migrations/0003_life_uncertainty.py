"""How far the lives of a resin system's tables are known."""

from typing import Any

from peewee import Check, DoubleField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    known_to = DoubleField(constraints=[Check("life_uncertainty_pct BETWEEN 0 AND 50")])
    steps.add_column("resin_system", "life_uncertainty_pct", known_to, fill="5.0")
