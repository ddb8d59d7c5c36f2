"""What is under way, refused, not released or not decided is found by an index, however much was ever finished."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("item", "kind", "state", "id")
    steps.add_index("deed", "refused", where="refused IS NOT NULL", name="deed_that_was_refused")
    steps.add_index("part", "item_id", where="released_at IS NULL", name="part_not_released")
    steps.add_index("nonconformance", "id", where="decided_at IS NULL", name="nonconformance_to_decide")
