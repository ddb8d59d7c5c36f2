"""Money in whole minor units, shared without a remainder: what is drawn from a can, what a pot gives to each part.

What a thing holds is told apart by where it came from: (what arrived) -> how much of it is here and what that cost,
None where nobody has said its price. Nothing is rounded twice and nothing is lost: shares are whole and add up to what
was shared, by the method of the largest remainder (also called that of Hare and Hamilton; from memory).

A thing is valued by what was really drawn for it, not by an average of the shop (specific identification, IAS 2
paragraphs 23 and 24; from memory); of a can that was filled twice, by the average of what is in it.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)

# Decimals of a currency's minor unit, where they are not two: ISO 4217:2015, list one, as the project
# moneyphp/iso-currencies publishes it (resources/current.json); UYW, of 2018, is from memory.
_NONE = ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF",
         "XPF")  # fmt: skip
_THREE, _FOUR = ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), ("CLF", "UYW")
_OTHER_DIGITS = {**dict.fromkeys(_NONE, 0), **dict.fromkeys(_THREE, 3), **dict.fromkeys(_FOUR, 4)}


def minor_digits(currency: str) -> int:
    """Decimals of a currency's minor unit by ISO 4217.

    >>> minor_digits("EUR"), minor_digits("JPY"), minor_digits("KWD")
    (2, 0, 3)
    """
    return _OTHER_DIGITS.get(currency, 2)


def in_words(minor: int, currency: str) -> str:
    """An amount as it is said, its currency after it.

    >>> in_words(123456, "EUR"), in_words(-5, "EUR"), in_words(700, "JPY")
    ('1,234.56 EUR', '-0.05 EUR', '700 JPY')
    """
    digits = minor_digits(currency)
    whole, rest = divmod(abs(minor), 10**digits)
    fraction = f".{rest:0{digits}}" if digits else ""
    return f"{'-' if minor < 0 else ''}{whole:,}{fraction} {currency}"


def nearest(numerator: int, denominator: int) -> int:
    """The whole number next to a fraction that is not below zero; a half goes up.

    >>> nearest(5, 2), nearest(7, 3), nearest(0, 9)
    (3, 2, 0)
    """
    return (2 * numerator + denominator) // (2 * denominator)


def shared(total: int, weights: Sequence[int]) -> list[int]:
    """A total in whole shares by weight that add up to it; of equal remainders the first gets the unit.

    Where nothing has a weight, nothing is shared.

    >>> shared(100, [1, 1, 1]), shared(10, [0, 3, 1]), shared(7, [])
    ([34, 33, 33], [0, 8, 2], [])
    """
    whole = sum(weights)
    if whole == 0:
        return [0] * len(weights)
    found = [total * weight // whole for weight in weights]
    over = sorted(range(len(weights)), key=lambda n: (-(total * weights[n] % whole), n))
    for n in over[: total - sum(found)]:
        found[n] += 1
    return found


@dataclass(slots=True)
class Held(Generic[K]):
    """What a thing holds: of each arrival how much, and what that cost; None where no price is known."""

    amounts: dict[K, int] = field(default_factory=dict)
    money: dict[K, int | None] = field(default_factory=dict)

    @property
    def amount(self) -> int:
        return sum(self.amounts.values())

    def add(self, other: "Held[K]", sign: int = 1) -> None:
        for key, amount in other.amounts.items():
            cost = other.money[key]
            had = self.money.get(key, 0)
            self.amounts[key] = self.amounts.get(key, 0) + sign * amount
            self.money[key] = None if cost is None or had is None else had + sign * cost

    def take(self, amount: int) -> "Held[K]":
        """Take so much out, of each arrival its share; the last of an arrival takes all that is left of its money."""
        keys = list(self.amounts)
        taken: Held[K] = Held()
        for key, share in zip(keys, shared(amount, [self.amounts[key] for key in keys]), strict=True):
            if share == 0:
                continue
            cost, here = self.money[key], self.amounts[key]
            taken.amounts[key] = share
            taken.money[key] = None if cost is None else nearest(cost * share, here)
        self.add(taken, -1)
        for key in [key for key, left in self.amounts.items() if left == 0]:
            del self.amounts[key], self.money[key]
        return taken

    def more(self, amount: int) -> "Held[K]":
        """What so much more of the same would have cost."""
        keys, whole = list(self.amounts), self.amount
        found: Held[K] = Held()
        for key, share in zip(keys, shared(amount, [self.amounts[key] for key in keys]), strict=True):
            cost, here = self.money[key], self.amounts[key]
            if share and whole:
                found.amounts[key] = share
                found.money[key] = None if cost is None else nearest(cost * share, here)
        return found


def total(parts: Iterable[Held[K]]) -> Held[K]:
    """All of them together."""
    found: Held[K] = Held()
    for part in parts:
        found.add(part)
    return found


def split(whole: Held[K], weights: Sequence[int]) -> list[Held[K]]:
    """All that a thing holds, by weight; amounts and money of each arrival add up again.

    >>> [one.money for one in split(Held({"resin": 300}, {"resin": 100}), [1, 1, 1])]
    [{'resin': 34}, {'resin': 33}, {'resin': 33}]
    """
    found: list[Held[K]] = [Held() for _ in weights]
    for key, amount in whole.amounts.items():
        cost = whole.money[key]
        amounts = shared(amount, weights)
        costs: Sequence[int | None] = [None] * len(weights) if cost is None else shared(cost, weights)
        for one, its, money in zip(found, amounts, costs, strict=True):
            if its or money:
                one.amounts[key], one.money[key] = its, money
    return found


@dataclass(frozen=True, slots=True)
class Came(Generic[K]):
    """Something came into a can: what, and when; ``found`` is an amount more than the book had, of what is in it."""

    at: datetime
    what: Held[K] | None
    found: int = 0


@dataclass(frozen=True, slots=True)
class Went:
    """So much went out of a can."""

    at: datetime
    amount: int


def drawn(came: Sequence[Came[K]], went: Sequence[Went]) -> tuple[list[Held[K]], list[Held[K]]]:
    """What each draw from a can took along, and what was found in it more than the book had, each in its order.

    A later draw changes nothing of an earlier one. Where less had come than went (a correction was booked later), what
    came next is taken to have been there.
    """
    here: Held[K] = Held()
    ever: Held[K] = Held()
    found: list[Held[K]] = []
    taken: list[Held[K]] = []
    waiting = list(came)
    for one in went:
        while waiting and (waiting[0].at <= one.at or here.amount < one.amount):
            _let_in(waiting.pop(0), here, ever, found)
        taken.append(here.take(min(one.amount, here.amount)))
    for last in waiting:
        _let_in(last, here, ever, found)
    return taken, found


def _let_in(came: Came[K], here: Held[K], ever: Held[K], found: list[Held[K]]) -> None:
    if came.what is not None:
        here.add(came.what)
        ever.add(came.what)
        return
    more = (here if here.amount else ever).more(came.found)
    here.add(more)
    found.append(more)
