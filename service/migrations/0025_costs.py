"""Prices of arrivals, and what an hour's work costs."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, DateField, TextField

from service.migrations import steps

_BASES = ("total", "kilogram", "metre", "piece")


def _minor() -> BigIntegerField:
    whole = Check("(minor IS NULL OR minor = CAST(minor AS BIGINT))")
    return BigIntegerField(constraints=[Check("minor >= 0"), whole])


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "price",
        {
            "id": BigAutoField(),
            "receipt": steps.row_of("receipt"),
            "basis": TextField(constraints=[Check(steps.listed("basis", _BASES))]),
            "minor": _minor(),
            "currency": TextField(),
            "document": TextField(null=True),
            "said_at": BigIntegerField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
    steps.add_table(
        "hourly_rate",
        {
            "id": BigAutoField(),
            "minor": _minor(),
            "currency": TextField(),
            "since": DateField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
