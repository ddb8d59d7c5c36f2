"""Orders and the numbers of other systems; a part is planned before anybody begins it."""

from typing import Any

from peewee import AutoField, BigAutoField, BigIntegerField, Check, DateField, IntegerField, TextField

from service.migrations import steps

_REFERRED = ("order", "line", "part", "customer", "material", "supplier")


def _together(*columns: str) -> str:
    none, every = (" AND ".join(f"{c} IS {word}" for c in columns) for word in ("NULL", "NOT NULL"))
    return f"(({none}) OR ({every}))"


def up(migrator: Any, db: Any) -> None:
    _orders()
    _parts()


def _orders() -> None:
    steps.add_table(
        "customer",
        {
            "id": AutoField(),
            "name": TextField(),
            "name_key": TextField(unique=True),
            "version": IntegerField(),
            "deed": steps.row_of("deed"),
        },
    )
    steps.add_table(
        "shop_order",
        {
            "id": AutoField(),
            "customer": steps.row_of("customer", null=True),
            "due": DateField(null=True),
            "remark": TextField(null=True),
            "content": TextField(),
            "placed_at": BigIntegerField(),
            "placed_by": steps.row_of("person"),
            "deed": steps.row_of("deed"),
            "cancelled_at": BigIntegerField(null=True),
            "cancelled_in": steps.row_of("deed", null=True),
            "version": IntegerField(),
        },
        checks=[_together("cancelled_at", "cancelled_in_id")],
    )
    steps.add_table(
        "order_line",
        {
            "id": BigAutoField(),
            "order": steps.row_of("shop_order"),
            "number": IntegerField(constraints=[Check("number >= 1")]),
            "part_number": TextField(),
            "revision": TextField(null=True),
            "quantity": IntegerField(constraints=[Check("quantity >= 0")]),
            "due": DateField(null=True),
            "replaced_by": TextField(constraints=[Check(steps.listed("replaced_by", ("shop", "order system")))]),
            "deed": steps.row_of("deed"),
        },
        unique=[("order", "number")],
    )
    steps.add_table(
        "external_reference",
        {
            "id": BigAutoField(),
            "kind": TextField(constraints=[Check(steps.listed("kind", _REFERRED))]),
            "subject": BigIntegerField(),
            "system": TextField(),
            "text": TextField(),
            "system_key": TextField(),
            "text_key": TextField(),
            "deed": steps.row_of("deed"),
            "withdrawn_at": BigIntegerField(null=True),
            "withdrawn_in": steps.row_of("deed", null=True),
        },
        checks=[_together("withdrawn_at", "withdrawn_in_id")],
        settable_once=["withdrawn_at", "withdrawn_in_id"],
    )
    steps.add_index("external_reference", "kind", "subject")
    steps.add_index(
        "external_reference", "system_key", "kind", "text_key",
        unique=True, where="withdrawn_in_id IS NULL", name="external_reference_that_stands",
    )  # fmt: skip


def _parts() -> None:
    steps.let_be_empty("part", "started_at", "started_by_id")
    steps.change_check("part", old=None, new=_together("started_at", "started_by_id"))
    steps.add_column("part", "line", steps.row_of("order_line", null=True))
    steps.add_column("part", "serial", TextField(null=True))
    steps.add_column("part", "serial_key", TextField(null=True, unique=True))
    steps.add_column("part", "replaces", steps.row_of("item", null=True))
