"""The shortest layout of a few boxes on a roll, proved by mixed-integer programming."""

from collections.abc import Sequence
from itertools import combinations

Box = tuple[int, int]
"""Size across and along the roll [mm]."""

Spot = tuple[int, int, Box]
"""Corner across and along the roll, and the box as it lies there [mm]."""

LEFT, RIGHT, BEFORE, BEHIND = range(4)


def shortest(ways: Sequence[Sequence[Box]], width: int, known: int) -> list[Spot] | None:
    """A layout shorter than the known one, the shortest that there is; none where the known one is as short.

    Each box has one or two ways to lie. For each two boxes one of four holds: the first is left or right of the
    other, before or behind it. The solver chooses; whole millimetres follow from its choice alone, so that no rounding
    of the solver's moves a piece into another.

    Source: the model of relative positions with big constants, as in Chen, Lee and Shen, An analytical model for the
    container loading problem, 1995 (from memory); solved by HiGHS (scipy).
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_matrix

    count, pairs = len(ways), list(combinations(range(len(ways)), 2))
    along, length, turned, sides = count, 2 * count, 2 * count + 1, 3 * count + 1
    rows: list[dict[int, float]] = []
    limits: list[float] = []

    def at_most(limit: float) -> dict[int, float]:
        rows.append({})
        limits.append(limit)
        return rows[-1]

    def size(index: int, axis: int) -> tuple[int, int]:
        first, other = ways[index][0][axis], ways[index][-1][axis]
        return first, other - first

    for index in range(count):
        (across, more_across), (long, more_long) = size(index, 0), size(index, 1)
        at_most(width - across).update({index: 1, turned + index: more_across})
        at_most(-long).update({along + index: 1, turned + index: more_long, length: -1})
    for pair, (one, other) in enumerate(pairs):
        for side, (first, second, axis, room) in enumerate(
            ((one, other, 0, width), (other, one, 0, width), (one, other, 1, known), (other, one, 1, known))
        ):
            (extent, more), begin = size(first, axis), axis * count
            at_most(room - extent).update(
                {begin + first: 1, turned + first: more, begin + second: -1, sides + 4 * pair + side: room}
            )
        at_most(-1).update({sides + 4 * pair + side: -1 for side in range(4)})
        if ways[one] == ways[other]:
            # Of two copies the first lies before the second: the same layouts, half the search.
            at_most(0).update({along + one: 1, along + other: -1})
    entries = [(row, column, value) for row, terms in enumerate(rows) for column, value in terms.items()]
    unknowns = sides + 4 * len(pairs)
    matrix = coo_matrix(
        ([value for *_, value in entries], ([row for row, *_ in entries], [column for _, column, _ in entries])),
        shape=(len(rows), unknowns),
    ).tocsr()
    lowest, highest, cost, whole = (np.zeros(unknowns) for _ in range(4))
    highest[:count], highest[count : 2 * count], highest[length] = width, known, known - 1
    highest[turned:], whole[turned:], cost[length] = 1, 1, 1
    for index in range(count):
        highest[turned + index] = len(ways[index]) - 1
    solved = milp(
        cost,
        constraints=LinearConstraint(matrix, -np.inf, limits),
        bounds=Bounds(lowest, highest),
        integrality=whole,
        options={"mip_rel_gap": 0},
    )
    if solved.x is None:
        return None
    lies = [ways[index][-1 if solved.x[turned + index] > 0.5 else 0] for index in range(count)]
    # Of several sides that hold one is enough.
    held = [int(np.argmax(solved.x[sides + 4 * pair : sides + 4 * pair + 4])) for pair in range(len(pairs))]
    return _pushed_together(lies, pairs, held)


def _pushed_together(lies: Sequence[Box], pairs: Sequence[tuple[int, int]], held: Sequence[int]) -> list[Spot]:
    corners = [[0, 0] for _ in lies]
    for _ in lies:
        for (one, other), side in zip(pairs, held, strict=True):
            first, second = (one, other) if side in (LEFT, BEFORE) else (other, one)
            axis = 0 if side in (LEFT, RIGHT) else 1
            corners[second][axis] = max(corners[second][axis], corners[first][axis] + lies[first][axis])
    return [(across, along, box) for (across, along), box in zip(corners, lies, strict=True)]
