"""A browser that was given a key holds a session of its own."""

from typing import Any

from peewee import AutoField, BigIntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "browser_session",
        {
            "id": AutoField(),
            "digest": TextField(unique=True),
            "key": steps.row_of("access_key"),
            "begun_at": BigIntegerField(),
            "until": BigIntegerField(),
            "ended_at": BigIntegerField(null=True),
        },
        checks=["until > begun_at"],
        settable_once=["ended_at"],
    )
