"""Cards keep what stood on them before each change; a person is known from the day on which they were added."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, TextField

from service.migrations import steps

CARDS = ("material", "person", "site", "supplier", "logger", "place_setting")


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "former_version",
        {
            "id": BigAutoField(),
            "card": TextField(constraints=[Check(steps.listed("card", CARDS))]),
            "number": BigIntegerField(),
            "version": BigIntegerField(),
            "name": TextField(null=True),
            "facts": TextField(),
            "until": BigIntegerField(),
            "deed": steps.row_of("deed"),
        },
        unique=[("card", "number", "version")],
        settable_once=[],
    )
    steps.add_column("person", "since", BigIntegerField(null=True))
