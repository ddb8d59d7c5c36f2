"""What came to a part only after its failure was seen: rework and repair, with their cans, pots, cures and hands.

All that failed and was worked on again would share it, and nothing that held: it would be accused of what it was to
put right. So it does not count as what the part was made of.
"""

from collections import defaultdict

from service.reports.finding.rows import Rows


def leave_out(rows: Rows) -> None:
    """Take from the rows what went into a failed part, or what it was in, only after it was seen to have failed."""
    before: dict[int, set[int]] = defaultdict(set)
    for move in rows.moved:
        if move.target not in rows.failed_at:
            continue
        if rows.came_after(move.target, move.at):
            rows.reworked_at[move.target] = min(move.at, rows.reworked_at.get(move.target, move.at))
        else:
            before[move.target].add(move.source)
    for part in rows.reworked_at:
        kept = rows.behind(before[part]) | {part}
        for thing in rows.upstream[part] - kept:
            rows.reached[thing].discard(part)
        rows.upstream[part] = kept
