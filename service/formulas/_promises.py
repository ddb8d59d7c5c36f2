"""Which of the reserved orders can be kept from a stock, and which no longer can once something is taken from it.

Who reserved first is kept first. Amounts are whole milligrams, or whole millimetres of a roll.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from service.formulas._stock import Need, Outcome, Stock, granted, ungranted
from service.formulas._stock_search import search


@dataclass(frozen=True, slots=True)
class Reserved:
    """What one reservation still wants of one material; ``key`` says which reservation it is."""

    key: int
    needs: tuple[Need, ...]


def kept(
    reserved: Sequence[Reserved], stocks: Sequence[Stock], *, whole: bool, limit_s: float = 1.0
) -> tuple[int, ...]:
    """The reservations that can all be kept from this stock, as it stands without any condition, the first ones first.

    One that cannot be kept beside those before it takes nothing from those after it. What the search does not show
    within its time is not kept.
    """
    if _all_met([need for one in reserved for need in one.needs], stocks, whole=whole, limit_s=limit_s):
        return tuple(one.key for one in reserved)
    together: list[Need] = []
    found: list[int] = []
    for one in reserved:
        if _all_met([*together, *one.needs], stocks, whole=whole, limit_s=limit_s):
            together += one.needs
            found.append(one.key)
    return tuple(found)


def broken(
    reserved: Sequence[Reserved],
    stocks: Sequence[Stock],
    taken: Mapping[int, int],
    *,
    after: Sequence[Reserved] | None = None,
    back: Sequence[Stock] = (),
    whole: bool,
    limit_s: float = 1.0,
) -> tuple[int, ...]:
    """The reservations that can be kept now, and no longer once ``taken`` has left: by place in ``stocks``, how much.

    ``after`` is what they want then, where what is taken is for one of them; the same, if it is nothing. ``back`` is
    what lies on the shelf anew: an offcut. Asked twice: of the stock as it stands, then as it would be if all came true
    that it waits for (a delivery, a release). So an order that rests on a delivery is broken only by what leaves too
    little with it, too.
    """
    left = [replace(stock, free=max(0, stock.free - taken.get(n, 0))) for n, stock in enumerate(stocks)]
    left += back
    wanted = reserved if after is None else after
    lost: set[int] = set()
    for level in (ungranted, granted):
        before = kept(reserved, level(stocks), whole=whole, limit_s=limit_s)
        if before:
            lost |= set(before) - set(kept(wanted, level(left), whole=whole, limit_s=limit_s))
    return tuple(one.key for one in reserved if one.key in lost)


def outstanding(sizes: Sequence[int], taken: int) -> list[int]:
    """What is still reserved of these amounts for one part that has taken so much already: the largest are met first.

    >>> outstanding([400, 1500], 1490)
    [400, 10]
    >>> outstanding([400, 1500], 1600)
    [300, 0]
    """
    left = list(sizes)
    for number in sorted(range(len(sizes)), key=lambda n: (-sizes[n], n)):
        used = min(left[number], max(0, taken))
        left[number] -= used
        taken -= used
    return left


def _all_met(needs: Sequence[Need], stocks: Sequence[Stock], *, whole: bool, limit_s: float) -> bool:
    wanted = [need for need in needs if need.size > 0]
    if not wanted:
        return True
    return search(wanted, stocks, whole=whole, limit_s=limit_s, rank=_no_rank).outcome == Outcome.YES


def _no_rank(condition: str) -> int:
    return 0
