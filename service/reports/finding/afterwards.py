"""What came to a part only after its failure was seen: rework and repair, with their cans, pots, cures and hands.

All that failed and was worked on again would share it, and nothing that held: it would be accused of what it was to
put right. So it does not count as what the part was made of.
"""

from collections import defaultdict

from service.reports.finding.rows import Rows


def leave_out(rows: Rows) -> dict[int, list[tuple[int, int]]]:
    """Take from the rows what went into a failed part, or what it was in, only after it was seen to have failed.

    Returns when what went into each such part then; some of it, or of what it was made of, may have been in it before.
    """
    before: dict[int, set[int]] = defaultdict(set)
    after: dict[int, list[tuple[int, int]]] = defaultdict(list)
    # Few failed, and tens of thousands of movements went into the others.
    for part, source, _, at, *_ in [moved for moved in rows.moved if moved[0] in rows.failed_at]:
        if rows.came_after(part, at):
            rows.reworked_at[part] = min(at, rows.reworked_at.get(part, at))
            after[part].append((at, source))
        else:
            before[part].add(source)
    if after:
        rows.moved[:] = [moved for moved in rows.moved if not rows.came_after(moved[0], moved[3])]
    for part in rows.reworked_at:
        stays = rows.behind(before[part]) | {part}
        for thing in rows.upstream[part] - stays:
            rows.reached[thing].discard(part)
        rows.upstream[part] = stays
    return after
