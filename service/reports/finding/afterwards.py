"""What came to a part only after its failure was seen: rework and repair, with their cans, pots, cures and hands.

All that failed and was worked on again would share it, and nothing that held: it would be accused of what it was to
put right. So it does not count as what the part was made of.
"""

from collections import defaultdict

from service.database import each, listed, looked_up, rows_of
from service.records.closures import steps
from service.reports.finding.rows import Rows


def leave_out(rows: Rows) -> None:
    """Take from the rows what went into a failed part, or what it was in, only after it was seen to have failed.

    A nonconformance stands for every failure that has a time, so that nothing is looked through where none is followed
    by anything.
    """
    for part, at in rows.of(
        f"SELECT parts.id, m.occurred_at FROM parts {each('nonconformance', 'n', 'n.item_id = parts.id')}"
        f" {each('movement', 'm', 'm.target_id IN (parts.id)')}"
        " WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL AND m.occurred_at > n.opened_at"
    ):
        if rows.came_after(part, at):
            rows.reworked_at[part] = min(at, rows.reworked_at.get(part, at))
    if not rows.reworked_at:
        return
    within = (
        f"FROM {looked_up()} {each('movement', 'm', 'm.target_id IN (given.id)')}"
        " WHERE m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL"
    )
    reworked = listed(rows.reworked_at)
    made_of: dict[int, set[int]] = defaultdict(set)
    carried = steps(f"SELECT m.source_id, m.source_id {within}", back=True, also="source")
    for source, thing in rows_of(f"WITH RECURSIVE {carried} SELECT source, id FROM reach", reworked):
        made_of[source].add(thing)
    kept = {part: {part} for part in rows.reworked_at}
    for part, source, at in rows_of(f"SELECT m.target_id, m.source_id, m.occurred_at {within}", reworked):
        if not rows.came_after(part, at):
            kept[part] |= made_of[source]
    for part, things in kept.items():
        for thing in rows.upstream[part] - things:
            rows.reached[thing].discard(part)
        rows.upstream[part] &= things
