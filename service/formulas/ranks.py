"""Chances of ranks over all orders, ties and all, where they can be counted; else by the normal distribution."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any

MOST_STEPS = 30_000_000
MOST_STATES = 8_000


def greater(failed: list[float], good: list[float]) -> float:
    """Chance that the failed ones have a rank sum at least this large, by all orders where that can be counted."""
    return _tails(failed, good, MOST_STEPS)[0]


def either_way(failed: Sequence[float], good: Sequence[float], *, most_steps: int = MOST_STEPS) -> float:
    """Twice the smaller chance of a rank sum so large or so small, and at most 1."""
    return min(1.0, 2 * min(_tails(failed, good, most_steps)))


def _tails(failed: Sequence[float], good: Sequence[float], most_steps: int) -> tuple[float, float]:
    """The chances of a rank sum of the failed ones at least, and at most, as large."""
    from scipy.stats import rankdata

    few, many = sorted((failed, good), key=len)
    if len(few) > 1 and len(few) ** 2 * (len(few) + len(many)) ** 2 > most_steps:
        return _normal_tails(failed, good)
    # Twice the ranks are whole numbers, ties or not.
    ranks = [round(2 * rank) for rank in rankdata([*few, *many])]
    chances = _rank_sums(ranks, len(few))
    observed = sum(ranks[: len(few)])
    tails = min(float(chances[observed:].sum()), 1.0), min(float(chances[: observed + 1].sum()), 1.0)
    return tails if few is failed else (tails[1], tails[0])


def _normal_tails(failed: Sequence[float], good: Sequence[float]) -> tuple[float, float]:
    """The same by the normal distribution, ties and continuity minded: what scipy's mannwhitneyu gives for each side.

    Ranked once for both sides, without the checks of lists that were checked before.
    """
    import numpy as np
    from scipy.special import ndtr
    from scipy.stats import rankdata

    values, m, n = np.concatenate([failed, good]), len(failed), len(good)
    surplus = rankdata(values)[:m].sum() - m * (m + 1) / 2
    _, ties = np.unique(values, return_counts=True)
    tied = (ties.astype(float) ** 3 - ties).sum()
    deviation = np.sqrt(m * n / 12 * ((m + n + 1) - tied / ((m + n) * (m + n - 1))))
    if deviation == 0:
        return 1.0, 1.0
    over, under = (float(ndtr(-((u - m * n / 2 - 0.5) / deviation))) for u in (surplus, m * n - surplus))
    return over, under


def _rank_sums(ranks: Sequence[int], chosen: int) -> Any:
    """The chance of each sum of so many ranks drawn without putting back."""
    import numpy as np

    if chosen == 1:
        return np.bincount(ranks) / len(ranks)
    left, most = len(ranks), sum(sorted(ranks)[-chosen:])
    chances = np.zeros((chosen + 1, most + 1))
    chances[0, 0] = 1
    still_to_draw = np.arange(chosen, -1, -1)[:, None]
    for rank in ranks:
        drawn = chances * np.minimum(still_to_draw / left, 1)
        chances -= drawn
        chances[1:, rank:] += drawn[:-1, : most + 1 - rank]
        left -= 1
    return chances[chosen]


def trend(x: list[float], y: list[float]) -> tuple[float, float]:
    """Kendall's tau-b, and the chance of so strong a trend either way.

    By all orders where ties need it and it can be counted; else scipy's, which is of the normal distribution where
    there are ties.
    """
    from scipy.stats import kendalltau

    found = kendalltau(x, y)
    tau, by_scipy = float(found.statistic), float(found.pvalue)
    # There are at least as many states as one more than values, ties or not.
    if (len(x) + 1) * len(x) > MOST_STATES or (len(set(x)) == len(x) and len(set(y)) == len(y)):
        return tau, by_scipy
    states = min(math.prod(count + 1 for count in Counter(values).values()) for values in (x, y))
    if states * len(x) > MOST_STATES:
        return tau, by_scipy
    if math.prod(count + 1 for count in Counter(y).values()) != states:
        x, y = y, x
    surplus = sum(
        (a > b) * (c > d) + (a < b) * (c < d) - (a > b) * (c < d) - (a < b) * (c > d)
        for (a, c), (b, d) in combinations(zip(x, y, strict=True), 2)
    )
    chances = _surpluses(Counter(x), Counter(y))
    return tau, min(math.fsum(chance for at, chance in chances.items() if abs(at) >= abs(surplus)), 1.0)


def _surpluses(x: Counter[float], y: Counter[float]) -> dict[int, float]:
    """The chance of each surplus of concordant pairs, the values of y dealt out to those of x in all ways.

    One value of y after another is given to the groups of equal x in ascending order; what counts of the past is only
    how many of each y are left.
    """
    totals = tuple(y[value] for value in sorted(y))
    states: dict[tuple[int, ...], dict[int, float]] = {totals: {0: 1.0}}
    for value in sorted(x):
        after: dict[tuple[int, ...], dict[int, float]] = {}
        for left, chances in states.items():
            for dealt, chance in _hands(left, x[value]):
                placed = [total - still for total, still in zip(totals, left, strict=True)]
                gained = sum(
                    count * (sum(placed[:place]) - sum(placed[place + 1 :])) for place, count in enumerate(dealt)
                )
                rest = tuple(still - count for still, count in zip(left, dealt, strict=True))
                known = after.setdefault(rest, {})
                for surplus, so_far in chances.items():
                    known[surplus + gained] = known.get(surplus + gained, 0.0) + so_far * chance
        states = after
    return states[(0,) * len(totals)]


def _hands(left: tuple[int, ...], size: int) -> Iterator[tuple[tuple[int, ...], float]]:
    """Every hand of so many out of what is left, with its chance."""
    ways = math.comb(sum(left), size)

    def deal(place: int, more: int) -> Iterator[tuple[tuple[int, ...], int]]:
        if place == len(left):
            if more == 0:
                yield (), 1
            return
        for count in range(min(left[place], more) + 1):
            for rest, times in deal(place + 1, more - count):
                yield (count, *rest), math.comb(left[place], count) * times

    for hand, times in deal(0, size):
        yield hand, times / ways
