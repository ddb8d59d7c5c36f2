"""Reserved orders on scarce shelves at random, and which a draw makes impossible found out by trying everything.

python -m tests.formulas.reserved_cases 3000     compare so many cases, and say how long it took
"""

import random
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from service.formulas._promises import Reserved, broken
from service.formulas._stock import Need, Stock, granted, ungranted
from tests.formulas.stock_cases import by_trying_everything, shelf


def _case(rng: random.Random, *, whole: bool) -> tuple[list[Reserved], list[Stock], dict[int, int]]:
    needs, stocks = shelf(rng, whole=whole)
    cuts = sorted(rng.sample(range(1, len(needs)), min(len(needs) - 1, rng.randint(0, 2))))
    bounds = [0, *cuts, len(needs)]
    orders = [Reserved(7 + n, tuple(needs[a:b])) for n, (a, b) in enumerate(pairwise(bounds))]
    # So much more on the shelf that most of them can be kept before something is taken.
    stocks = [replace(stock, free=stock.free + rng.randint(0, 6)) for stock in stocks]
    some = rng.sample(range(len(stocks)), rng.randint(1, min(2, len(stocks))))
    return orders, stocks, {number: rng.randint(1, stocks[number].free + 2) for number in some}


def _kept(orders: Sequence[Reserved], stocks: Sequence[Stock], *, whole: bool) -> set[int]:
    together: list[Need] = []
    found: set[int] = set()
    for one in orders:
        if by_trying_everything([*together, *one.needs], stocks, whole=whole) == ():
            together += one.needs
            found.add(one.key)
    return found


def compare(seed: int) -> str | None:
    """What is wrong with the answer on the case of that number; nothing if it is right."""
    rng = random.Random(seed)
    whole = bool(seed % 2)
    orders, stocks, taken = _case(rng, whole=whole)
    left = [replace(stock, free=max(0, stock.free - taken.get(n, 0))) for n, stock in enumerate(stocks)]
    expected = set()
    for level in (ungranted, granted):
        expected |= _kept(orders, level(stocks), whole=whole) - _kept(orders, level(left), whole=whole)
    found = broken(orders, stocks, taken, whole=whole, limit_s=10)
    said = f"case {seed}: {orders} from {stocks} less {taken}: {found}, expected {expected}"
    return None if set(found) == expected and len(found) == len(expected) else said


if __name__ == "__main__":
    begun, wrong, asked = time.perf_counter(), 0, int(sys.argv[1])
    for number in range(asked):
        told = compare(number)
        wrong += told is not None
        if told is not None:
            print(told)
    print(f"{wrong} wrong of {asked} in {time.perf_counter() - begun:.1f} s")
