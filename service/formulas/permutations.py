"""Chances by rearranging who failed: what a statistic is worth when nothing had a hand in it.

Failures are dealt out anew among parts that could have changed places: within strata (of time), and blocks of parts
that shared a pot or a cure whole, since what befell one of them befell all. All ways are counted where they are few,
else drawn at random, seeded by the data, so that the same account always gives the same figure.

The chance for the best of many factors is that of the smallest p (min-P) over the same rearrangements, which keeps the
links among the factors (min P after Westfall and Young, 1993, as the abstract of
https://pmc.ncbi.nlm.nih.gov/articles/PMC3873102/ tells of it, read; here in a single step).
"""

import hashlib
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

MOST_WAYS = 2_000
_SAME = 1e-9


@dataclass(frozen=True)
class Rearranged:
    """Ways in which the failures could have fallen, the one that happened first; and how many there are.

    Attributes
    ----------
    failed
        For each way the places of the parts that failed in it, in no order (ways by failures).
    parts
        How many parts there are.
    all_of_them
        Whether these are all ways, or as many drawn at random.
    expected
        The mean outcome of each part over all ways, those too that were not drawn.
    """

    failed: Any
    parts: int
    ways: int
    all_of_them: bool
    expected: Any

    @property
    def smallest_p(self) -> float:
        """The smallest chance that any statistic can have with these ways."""
        return 1 / len(self.failed)


def rearranged(
    failed: Iterable[bool], strata: Sequence[int], blocks: Sequence[int], *, most: int = MOST_WAYS
) -> Rearranged:
    """The ways in which the failures could have fallen; a block lies in the stratum of its first part.

    Blocks of a size change places within their stratum, and keep what is inside them in its order.

    >>> rearranged([True] * 6 + [False] * 6, [0] * 12, list(range(12))).ways
    924
    >>> rearranged([True] * 6 + [False] * 6, [0] * 12, [n // 2 for n in range(12)]).ways
    20
    """
    import numpy as np

    outcomes = np.array([*failed], dtype=np.int8)
    classes = _classes(strata, blocks)
    ways = math.prod(_ways(outcomes[places]) for places in classes)
    expected = np.empty(len(outcomes))
    for places in classes:
        expected[places] = outcomes[places].mean(axis=0)
    if ways <= most:
        return Rearranged(_all(outcomes, classes, ways), len(outcomes), ways, True, expected)
    generator = np.random.default_rng(_seed(outcomes, classes))
    dealt = [_dealt(outcomes[places], places, most, generator) for places in classes]
    return Rearranged(np.concatenate(dealt, axis=1), len(outcomes), ways, False, expected)


def _dealt(inside: Any, places: Any, most: int, generator: Any) -> Any:
    """Which parts of a class failed when what its blocks hold is dealt out anew, in each way but the first.

    Only blocks in which something failed are given places, one after another, each any of those that are left (the
    first steps of a shuffle after Fisher and Yates, in all ways at once).
    """
    import numpy as np

    block, part = np.nonzero(inside)
    if not len(block):
        return np.empty((most, 0), dtype=places.dtype)
    hit = np.unique(block)
    goes = np.repeat(hit[:, None], most, axis=1)
    if (inside != inside[0]).any():
        way = np.arange(1, most)
        left = np.repeat(np.arange(len(places), dtype=np.min_scalar_type(len(places)))[:, None], most, axis=1)
        # By one index, not by two: that is most of the time.
        cells = left.ravel()
        for step in range(len(hit)):
            drawn = generator.integers(step, len(places), most - 1) * most + way
            goes[step, 1:] = cells[drawn]
            cells[drawn] = left[step, 1:]
    return places[goes[np.searchsorted(hit, block)].T, part]


