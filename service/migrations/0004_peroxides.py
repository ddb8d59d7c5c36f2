"""Peroxides with their tables, blends of hardeners, measures and pumps beside the scales."""

from typing import Any

from peewee import BigIntegerField, BooleanField, Check, DoubleField, IntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    """What an account has already is marked by its hazard statements: a peroxide heated may burn or explode."""
    marked = " OR ".join(f"replace(h_codes, '{code}', '') <> h_codes" for code in ("H240", "H241", "H242"))
    steps.add_column("material", "organic_peroxide", BooleanField(), fill=f"({marked})")
    steps.add_column("material", "acetone", BooleanField(), fill="FALSE")
    steps.add_column("material", "emergency_c", DoubleField(null=True))
    steps.add_column("material", "vented_container", TextField(null=True))
    steps.add_column("resin_system", "kind", TextField(), fill="'two-part'")
    steps.add_column("system_hardener", "catalyst", TextField(null=True))
    steps.add_column("system_hardener", "blend", TextField(null=True))
    steps.add_column("scale", "form", TextField(), fill="'scale'")
    steps.add_column("scale", "changed_at", BigIntegerField(null=True))
    steps.add_column("scale_check", "shots", TextField(null=True))
    steps.add_column("pour", "volume_ul", BigIntegerField(null=True, constraints=[Check("volume_ul > 0")]))
    steps.add_column("pour", "strokes", IntegerField(null=True, constraints=[Check("strokes > 0")]))
    steps.add_column("pour", "uncertainty_mg", DoubleField(null=True))
