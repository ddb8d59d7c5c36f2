"""A form that is drawn for somebody carries a secret of their browser's session; a badge stands for a key."""

from typing import Any

from peewee import TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column("browser_session", "form_digest", TextField(null=True, unique=True))
    steps.add_column("access_key", "badge", TextField(null=True, unique=True))