def _classes(strata: Sequence[int], blocks: Sequence[int]) -> list[Any]:
    """Blocks that may change places, each class an array of blocks by their parts."""
    import numpy as np

    members: dict[int, list[int]] = defaultdict(list)
    for part, block in enumerate(blocks):
        members[block].append(part)
    classes: dict[tuple[int, int], list[list[int]]] = defaultdict(list)
    for parts in members.values():
        classes[strata[parts[0]], len(parts)].append(parts)
    return [np.array(classes[key]) for key in sorted(classes)]


def _ways(inside: Any) -> int:
    """In how many orders blocks can stand, of which those that hold the same are alike."""
    alike = Counter(map(tuple, inside.tolist()))
    return math.factorial(len(inside)) // math.prod(math.factorial(n) for n in alike.values())


def _all(outcomes: Any, classes: Sequence[Any], ways: int) -> Any:
    import numpy as np

    rows = np.repeat(outcomes[None, :], ways, axis=0)
    dealt = [list(_orders(Counter(tuple(int(o) for o in outcomes[place]) for place in places))) for places in classes]
    for row, orders in enumerate(product(*dealt)):
        for places, order in zip(classes, orders, strict=True):
            rows[row, places] = order
    first = int(np.flatnonzero((rows == outcomes).all(axis=1))[0])
    rows[[0, first]] = rows[[first, 0]]
    return np.nonzero(rows)[1].reshape(ways, -1)


def _orders(left: Counter[tuple[int, ...]]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every different order of blocks some of which are alike."""
    if not any(left.values()):
        yield ()
        return
    for one in [block for block, count in left.items() if count]:
        left[one] -= 1
        for rest in _orders(left):
            yield (one, *rest)
        left[one] += 1


def _seed(outcomes: Any, classes: Sequence[Any]) -> int:
    digest = hashlib.sha256(outcomes.tobytes())
    for places in classes:
        digest.update(places.astype("<i8").tobytes())
    return int.from_bytes(digest.digest()[:8])


def so_many(hit: int, *, of: int, failed: int, parts: int) -> float:
    """The chance that at least ``hit`` of the failed are among ``of`` parts, however they fell (Fisher's exact test).

    >>> so_many(6, of=6, failed=6, parts=12) == 1 / 924
    True
    """
    ways = [math.comb(of, n) * math.comb(parts - of, failed - n) for n in range(hit, min(of, failed) + 1)]
    return sum(ways) / math.comb(parts, failed)


def chances(ways: Rearranged, scores: Any) -> Any:
    """For each way and each column of scores, the share of ways whose failed parts have a sum of scores as large."""
    import numpy as np

    return _as_large(np.round(_sums(ways, scores), 9))


def both_ways(ways: Rearranged, scores: Any) -> Any:
    """The same for sums as far from their mean, either way.

    From the mean over all ways: about that of the ways that were drawn, two sums that lie as far to either side would
    not be ties.
    """
    import numpy as np

    return _as_large(np.round(np.abs(_sums(ways, scores) - ways.expected @ scores), 7))


def _as_large(values: Any) -> Any:
    """For each value the share of its column that is at least as large."""
    import numpy as np

    columns = np.ascontiguousarray(values.T)
    found = np.empty_like(columns)
    for column, share in zip(columns, found, strict=True):
        order = column.argsort()
        rising = column[order]
        share[order] = (len(rising) - np.searchsorted(rising, rising - _SAME)) / len(rising)
    return found.T


def _sums(ways: Rearranged, scores: Any) -> Any:
    """The sum of scores of the failed parts in each way: few of many fail, and only these are added."""
    import numpy as np
    from scipy.sparse import csr_array

    count, failures = ways.failed.shape
    ends = np.arange(count + 1) * failures
    return csr_array((np.ones(ways.failed.size), ways.failed.ravel(), ends), shape=(count, ways.parts)) @ scores


def of_the_best(p: Any) -> Any:
    """The chance, for each column as it happened (the first row), that the smallest p of a row is as small (min-P)."""
    import numpy as np

    smallest = np.sort(p.min(axis=1))
    return np.searchsorted(smallest, p[0] + _SAME, side="right") / len(smallest)
