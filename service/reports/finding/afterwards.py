"""What came to a part only after its failure was seen: rework and repair, with their cans, pots, cures and hands.

All that failed and was worked on again would share it, and nothing that held: it would be accused of what it was to
put right. So it does not count as what the part was made of.
"""

from collections import defaultdict

from service.reports.finding.rows import Rows


def leave_out(rows: Rows) -> dict[int, set[int]]:
    """Take from the rows what went into a failed part, or what it was in, only after it was seen to have failed.

    Returns what went into each such part then, with all that this was made of; some of it may have been in it before.
    """
    before: dict[int, set[int]] = defaultdict(set)
    after: dict[int, set[int]] = defaultdict(set)
    for part, _, source, _, at, *_ in rows.moved:
        if part not in rows.failed_at:
            continue
        if rows.came_after(part, at):
            rows.reworked_at[part] = min(at, rows.reworked_at.get(part, at))
            after[part].add(source)
        else:
            before[part].add(source)
    for part in rows.reworked_at:
        kept = rows.behind(before[part]) | {part}
        for thing in rows.upstream[part] - kept:
            rows.reached[thing].discard(part)
        rows.upstream[part] = kept
    return {part: rows.behind(sources) for part, sources in after.items()}
