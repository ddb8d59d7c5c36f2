"""What moved in a month, and which parts were laid up or trimmed in it, is found by an index: what a month costs had to
look at all that ever moved.
"""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("movement", "occurred_at")
    steps.add_index("part", "laid_up_at")
    steps.add_index("part_step", "occurred_at")
