"""The earliest days on which parts can be made: moulds and calendar give days, the stock says which will do.

A later day is not always as good as an earlier one: what is in date today may not be next week. So days are tried in
their order and not halved. Days are whole numbers from today.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from service.formulas._stock import Need, Stock


@dataclass(frozen=True, slots=True)
class Planned:
    """The day on which a part is begun, and the one on which it is ready."""

    begins: int
    ready: int


Plan = Callable[[Sequence[int]], Sequence[Planned] | None]
"""The days of all parts, where each is not begun before a day of its own; None: the shop does not open again."""
Fits = Callable[[Sequence[tuple[int, int]]], bool]
"""Is there stock for these parts, each begun on a day? Parts beyond them want nothing."""
Arrival = Callable[[int, int], int | None]
"""The next day after a day on which more comes of what a part takes."""


def plans(
    groups: Sequence[int], plan: Plan, fits: Fits, arrival: Arrival, *, horizon: int, shift: bool
) -> Iterator[tuple[Planned, ...]]:
    """Plans that can be kept, each ready sooner than the one before it, within the horizon.

    As many parts are begun as the stock is enough for, in the order of their days; the next of its group, and those
    after it, wait until more comes. With ``shift`` all is tried from each later day on too: what is opened late keeps
    longer, so that waiting may be the only way. Parts of a group are alike.
    """
    best: int | None = None
    seen: set[tuple[Planned, ...]] = set()
    for first in range(horizon + 1 if shift else 1):
        soonest = plan([first] * len(groups))
        if soonest is None or tuple(soonest) in seen:
            continue
        seen.add(tuple(soonest))
        ready = max(one.ready for one in soonest)
        if ready > horizon or (best is not None and ready >= best):
            return
        found = _staged(first, groups, plan, fits, arrival, horizon if best is None else best - 1)
        if found is not None:
            best = max(one.ready for one in found)
            yield found


def as_many_as_can(groups: Sequence[int], plan: Plan, fits: Fits, arrival: Arrival, *, horizon: int) -> dict[int, int]:
    """The parts that stock is enough for within the horizon, each with its day, the first ones first."""
    found = _settled([0] * len(groups), groups, plan, fits, arrival, horizon, all_or_none=False)
    return {} if found is None else found[1]


def _staged(
    first: int, groups: Sequence[int], plan: Plan, fits: Fits, arrival: Arrival, latest: int
) -> tuple[Planned, ...] | None:
    """The parts as early as stock and moulds allow from a day on; None if not all are ready by the latest."""
    found = _settled([first] * len(groups), groups, plan, fits, arrival, latest, all_or_none=True)
    return None if found is None else found[0]


def _settled(
    earliest: list[int],
    groups: Sequence[int],
    plan: Plan,
    fits: Fits,
    arrival: Arrival,
    latest: int,
    *,
    all_or_none: bool,
) -> tuple[tuple[Planned, ...], dict[int, int]] | None:
    left_out: set[int] = set()
    while True:
        days = plan(earliest)
        if days is None or (all_or_none and max(one.ready for one in days) > latest):
            return None
        order = sorted((n for n in range(len(groups)) if n not in left_out), key=lambda n: (days[n].begins, n))
        begun = [(n, days[n].begins) for n in order]
        # What is wanted by more parts is no easier to give: the first that is too many is found by halving.
        low, high = 0, len(order)
        while low < high:
            middle = high if (low, high) == (0, len(order)) else (low + high + 1) // 2
            if fits(begun[:middle]):
                low = middle
            else:
                high = middle - 1
        if low == len(order):
            return tuple(days), dict(begun)
        stuck = order[low]
        waits = arrival(stuck, days[stuck].begins)
        if waits is not None and waits <= latest:
            for n in order[low:]:
                if groups[n] == groups[stuck]:
                    earliest[n] = max(earliest[n], waits)
        elif all_or_none:
            return None
        else:
            left_out.add(stuck)


def most_before(day: int, begins: Sequence[int], sizes: Sequence[int], kept: Sequence[Need], stocks: Sequence[Stock],
                *, known_lot: bool) -> int:  # fmt: skip
    """No more of these parts than this can be begun before a day, whatever is opened when.

    ``begins`` are the days before which the first, the second and so on cannot be begun, by their moulds; ``sizes``
    what the parts take of one material at the least, in any order; ``kept`` what others get. Of the parts from the
    k-th on none takes what is past its date when the k-th is begun (Hall's condition, for the ends of the queue).
    """
    rising = sorted(sizes)
    most = sum(one < day for one in begins)
    usable = [stock for stock in stocks if stock.first < day and (stock.known_lot or not known_lot)]
    for before in range(most):
        since = begins[before]
        free = sum(stock.free for stock in usable if stock.last >= since)
        free -= sum(need.size for need in kept if since <= need.day < day and need.known_lot >= known_lot)
        count = 0
        for size in rising:
            if size > free:
                break
            free -= size
            count += 1
        most = min(most, before + count)
    return most
