"""A step of a trace is answered by one index alone: from where, to where, and whether it stands."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    for near, far in (("source_id", "target_id"), ("target_id", "source_id")):
        steps.drop_index("movement", near)
        steps.add_index("movement", near, far, "cancelled_by_id")
