"""A browser's session says at which tablet it was begun, so that all of a lost tablet's are ended at once."""

from typing import Any

from peewee import TextField

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_column("browser_session", "tablet", TextField(null=True))
    steps.add_column("browser_session", "browser", TextField(null=True))
