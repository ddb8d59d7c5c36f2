"""What a search of the stock is asked and what it answers: needs with their days, stock with the days it is good for.

Days are whole numbers from a first day; amounts are whole milligrams, or whole millimetres of a roll.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

FOREVER = 10**6
"""A last good day beyond all days that are asked for."""


class Outcome(StrEnum):
    """What a search has shown."""

    YES = "yes"
    YES_IF = "yes, if"
    NO = "no"
    NOT_SHOWN = "not shown"


@dataclass(frozen=True, slots=True)
class Need:
    """So much of one material on one day: a component of a pot, or a piece to be cut.

    ``known_lot`` bars stock whose maker's lot is not known.
    """

    day: int
    size: int
    known_lot: bool = False


@dataclass(frozen=True, slots=True)
class Stock:
    """One can, roll or offcut.

    ``life`` is how many days it keeps after it is opened, where it is sealed and its material has such a life; of an
    opened one that is in ``last`` already. ``needs`` names what has to come first, whatever the day; ``beyond`` what
    would let it be used past its dates.
    """

    free: int
    first: int = 0
    last: int = FOREVER
    life: int | None = None
    opened: bool = False
    known_lot: bool = True
    needs: tuple[str, ...] = ()
    beyond: str | None = None

    def gives(self, need: Need, *, conditions: bool) -> bool:
        """May it give to that need, unopened until then? ``conditions``: granted that all of them come true."""
        if need.day < self.first or (need.known_lot and not self.known_lot):
            return False
        return (conditions or not self.needs) and (need.day <= self.last or (conditions and self.beyond is not None))


@dataclass(frozen=True, slots=True)
class Draw:
    """So much for the need of that number from the stock of that number, in the order in which they were given."""

    need: int
    stock: int
    amount: int


@dataclass(frozen=True, slots=True)
class Crowd:
    """The proof of a no: between these days more is needed than all that is good on any of them can give."""

    first: int
    last: int
    needed: int
    free: int


@dataclass(frozen=True, slots=True)
class Found:
    """The answer of a search.

    Of a yes the draws; of a yes-if the conditions too, and whether no smaller set would do. Unless it is a yes, what is
    missing for which needs as long as no condition comes true, by one good order of use: a delivery of it makes a yes.
    Of a no, where one span of days shows it, that span.
    """

    outcome: Outcome
    draws: tuple[Draw, ...] = ()
    conditions: tuple[str, ...] = ()
    smallest: bool = True
    missing: tuple[tuple[int, int], ...] = ()
    crowd: Crowd | None = None


def crowd(needs: Sequence[Need], stocks: Sequence[Stock]) -> Crowd | None:
    """The span of days whose needs are more than all that is good on any day of it holds, the worst one.

    Without opened lives and as if everything could be divided, so that a span that is found proves a no for both.
    Where windows of days are all that limits, one is found whenever there is no way (Hall's condition for intervals).
    """
    worst: Crowd | None = None
    for known in sorted({need.known_lot for need in needs}):
        own = [need for need in needs if need.known_lot >= known]
        days = sorted({need.day for need in own})
        fit = [stock for stock in stocks if stock.known_lot >= known]
        needed_on = {day: sum(need.size for need in own if need.day == day) for day in days}
        for index, first in enumerate(days):
            needed = 0
            for last in days[index:]:
                needed += needed_on[last]
                free = sum(s.free for s in fit if s.first <= last and s.last >= first)
                if needed > free and (worst is None or needed - free > worst.needed - worst.free):
                    worst = Crowd(first, last, needed, free)
    return worst


def granted(stocks: Sequence[Stock]) -> list[Stock]:
    """The same stock if every condition came true."""
    return [
        Stock(
            free=s.free,
            first=s.first,
            last=FOREVER if s.beyond is not None else s.last,
            life=None if s.beyond is not None else s.life,
            opened=s.opened,
            known_lot=s.known_lot,
        )
        for s in stocks
    ]


def ungranted(stocks: Sequence[Stock]) -> list[Stock]:
    """The same stock if no condition came true; what needs one gives nothing."""
    return [
        Stock(
            free=0 if s.needs else s.free,
            first=s.first,
            last=s.last,
            life=s.life,
            opened=s.opened,
            known_lot=s.known_lot,
        )
        for s in stocks
    ]


def agrees(needs: Sequence[Need], stocks: Sequence[Stock], found: Found, *, whole: bool) -> bool:
    """Does an answer keep all that is asked of it, to the milligram? Nothing that a solver said counts before this."""
    given = [0] * len(needs)
    taken = [0] * len(stocks)
    days: dict[int, list[int]] = {}
    for draw in found.draws:
        need, stock = needs[draw.need], stocks[draw.stock]
        if draw.amount <= 0 or (whole and draw.amount != need.size):
            return False
        lifted = stock.beyond is not None and stock.beyond in found.conditions
        if not set(stock.needs) <= set(found.conditions) or need.day < stock.first:
            return False
        if (need.day > stock.last and not lifted) or (need.known_lot and not stock.known_lot):
            return False
        given[draw.need] += draw.amount
        taken[draw.stock] += draw.amount
        if stock.life is not None and not lifted:
            days.setdefault(draw.stock, []).append(need.day)
    kept = all(max(used) - min(used) <= (stocks[i].life or 0) for i, used in days.items())
    enough = all(amount == need.size for amount, need in zip(given, needs, strict=True))
    return kept and enough and all(amount <= stock.free for amount, stock in zip(taken, stocks, strict=True))
