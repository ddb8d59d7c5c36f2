"""A schema step as a later version would bring it, with all that a step is made of; tests/test_steps.py runs it."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, IntegerField, TextField

from service.migrations import steps

UNITS = ("mg", "mm", "piece")


def up(migrator: Any, db: Any) -> None:
    """Visits are kept, pallets and batches are numbered, millilitres are counted, an item says where it was seen."""
    steps.add_table(
        "visit",
        {
            "id": BigAutoField(),
            "person": steps.row_of("person"),
            "began_at": BigIntegerField(),
            "ended_at": BigIntegerField(null=True),
        },
        unique=[("person", "began_at")],
        checks=["ended_at IS NULL OR ended_at >= began_at"],
        settable_once=["ended_at"],
    )
    # Kept tables: one of whose columns may be set once, none of whose may, one without any guard.
    steps.add_column("movement", "batch", TextField(null=True))
    steps.add_column("receipt", "pallet", IntegerField(index=True, constraints=[Check("pallet > 0")]), fill="id * 10")
    steps.add_column("scale_check", "room_c", IntegerField(null=True))
    steps.add_column("item", "seen_in", steps.row_of("deed", null=True), fill="deed_id")
    steps.add_index("movement", "kind", "occurred_at")
    steps.add_index("receipt", "delivery_note", unique=True, where="kind = 'transfer'", name="receipt_note_of_transfer")
    for table in ("item", "movement"):
        old, new = steps.listed("unit", UNITS), steps.listed("unit", [*UNITS, "ml"])
        steps.change_check(table, old=old, new=new)
    steps.change_check("label", old="issue >= 1", new=None)
    steps.change_check("stirring", old=None, new="ended_at - started_at < 86400000000")
