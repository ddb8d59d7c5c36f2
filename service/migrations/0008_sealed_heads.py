"""Heads of the journal, signed by a key outside the database, are kept. From here on entries name rows, too."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "sealed_head",
        {
            "id": BigAutoField(),
            "number": BigIntegerField(unique=True),
            "hash": TextField(),
            "sealed_at": BigIntegerField(),
            "head": TextField(),
            "signature": TextField(),
            "public_key": TextField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
