"""All that a mould or another tool was used on is told from an index alone: a mould has tens of thousands of pulls."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("made_with", "used_id", "item_id")
    steps.drop_index("made_with", "used_id")
