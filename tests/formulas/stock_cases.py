"""Small scarce shelves at random, and whether their needs can be met found out by trying everything.

python -m tests.formulas.stock_cases 3000        compare so many cases with the search, and say how long it took
"""

import random
import sys
import time
from collections.abc import Iterator, Sequence
from itertools import combinations, product

from service.formulas._stock import Need, Outcome, Stock, agrees
from service.formulas._stock_search import search

RANKS = {"release": 0, "delivery": 1, "permit": 2}


def rank(condition: str) -> int:
    return RANKS[condition.partition(" ")[0]]


def shelf(rng: random.Random, *, whole: bool) -> tuple[list[Need], list[Stock]]:
    """A few needs and a little stock, about as much as is needed, with every kind of limit now and then."""
    sizes = [rng.randint(2, 9) for _ in range(rng.randint(1, 3))]
    barred = rng.random() < 0.3
    needs = [
        Need(rng.randint(0, 9), rng.choice(sizes), known_lot=barred and rng.random() < 0.5)
        for _ in range(rng.randint(2, 7 if whole else 5))
    ]
    count = rng.randint(1, 4)
    total = sum(need.size for need in needs)
    lives, conditions = rng.random() < 0.5, rng.random() < 0.5
    stocks = []
    for number in range(count):
        opened = rng.random() < 0.3
        life = rng.choice([0, 2, 4]) if lives and not opened else None
        asked = conditions and rng.random() < 0.6
        stocks.append(
            Stock(
                free=max(1, int(total / count * rng.uniform(0.6, 1.7))),
                first=0 if rng.random() < 0.8 else rng.randint(0, 5),
                last=rng.randint(2, 12),
                life=life,
                opened=opened,
                known_lot=rng.random() < 0.8,
                needs=(rng.choice(["release L1", f"delivery {number}"]),) if asked and rng.random() < 0.6 else (),
                beyond=f"permit C{number}" if asked and rng.random() < 0.6 else None,
            )
        )
    return needs, stocks


def by_trying_everything(needs: Sequence[Need], stocks: Sequence[Stock], *, whole: bool) -> tuple[str, ...] | None:
    """The fewest conditions, the easier ones first, by which the needs are met; none if nothing helps."""
    names = sorted({n for s in stocks for n in (*s.needs, *([s.beyond] if s.beyond else []))})
    sets = [set(some) for size in range(len(names) + 1) for some in combinations(names, size)]
    for granted in sorted(sets, key=lambda some: (len(some), sum(map(rank, some)))):
        if any(_met(needs, windows, whole=whole) for windows in _windows(needs, stocks, granted)):
            return tuple(sorted(granted))
    return None


Window = tuple[int, int, int, bool]


def _windows(needs: Sequence[Need], stocks: Sequence[Stock], granted: set[str]) -> Iterator[list[Window]]:
    """What there is, and from which day to which, for every choice of days on which the sealed ones are opened."""
    days = sorted({need.day for need in needs})
    choices = []
    for stock in stocks:
        free = stock.free if set(stock.needs) <= granted else 0
        if stock.beyond in granted:
            choices.append([(free, stock.first, 99, stock.known_lot)])
        elif stock.life is None:
            choices.append([(free, stock.first, stock.last, stock.known_lot)])
        else:
            choices.append(
                [(free, max(stock.first, day), min(stock.last, day + stock.life), stock.known_lot) for day in days]
            )
    yield from (list(one) for one in product(*choices))


def _may(need: Need, window: Window) -> bool:
    return window[1] <= need.day <= window[2] and (window[3] or not need.known_lot)


def _met(needs: Sequence[Need], windows: list[Window], *, whole: bool) -> bool:
    return _packed(needs, windows) if whole else _flows(needs, windows)


def _flows(needs: Sequence[Need], windows: list[Window]) -> bool:
    """Unit after unit by augmenting paths (Ford and Fulkerson 1956; from memory)."""
    given = [[0] * len(windows) for _ in needs]

    def push(index: int, seen: set[int]) -> bool:
        for number, window in enumerate(windows):
            if number in seen or not _may(needs[index], window):
                continue
            seen.add(number)
            if sum(row[number] for row in given) < window[0]:
                given[index][number] += 1
                return True
            for other in range(len(needs)):
                if given[other][number] and other != index and push(other, seen):
                    given[other][number] -= 1
                    given[index][number] += 1
                    return True
        return False

    return all(push(index, set()) for index, need in enumerate(needs) for _ in range(need.size))


def _packed(needs: Sequence[Need], windows: list[Window]) -> bool:
    left = [window[0] for window in windows]
    order = sorted(needs, key=lambda need: -need.size)

    def place(index: int) -> bool:
        if index == len(order):
            return True
        for number, window in enumerate(windows):
            if _may(order[index], window) and left[number] >= order[index].size:
                left[number] -= order[index].size
                if place(index + 1):
                    return True
                left[number] += order[index].size
        return False

    return place(0)


def compare(seed: int) -> str | None:
    """What is wrong with the search's answer on the case of that number; nothing if it is right."""
    rng = random.Random(seed)
    whole = bool(seed % 2)
    needs, stocks = shelf(rng, whole=whole)
    expected = by_trying_everything(needs, stocks, whole=whole)
    found = search(needs, stocks, whole=whole, limit_s=10, rank=rank)
    told = f"case {seed}: {needs} from {stocks}: {found}, expected {expected}"
    if expected is None:
        enough = bool(found.missing) and _delivered(needs, stocks, found.missing, whole)
        return None if found.outcome == Outcome.NO and enough else told
    if found.outcome != (Outcome.YES_IF if expected else Outcome.YES) or not agrees(needs, stocks, found, whole=whole):
        return told
    same = len(found.conditions) == len(expected) and sum(map(rank, found.conditions)) == sum(map(rank, expected))
    return None if same and found.smallest else told


def _delivered(needs: Sequence[Need], stocks: Sequence[Stock], missing: Sequence[tuple[int, int]], whole: bool) -> bool:
    """Is what is said to be missing enough, delivered fresh on the day that wants it?"""
    rest = dict(missing)
    left = [Need(n.day, n.size - rest.get(i, 0), n.known_lot) for i, n in enumerate(needs) if n.size > rest.get(i, 0)]
    return not left or by_trying_everything(left, stocks, whole=whole) is not None


if __name__ == "__main__":
    begun = time.process_time()
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    wrong = [said for said in map(compare, range(count)) if said is not None]
    print(f"{count} cases, {len(wrong)} wrong, {(time.process_time() - begun) / count * 1000:.1f} ms each")
    print("\n".join(wrong[:5]))
