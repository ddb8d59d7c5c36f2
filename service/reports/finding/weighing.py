"""What speaks for a factor, in plain arrays: one ranking of all that was tried, and whether one of them stands out.

Two questions, two answers.

Ranking asks which factor the failures go with best. All parts count as one group; a thing is ranked by Fisher's exact
test, a number by the exact rank-sum test, ties and all. Equal chances share a rank; factors with the very same parts
are one.

Accusing asks whether that is more than chance and more than time. A factor is accused only where it passes all of:

1. The smallest chance over all that was tried is rare when the failures are dealt out anew within two strata of time,
   before and after the median start of the failed, pots and cures whole (min-P, `service.formulas.permutations`).
2. It is rare among its nearest neighbours in time too, some six parts at a time: a thing that was in use just while
   parts failed is otherwise accused by anything that befell those days. Where it is not, it cannot be told from that
   period.
3. It ranks first, and nothing else that was tried comes near it; where something does, it cannot be told from that.

The second and third are the shop's own rules, found by simulated shops (tests/benchmarks/shops.py); the first is
Westfall and Young's (1993, from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from service.formulas.permutations import MOST_WAYS, Rearranged, both_ways, chances, of_the_best, rearranged, so_many
from service.formulas.ranks import either_way

# Rare: the level at which a shop accuses; an innocent in at most one of twenty.
RARE = 0.05
RARE_AMONG_NEIGHBOURS = 0.02
# How many parts next to one another in time are compared with each other.
NEIGHBOURS = 6
# A factor is told from another only if its chance is smaller by this.
TOLD_APART = 10.0
# Above so many steps the rank-sum test is that of the normal distribution, ties and continuity minded.
_RANK_STEPS = 300_000


class Suspicion(StrEnum):
    """What the numbers say of a factor."""

    ACCUSED = "stands out"
    PERIOD = "cannot be told from that period"
    RIVAL = "cannot be told from another"
    CHANCE = "no more than chance"


@dataclass(frozen=True, slots=True)
class Column:
    """One value for each part: whether it has the thing (0, 1), or a number; NaN where it cannot be compared."""

    values: Any
    number: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """What is said of the factors that have the very same parts.

    Attributes
    ----------
    members
        Places of the columns.
    p
        By itself, all parts as one group, exact.
    p_within
        By itself, within the two strata of time.
    p_adjusted
        For all that was tried, within the two strata of time (min-P).
    p_anytime
        For all that was tried, all parts as one group (min-P).
    p_neighbours
        By itself, among its neighbours in time; nothing where it was not looked at.
    rival
        The group that it cannot be told from.
    """

    members: tuple[int, ...]
    rank: int
    p: float
    p_within: float
    p_adjusted: float
    p_anytime: float
    p_neighbours: float | None
    verdict: Suspicion
    rival: int | None = None


@dataclass(frozen=True, slots=True)
class Scales:
    """All groups in their order of rank, and what the data allow.

    Attributes
    ----------
    ways, ways_within
        In how many ways the failures could have fallen, in all and within the strata.
    rearranged
        How many of these within the strata were counted.
    all_ways
        Whether these are all.
    """

    groups: tuple[Weighed, ...]
    ways: int
    ways_within: int
    rearranged: int
    all_ways: bool

    @property
    def smallest_p(self) -> float:
        return 1 / self.ways

    @property
    def smallest_p_within(self) -> float:
        return 1 / self.rearranged


def weigh(
    failed: Sequence[bool],
    started: Sequence[float],
    columns: Sequence[Column],
    blocks: Sequence[int],
    *,
    most: int = MOST_WAYS,
) -> Scales:
    """Rank the columns and say which of them stand out.

    ``started`` are times in any unit, ``blocks`` the same number for parts that share a pot or a cure.
    """
    import numpy as np

    order = np.argsort(np.asarray(started, dtype=float), kind="stable")
    outcomes = np.asarray(failed, dtype=bool)[order]
    times = np.asarray(started, dtype=float)[order]
    block = [int(blocks[place]) for place in order]
    strata = _two_strata(times, outcomes)
    anytime = rearranged(outcomes, [0] * len(order), block, most=most)
    within = rearranged(outcomes, strata, block, most=most)
    groups = _identical([Column(np.asarray(c.values, dtype=float)[order], c.number) for c in columns], outcomes)
    if not groups:
        return Scales((), anytime.ways, within.ways, len(within.failed), within.all_of_them)
    distinct = [column for column, _ in groups]
    by_itself = _exact(distinct, outcomes)
    p_within = _permuted(within, distinct, strata)
    adjusted = of_the_best(p_within)
    at_any_time = of_the_best(_permuted(anytime, distinct, [0] * len(order)))
    ranks = _ranks(by_itself)
    found = [
        Weighed(members, ranks[n], by_itself[n], float(p_within[0, n]), float(adjusted[n]), float(at_any_time[n]),
                None, Suspicion.CHANCE)
        for n, (_, members) in enumerate(groups)
    ]  # fmt: skip
    # Looked at in time only where it is rare at all.
    rare = [n for n, one in enumerate(found) if min(one.p_adjusted, one.p_anytime) <= RARE]
    nearby: dict[int, float] = {}
    if rare:
        neighbours = [place // NEIGHBOURS for place in range(len(order))]
        dealt = rearranged(outcomes, neighbours, block, most=most)
        nearby = dict(zip(rare, _permuted(dealt, [distinct[n] for n in rare], neighbours)[0].tolist(), strict=True))
    judged = [_judged(one, n, found, nearby.get(n)) for n, one in enumerate(found)]
    return Scales(
        groups=tuple(sorted(judged, key=lambda g: (g.rank, g.members))),
        ways=anytime.ways,
        ways_within=within.ways,
        rearranged=len(within.failed),
        all_ways=within.all_of_them,
    )


def _two_strata(times: Any, outcomes: Any) -> list[int]:
    import numpy as np

    if not outcomes.any():
        return [0] * len(times)
    middle = float(np.median(times[outcomes]))
    return [int(at > middle) for at in times]


def _identical(columns: Sequence[Column], outcomes: Any) -> list[tuple[Column, tuple[int, ...]]]:
    """Columns that tell parts apart at all, the very same ones together; numbers that put parts in the same order.

    No rank test tells those apart, nor days open from days left, which is the same order from its other end.
    """
    groups: dict[bytes, list[int]] = {}
    for place, column in enumerate(columns):
        known = column.values[~_missing(column)]
        if len(known) and known.min() != known.max():
            # Adding nothing makes minus nothing plain.
            key = bytes([column.number]) + (_order(column) if column.number else column.values + 0.0).tobytes()
            groups.setdefault(key, []).append(place)
    return [(columns[places[0]], tuple(places)) for places in groups.values()]


def _order(column: Column) -> Any:
    """The place of each value among the different ones, from the end that comes first; -1 where there is none."""
    import numpy as np

    known = ~_missing(column)
    _, places = np.unique(column.values[known], return_inverse=True)
    other_end = places.max() - places
    # The first at which the two ends differ says which comes first.
    first = int(np.argmax(places != other_end))
    order = np.full(len(known), -1)
    order[known] = places if places[first] <= other_end[first] else other_end
    return order


def _missing(column: Column) -> Any:
    import numpy as np

    return np.isnan(column.values)


def _exact(columns: Sequence[Column], outcomes: Any) -> list[float]:
    found = []
    for column in columns:
        known = ~_missing(column)
        bad, values = outcomes[known], column.values[known]
        if column.number:
            both = bad.any() and not bad.all()
            found.append(either_way(values[bad], values[~bad], most_steps=_RANK_STEPS) if both else 1.0)
        else:
            exposed = values > 0
            hit = int((exposed & bad).sum())
            found.append(so_many(hit, of=int(exposed.sum()), failed=int(bad.sum()), parts=len(bad)))
    return found


def _permuted(ways: Rearranged, columns: Sequence[Column], strata: Sequence[int]) -> Any:
    """The chance of each column in each row."""
    import numpy as np

    scores = np.column_stack([_scores(column, strata) for column in columns])
    number = np.array([column.number for column in columns])
    found = np.empty((len(ways.failed), len(columns)))
    if (~number).any():
        found[:, ~number] = chances(ways, scores[:, ~number])
    if number.any():
        found[:, number] = both_ways(ways, scores[:, number])
    return found


def _scores(column: Column, strata: Sequence[int]) -> Any:
    """What a failure of each part adds: its value, or rank, over the mean of its stratum; nothing where not known."""
    import numpy as np

    scores = np.zeros(len(column.values))
    known = np.flatnonzero(~_missing(column))
    if not len(known):
        return scores
    where, values = np.asarray(strata)[known], column.values[known]
    if column.number:
        values = _mid_ranks(values, where)
    means = np.bincount(where, weights=values) / np.maximum(np.bincount(where), 1)
    scores[known] = values - means[where]
    return scores


def _mid_ranks(values: Any, where: Any) -> Any:
    """The rank of each value within its stratum, those that are equal at the middle of theirs; all strata at once."""
    import numpy as np

    order = np.lexsort((values, where))
    sorted_values, sorted_where = values[order], where[order]
    begins = np.flatnonzero(
        np.r_[True, (sorted_values[1:] != sorted_values[:-1]) | (sorted_where[1:] != sorted_where[:-1])]
    )
    counts = np.diff(np.r_[begins, len(values)])
    before = np.r_[0, np.cumsum(np.bincount(where))][sorted_where[begins]]
    ranks = np.empty(len(values))
    ranks[order] = np.repeat(begins - before + (counts + 1) / 2, counts)
    return ranks


def _ranks(p: Sequence[float]) -> list[int]:
    rounded = [float(f"{one:.9g}") for one in p]
    return [1 + sum(other < one for other in rounded) for one in rounded]


def _judged(one: Weighed, place: int, found: Sequence[Weighed], nearby: float | None) -> Weighed:
    if nearby is None:
        return one
    judged = replace(one, p_neighbours=nearby)
    if one.p_adjusted > RARE or nearby > RARE_AMONG_NEIGHBOURS:
        return replace(judged, verdict=Suspicion.PERIOD)
    others = [other for n, other in enumerate(found) if n != place]
    rival = min(others, key=lambda other: other.p, default=None)
    if rival is not None and one.p > rival.p / TOLD_APART:
        return replace(judged, verdict=Suspicion.RIVAL, rival=rival.members[0])
    return replace(judged, verdict=Suspicion.ACCUSED)
