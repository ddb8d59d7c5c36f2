"""Can these needs be met from this stock? First by simple orders of use, which are exact where only dates limit; then
by mixed-integer programming with a limit on its time, after which the answer is "not shown".
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from service.formulas._stock import Draw, Found, Need, Outcome, Stock, agrees, crowd, granted, ungranted
from service.formulas._stock_solver import solve

SMALLEST_SHARE = 10
"""A pot is not split over two cans for less than one part in this many of it, if that can be helped."""

Key = tuple[int, ...]


def search(
    needs: Sequence[Need], stocks: Sequence[Stock], *, whole: bool, limit_s: float, rank: Callable[[str], int]
) -> Found:
    """A yes with its draws, a no with what is missing, a yes-if with the fewest conditions, or "not shown".

    ``whole``: a need is one piece and comes from one roll; else it may be drawn from several cans. ``rank`` says which
    of equally many conditions are asked for first, the lowest first. Stock is given in the order in which it should be
    used up.

    Source: for dates alone, earliest date first over the needs by day (Glover, Maximum matching in a convex bipartite
    graph, 1967; from memory). Opened lives and pieces are NP-hard in general: orders of use by best fit (Johnson and
    others, Worst-case performance bounds for simple one-dimensional packing algorithms, 1974; from memory), then
    HiGHS (scipy).
    """
    plain = ungranted(stocks)
    met = _met_simply(needs, plain, whole=whole)
    if met is not None:
        return Found(Outcome.YES, draws=met)
    if crowd(needs, granted(stocks)) is not None:
        return _no(needs, plain, whole=whole)
    conditional = any(stock.needs or stock.beyond is not None for stock in stocks)
    dates_alone = not whole and all(s.life is None for s in stocks) and len({n.known_lot for n in needs}) == 1
    if dates_alone and not conditional:
        return _no(needs, plain, whole=whole)
    found = solve(needs, stocks, whole=whole, limit_s=limit_s, rank=rank)
    if found.outcome == Outcome.NO:
        return _no(needs, plain, whole=whole)
    if found.outcome == Outcome.YES_IF:
        found = replace(found, missing=_missing(needs, plain, whole=whole))
    if found.outcome == Outcome.NOT_SHOWN or not agrees(needs, stocks, found, whole=whole):
        return Found(Outcome.NOT_SHOWN, missing=_missing(needs, plain, whole=whole))
    return found


def _no(needs: Sequence[Need], plain: Sequence[Stock], *, whole: bool) -> Found:
    return Found(Outcome.NO, missing=_missing(needs, plain, whole=whole), crowd=crowd(needs, plain))


def _met_simply(needs: Sequence[Need], plain: Sequence[Stock], *, whole: bool) -> tuple[Draw, ...] | None:
    if whole:
        tries = (_packed(needs, plain, order)[0] for order in PACKING_ORDERS)
    else:
        tries = (_swept(needs, plain, key, share)[0] for share in (SMALLEST_SHARE, None) for key in USE_ORDERS)
    return next((found for found in tries if found is not None), None)


def _missing(needs: Sequence[Need], plain: Sequence[Stock], *, whole: bool) -> tuple[tuple[int, int], ...]:
    """What is missing by the order of use that leaves the least missing."""
    if whole:
        tries = [_packed(needs, plain, order)[1] for order in PACKING_ORDERS]
    else:
        tries = [_swept(needs, plain, key, None)[1] for key in USE_ORDERS]
    least = min((sum(amount for _, amount in one), len(one), number) for number, one in enumerate(tries))
    return tuple(tries[least[2]])


class _Shelf:
    """What is left, and until when, as a plan opens one thing after the other."""

    def __init__(self, stocks: Sequence[Stock]) -> None:
        self.left = [stock.free for stock in stocks]
        self.until = [stock.last for stock in stocks]
        self.opened = [stock.opened for stock in stocks]
        self.stocks = stocks

    def take(self, number: int, amount: int, day: int) -> None:
        life = self.stocks[number].life
        if not self.opened[number]:
            self.opened[number] = True
            if life is not None:
                self.until[number] = min(self.until[number], day + life)
        self.left[number] -= amount


def _by_date(shelf: _Shelf, number: int, size: int) -> Key:
    """First expired first out, of equal dates the opened one, as the shelf's own order has it."""
    return (shelf.until[number], 0 if shelf.opened[number] else 1, number)


