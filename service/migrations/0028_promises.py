"""Materials are reserved for orders; a pot or kit says for which part it is; deliveries are expected."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, BooleanField, Check, DateField, IntegerField, TextField

from service.migrations import steps

_UNITS = ("mg", "mm", "piece")


def _together(*columns: str) -> str:
    none, every = (" AND ".join(f"{c} IS {word}" for c in columns) for word in ("NULL", "NOT NULL"))
    return f"(({none}) OR ({every}))"


def _amount() -> BigIntegerField:
    whole = Check("(amount IS NULL OR amount = CAST(amount AS BIGINT))")
    return BigIntegerField(constraints=[Check("amount > 0"), whole])


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "reservation",
        {
            "id": BigAutoField(),
            "order": steps.row_of("shop_order"),
            "remark": TextField(null=True),
            "placed_at": BigIntegerField(),
            "placed_by": steps.row_of("person"),
            "expires_at": BigIntegerField(index=True),
            "deed": steps.row_of("deed"),
            "released_at": BigIntegerField(null=True),
            "released_in": steps.row_of("deed", null=True),
            "released_why": TextField(null=True),
        },
        checks=["expires_at > placed_at", _together("released_at", "released_in_id", "released_why")],
        settable_once=["released_at", "released_in_id", "released_why"],
    )
    steps.add_table(
        "reserved_amount",
        {
            "id": BigAutoField(),
            "reservation": steps.row_of("reservation", index=False),
            "material": steps.row_of("material"),
            "part": steps.row_of("part"),
            "unit": TextField(constraints=[Check(steps.listed("unit", _UNITS))]),
            "amount": _amount(),
            "needed_on": DateField(),
            "known_lot": BooleanField(),
            "released_in": steps.row_of("deed", null=True),
        },
        settable_once=["released_in_id"],
    )
    steps.add_index("reserved_amount", "reservation_id", "material_id")
    steps.add_table(
        "drawn_for",
        {
            "id": BigAutoField(),
            "part": steps.row_of("part"),
            "item": steps.row_of("item"),
            "share_ppm": IntegerField(constraints=[Check("share_ppm > 0"), Check("share_ppm <= 1000000")]),
            "movement": steps.row_of("movement", null=True),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
    steps.add_table(
        "expected_delivery",
        {
            "id": BigAutoField(),
            "material": steps.row_of("material"),
            "supplier": steps.row_of("supplier", null=True),
            "reference": TextField(null=True),
            "unit": TextField(constraints=[Check(steps.listed("unit", _UNITS))]),
            "amount": _amount(),
            "expected_on": DateField(),
            "expires_on": DateField(null=True),
            "version": IntegerField(),
            "stated_at": BigIntegerField(),
            "stated_by": steps.row_of("person"),
            "deed": steps.row_of("deed"),
            "ended_as": TextField(null=True, constraints=[Check(steps.listed("ended_as", ("arrived", "cancelled")))]),
            "ended_at": BigIntegerField(null=True),
            "ended_in": steps.row_of("deed", null=True),
        },
        checks=[_together("ended_as", "ended_at", "ended_in_id")],
    )
