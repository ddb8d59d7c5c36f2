"""The least of a material that is to be there; what a look over the stock finds short or soon past its date."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, DateField, IntegerField, TextField

from service.migrations import steps


def _whole(column: str) -> Any:
    return Check(f"({column} IS NULL OR {column} = CAST({column} AS BIGINT))")


def up(migrator: Any, db: Any) -> None:
    steps.add_column(
        "material",
        "least_stock_mg",
        BigIntegerField(null=True, constraints=[Check("least_stock_mg > 0"), _whole("least_stock_mg")]),
    )
    steps.add_column("material", "least_stock_mm", IntegerField(null=True, constraints=[Check("least_stock_mm > 0")]))
    steps.add_table(
        "stock_warning",
        {
            "id": BigAutoField(),
            "kind": TextField(constraints=[Check(steps.listed("kind", ("stock short", "container expiring")))]),
            "material": steps.row_of("material"),
            "item": steps.row_of("item", null=True),
            "good_until": DateField(null=True),
            "free": BigIntegerField(null=True, constraints=[Check("free >= 0"), _whole("free")]),
            "least": BigIntegerField(null=True, constraints=[Check("least > 0"), _whole("least")]),
            "unit": TextField(null=True, constraints=[Check(steps.listed("unit", ("mg", "mm", "piece")))]),
            "found_at": BigIntegerField(),
            "deed": steps.row_of("deed"),
            "ended_at": BigIntegerField(null=True),
            "ended_in": steps.row_of("deed", null=True),
        },
        checks=[
            "((item_id IS NULL AND good_until IS NULL) OR (item_id IS NOT NULL AND good_until IS NOT NULL))",
            "((free IS NULL AND least IS NULL AND unit IS NULL) OR (free IS NOT NULL AND least IS NOT NULL"
            " AND unit IS NOT NULL))",
            "((ended_at IS NULL AND ended_in_id IS NULL) OR (ended_at IS NOT NULL AND ended_in_id IS NOT NULL))",
            "(item_id IS NULL) <> (free IS NULL)",
        ],
        settable_once=["ended_at", "ended_in_id"],
    )
    steps.add_index(
        "stock_warning", "material_id", unique=True, name="stock_warning_short",
        where="ended_at IS NULL AND item_id IS NULL",
    )  # fmt: skip
    steps.add_index(
        "stock_warning", "item_id", unique=True, name="stock_warning_expiring",
        where="ended_at IS NULL AND item_id IS NOT NULL",
    )  # fmt: skip
