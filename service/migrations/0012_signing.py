"""People sign with a secret of their own: its public key, resets by two people, guesses counted, short-lived tokens.

A shop may be too small for a second person, and says for what; a system acts in its own name, within its scopes.
"""

from typing import Any

from peewee import AutoField, BigIntegerField, BooleanField, Check, IntegerField, TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column(
        "site", "secret_least", IntegerField(constraints=[Check("secret_least BETWEEN 6 AND 64")]), fill="6"
    )
    steps.add_column("site", "alone_in", TextField(null=True))
    steps.add_column("site", "alone_because", TextField(null=True))
    steps.add_column("person", "is_system", BooleanField(), fill="FALSE")
    steps.add_column("access_key", "claimed_at", BigIntegerField(null=True))
    steps.add_column("access_key", "acts_as", steps.row_of("person", null=True))
    steps.add_column("access_key", "scopes", TextField(null=True))
    steps.add_table(
        "signing_key",
        {
            "id": AutoField(),
            "person": steps.row_of("person"),
            "public_key": TextField(),
            "salt": TextField(),
            "cost": TextField(),
            "voucher": TextField(),
            "made_at": BigIntegerField(),
            "ended_at": BigIntegerField(null=True),
        },
        settable_once=["ended_at"],
    )
    steps.add_table(
        "secret_reset",
        {
            "id": AutoField(),
            "person": steps.row_of("person"),
            "why": TextField(),
            "asked_at": BigIntegerField(),
            "asked_by": steps.row_of("person"),
            "agreed_at": BigIntegerField(null=True),
            "agreed_by": steps.row_of("person", null=True),
        },
        settable_once=["agreed_at", "agreed_by_id"],
    )
    steps.add_table(
        "secret_try",
        {"person": steps.row_of("person", primary_key=True), "failed": IntegerField()},
    )
    steps.add_table(
        "signing_token",
        {
            "digest": TextField(primary_key=True),
            "signing_key": steps.row_of("signing_key"),
            "access_key": steps.row_of("access_key"),
            "sealed": TextField(),
            "until": BigIntegerField(),
        },
    )
