"""What is planned and not begun is found without going through all parts that there ever were."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("item", "state", where="kind = 'P' AND state = 'planned'", name="item_planned")
