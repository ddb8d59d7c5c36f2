"""Other systems are told of what happens: who is told, by which secrets, and how far the telling has come."""

from typing import Any

from peewee import BigAutoField, BigIntegerField, BooleanField, Check, IntegerField, TextField

from service.migrations import steps

_STATES = ("waiting", "delivered", "dead")


def up(migrator: Any, db: Any) -> None:
    steps.add_table(
        "webhook",
        {
            "id": BigAutoField(),
            "url": TextField(),
            "events": TextField(),
            "active": BooleanField(),
            "made_at": BigIntegerField(),
            "deed": steps.row_of("deed"),
            "ended_at": BigIntegerField(null=True),
            "version": IntegerField(),
        },
    )
    steps.add_index("webhook", "url", unique=True, where="ended_at IS NULL", name="webhook_in_use")
    steps.add_table(
        "webhook_secret",
        {
            "id": BigAutoField(),
            "webhook": steps.row_of("webhook"),
            "salt": TextField(),
            "made_at": BigIntegerField(),
            "ends_at": BigIntegerField(null=True),
            "deed": steps.row_of("deed"),
        },
    )
    steps.add_table(
        "webhook_progress",
        {
            "webhook": steps.row_of("webhook", primary_key=True),
            "after_seq": BigIntegerField(),
            "failing_since": BigIntegerField(null=True),
            "gone_at": BigIntegerField(null=True),
        },
    )
    steps.add_table(
        "webhook_delivery",
        {
            "id": BigAutoField(),
            "webhook": steps.row_of("webhook", index=False),
            "message": TextField(),
            "seq": BigIntegerField(),
            "event": TextField(),
            "body": TextField(),
            "state": TextField(constraints=[Check(steps.listed("state", _STATES))]),
            "attempts": IntegerField(),
            "made_at": BigIntegerField(),
            "next_at": BigIntegerField(),
            "claimed_until": BigIntegerField(),
            "last_at": BigIntegerField(null=True),
            "last_said": TextField(null=True),
        },
        unique=[("webhook", "message")],
    )
    steps.add_index("webhook_delivery", "webhook_id", "state", "next_at")
