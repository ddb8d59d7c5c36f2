"""A recall names all that it reaches, is followed piece by piece, and is closed by a second person."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, TextField

from service.migrations import steps

_FOUND = ("found", "returned", "scrapped", "repaired", "not found")


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "recall",
        {
            "id": BigAutoField(),
            "item": steps.row_of("item", null=True),
            "person": steps.row_of("person", null=True),
            "task": TextField(null=True),
            "reason": TextField(),
            "notice": TextField(null=True),
            "since": BigIntegerField(null=True),
            "until": BigIntegerField(null=True),
            "found": TextField(),
            "opened_at": BigIntegerField(),
            "opened_by": steps.row_of("person"),
            "deed": steps.row_of("deed"),
            "closed_at": BigIntegerField(null=True),
            "closed_by": steps.row_of("person", null=True),
            "closed_in": steps.row_of("deed", null=True),
            "effectiveness": TextField(null=True),
        },
        checks=[
            "(item_id IS NULL) <> (person_id IS NULL)",
            "((person_id IS NULL AND task IS NULL) OR (person_id IS NOT NULL AND task IS NOT NULL))",
            "((closed_at IS NULL AND closed_by_id IS NULL AND closed_in_id IS NULL AND effectiveness IS NULL)"
            " OR (closed_at IS NOT NULL AND closed_by_id IS NOT NULL AND closed_in_id IS NOT NULL"
            " AND effectiveness IS NOT NULL))",
            "closed_by_id IS NULL OR closed_by_id <> opened_by_id",
            "until IS NULL OR since IS NULL OR until >= since",
        ],
        settable_once=["closed_at", "closed_by_id", "closed_in_id", "effectiveness"],
    )
    steps.add_table(
        "recall_piece",
        {
            "id": BigAutoField(),
            "recall": steps.row_of("recall"),
            "item": steps.row_of("item"),
            "state": TextField(),
            "place": TextField(null=True),
            "customer": TextField(null=True),
            "mass_mg": BigIntegerField(
                null=True, constraints=[Check("(mass_mg IS NULL OR mass_mg = CAST(mass_mg AS BIGINT))")]
            ),
            "deed": steps.row_of("deed"),
        },
        unique=[("recall", "item")],
        settable_once=[],
    )
    steps.add_table(
        "recall_step",
        {
            "id": BigAutoField(),
            "piece": steps.row_of("recall_piece"),
            "found": TextField(constraints=[Check(steps.listed("found", _FOUND))]),
            "remark": TextField(null=True),
            "occurred_at": BigIntegerField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