def _opened_first(shelf: _Shelf, number: int, size: int) -> Key:
    return (0 if shelf.opened[number] else 1, shelf.until[number], number)


def _smallest_that_is_enough(shelf: _Shelf, number: int, size: int) -> Key:
    if shelf.opened[number]:
        return (0, shelf.until[number], number)
    return (1, int(shelf.left[number] < size), shelf.left[number], shelf.until[number], number)


def _smallest(shelf: _Shelf, number: int, size: int) -> Key:
    if shelf.opened[number]:
        return (0, shelf.until[number], number)
    return (1, shelf.left[number], shelf.until[number], number)


USE_ORDERS = (_by_date, _opened_first, _smallest_that_is_enough, _smallest)


def _swept(
    needs: Sequence[Need], plain: Sequence[Stock], key: Callable[[_Shelf, int, int], Key], share: int | None
) -> tuple[tuple[Draw, ...] | None, list[tuple[int, int]]]:
    """Day by day, each need from the first cans of an order. With ``share`` no can gives less than that part of it."""
    shelf = _Shelf(plain)
    draws: list[Draw] = []
    missing: list[tuple[int, int]] = []
    for index in sorted(range(len(needs)), key=lambda i: (needs[i].day, not needs[i].known_lot, i)):
        need = needs[index]
        least = 1 if share is None else -(-need.size // share)
        able = [
            number
            for number, stock in enumerate(plain)
            if shelf.left[number] and shelf.until[number] >= need.day and stock.gives(need, conditions=False)
        ]
        wanted = need.size
        for number in sorted(able, key=lambda n: key(shelf, n, need.size)):
            amount = min(shelf.left[number], wanted)
            if 0 < wanted - amount < least:
                amount = wanted - least
            if amount < least:
                continue
            shelf.take(number, amount, need.day)
            draws.append(Draw(index, number, amount))
            wanted -= amount
            if not wanted:
                break
        if wanted:
            missing.append((index, wanted))
    return (None if missing else tuple(draws)), missing


PACKING_ORDERS: tuple[Callable[[Need], Key], ...] = (
    lambda need: (-need.size, need.day),
    lambda need: (-need.day, -need.size),
    lambda need: (need.day, -need.size),
)


def _packed(
    needs: Sequence[Need], plain: Sequence[Stock], order: Callable[[Need], Key]
) -> tuple[tuple[Draw, ...] | None, list[tuple[int, int]]]:
    """Best fit: each piece, in an order, onto the roll that it leaves the least of."""
    left = [stock.free for stock in plain]
    days: list[tuple[int, int] | None] = [None] * len(plain)
    draws: list[Draw] = []
    missing: list[tuple[int, int]] = []

    def lasts(number: int, day: int) -> bool:
        life, used = plain[number].life, days[number]
        return life is None or used is None or max(day, used[1]) - min(day, used[0]) <= life

    for index in sorted(range(len(needs)), key=lambda i: (order(needs[i]), i)):
        need = needs[index]
        able = [
            number
            for number, stock in enumerate(plain)
            if left[number] >= need.size and stock.gives(need, conditions=False) and lasts(number, need.day)
        ]
        if not able:
            missing.append((index, need.size))
            continue
        best = min(able, key=lambda n: (left[n] - need.size, plain[n].last, n))
        left[best] -= need.size
        first, last = days[best] or (need.day, need.day)
        days[best] = (min(first, need.day), max(last, need.day))
        draws.append(Draw(index, best, need.size))
    return (None if missing else tuple(draws)), missing
