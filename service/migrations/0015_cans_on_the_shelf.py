"""What is on the shelf is found by an index of its own, not among all cans that there ever were."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("item", "state", where="kind = 'C' AND balance > 0", name="item_on_the_shelf")
