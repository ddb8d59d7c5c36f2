"""What a scale sends itself is received and kept; a captured pour points at it. A scale may have a line format."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, Check, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column("scale", "line_format", TextField(null=True))
    steps.add_table(
        "scale_reading",
        {
            "id": BigAutoField(),
            "scale": steps.row_of("scale", index=False),
            "reading_mg": BigIntegerField(constraints=[Check("reading_mg >= 0")]),
            "line": TextField(),
            "received_at": BigIntegerField(),
            "deed": steps.row_of("deed"),
        },
        settable_once=[],
    )
    steps.add_index("scale_reading", "scale_id", "id")
    steps.add_column("pour", "received", steps.row_of("scale_reading", null=True))
