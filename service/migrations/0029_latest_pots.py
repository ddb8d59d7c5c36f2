"""The latest pots, what lies in a mould and the checks that failed are found by an index, whatever came before them."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.add_index("mix", 'COALESCE("contact_at", "started_at")', "item_id", name="mix_by_contact")
    steps.add_index("part", "mould_id", where="demoulded_at IS NULL", name="part_in_a_mould")
    steps.add_index("scale_check", "scale_id", where="NOT passed", name="scale_check_failed")
