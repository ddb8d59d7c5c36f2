"""Where things stood is kept, with lowest and highest of each reading, and what quality decided about a span."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, BooleanField, Check, DateField, DoubleField, IntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "place_setting",
        {
            "item": steps.row_of("item", primary_key=True),
            "cold": BooleanField(null=True),
            "read_every_days": DoubleField(constraints=[Check("read_every_days > 0")]),
        },
    )
    steps.add_table(
        "stay",
        {
            "id": BigAutoField(),
            "item": steps.row_of("item", index=False),
            "place": steps.row_of("item"),
            "since": BigIntegerField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
    steps.add_index("stay", "item_id", "since")
    # Of what was moved before, only where it stands now is known: since it was made.
    db.execute_sql(
        "INSERT INTO stay (item_id, place_id, since, deed_id) SELECT i.id, i.place_id, d.occurred_at, i.deed_id"
        " FROM item i JOIN deed d ON d.id = i.deed_id WHERE i.place_id IS NOT NULL ORDER BY i.id"
    )
    for name in ("lowest_c", "highest_c"):
        steps.add_column("storage_reading", name, DoubleField(), fill="temperature_c")
    steps.change_check("storage_reading", old=None, new="lowest_c <= temperature_c AND temperature_c <= highest_c")
    steps.drop_index("storage_reading", "place_id", "temperature_c", "occurred_at")
    for name in ("lowest_c", "highest_c"):
        steps.add_index("storage_reading", "place_id", name, "occurred_at")
    steps.add_column("material", "bears", TextField(), fill="'[]'")
    for name in ("number", "of"):
        steps.add_column("kit", name, IntegerField(null=True))
    together = "(number IS NULL AND of IS NULL) OR (number IS NOT NULL AND of IS NOT NULL)"
    steps.change_check("kit", old=None, new=f"({together})")
    steps.change_check("kit", old=None, new="number BETWEEN 1 AND of")
    steps.add_table(
        "storage_review",
        {
            "id": BigAutoField(),
            "place": steps.row_of("item"),
            "material": steps.row_of("material"),
            "begins_at": BigIntegerField(),
            "ends_at": BigIntegerField(),
            "decision": TextField(
                constraints=[Check(steps.listed("decision", ["use", "shorten", "retest", "reject"]))]
            ),
            "good_until": DateField(null=True),
            "why": TextField(),
            "deed": steps.row_of("deed"),
        },
        checks=["begins_at <= ends_at", "(decision = 'shorten') = (good_until IS NOT NULL)"],
        settable_once=[],
    )
