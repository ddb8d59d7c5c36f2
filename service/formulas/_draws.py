"""From which cans equal pots are drawn: fewest lots, first in the list first, no small splits (shop rule 13).

All masses are whole milligrams, so that a tenth of a pot is a tenth of a pot.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, islice, product

Draw = tuple[int, int]
"""Number of the can in the list, and mass [mg]."""

SMALLEST_SHARE = 10
"""A pot is not split over two cans for less than one part in this many of it."""

SETS_OF_A_SIZE, CANS_LOOKED_AT, CANS_IN_A_POT = 20, 12, 5
"""Bounds of the search: a set of lots that holds enough nearly always has a plan, so that few are looked at."""


def draws_for_equal_pots(
    *, pot_mg: int, pots: int, lots: Sequence[str], left_mg: Sequence[int]
) -> list[list[Draw]] | None:
    """For each pot its draws, touching as few lots as possible; None if the cans do not hold enough.

    ``lots`` and ``left_mg`` say for each can, in the order in which they should be used, its lot and what is left.
    """
    least = -(-pot_mg // SMALLEST_SHARE)
    capacity: dict[str, int] = {}
    for lot, left in zip(lots, left_mg, strict=True):
        if left >= least:
            capacity[lot] = capacity.get(lot, 0) + min(left, pots * pot_mg)
    for chosen in _fewest_first(list(capacity.items()), pots * pot_mg):
        usable = [left if lot in chosen else 0 for lot, left in zip(lots, left_mg, strict=True)]
        draws = _in_order(pot_mg, pots, list(usable), least) or _without_remnants(pot_mg, pots, usable, least)
        if draws is not None:
            return draws
    return None


def _fewest_first(capacity: list[tuple[str, int]], need: int) -> Iterator[set[str]]:
    """Sets of lots that hold enough, smaller ones first, and among those the earlier lots first."""

    def grow(start: int, missing: int, room: int) -> Iterator[list[str]]:
        if room == 0:
            if missing <= 0:
                yield []
            return
        for index in range(start, len(capacity) - room + 1):
            largest = sorted((mg for _, mg in capacity[index:]), reverse=True)[:room]
            if sum(largest) < missing:
                return
            lot, held = capacity[index]
            for rest in grow(index + 1, missing - held, room - 1):
                yield [lot, *rest]

    for size in range(1, len(capacity) + 1):
        for chosen in islice(grow(0, need, size), SETS_OF_A_SIZE):
            yield set(chosen)


def _in_order(pot_mg: int, pots: int, left: list[int], least: int) -> list[list[Draw]] | None:
    """Empty the cans one after the other, leaving in a can what would be too small a part of a pot."""
    plan: list[list[Draw]] = []
    for _ in range(pots):
        draws = _one_pot_in_order(pot_mg, left, least)
        if draws is None:
            return None
        plan.append(draws)
    return plan


def _one_pot_in_order(pot_mg: int, left: list[int], least: int) -> list[Draw] | None:
    draws: list[Draw] = []
    missing = pot_mg
    for can, held in enumerate(left):
        amount = min(held, missing)
        if 0 < missing - amount < least:
            amount = missing - least
        if amount < least:
            continue
        draws.append((can, amount))
        missing -= amount
        if missing == 0:
            break
    if missing:
        return None
    for can, amount in draws:
        left[can] -= amount
    return draws


def _without_remnants(pot_mg: int, pots: int, left_mg: Sequence[int], least: int) -> list[list[Draw]] | None:
    """Fill each pot so that no can keeps a remnant too small for the next: then nothing is lost that will be needed."""
    left = list(left_mg)
    plan: list[list[Draw]] = []
    for number in range(pots):
        draws = None if number == pots - 1 else _one_pot_without_remnants(pot_mg, left, least)
        if draws is None:
            draws = _one_pot_in_order(pot_mg, left, least)
        else:
            for can, amount in draws:
                left[can] -= amount
        if draws is None:
            return None
        plan.append(draws)
    return plan


def _one_pot_without_remnants(pot_mg: int, left: Sequence[int], least: int) -> list[Draw] | None:
    """A can is either emptied, or keeps at least the least share: find the fewest cans whose sums meet the pot."""
    usable = [can for can, held in enumerate(left) if held >= least][:CANS_LOOKED_AT]
    for size in range(1, min(len(usable), CANS_IN_A_POT) + 1):
        for cans in combinations(usable, size):
            if sum(left[can] for can in cans) < pot_mg:
                continue
            for emptied in product((True, False), repeat=size):
                lows = [left[can] if empty else least for can, empty in zip(cans, emptied, strict=True)]
                highs = [left[can] if empty else left[can] - least for can, empty in zip(cans, emptied, strict=True)]
                if any(high < low for low, high in zip(lows, highs, strict=True)):
                    continue
                if sum(lows) <= pot_mg <= sum(highs):
                    return _filled(cans, lows, highs, pot_mg)
    return None


def _filled(cans: Sequence[int], lows: list[int], highs: list[int], pot_mg: int) -> list[Draw]:
    spare = pot_mg - sum(lows)
    draws = []
    for can, low, high in zip(cans, lows, highs, strict=True):
        more = min(spare, high - low)
        spare -= more
        draws.append((can, low + more))
    return draws
