"""What an act changed is told to who follows; a kept answer keeps its ETag, and is found by its age."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "item_change",
        {
            "id": BigAutoField(),
            "seq": BigIntegerField(),
            "number": BigIntegerField(),
            "kind": TextField(),
        },
    )
    steps.add_index("item_change", "number", "seq")
    steps.add_column("answer", "tag", TextField(null=True))
    steps.add_index("answer", "at")
