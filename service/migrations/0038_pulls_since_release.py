"""The last release of a mould before a part, and the pulls since then, are found without a look at all there were."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("mould_treatment", "mould_id", "kind", "occurred_at")
    steps.add_index("part", "mould_id", "started_at")
    steps.add_index("inspection", "part_id", where="NOT accepted", name="inspection_that_rejected")
