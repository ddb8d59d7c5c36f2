"""What is unusual on a part by the shop's own history: where each of its numbers lies among the parts that held."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from service.reports.finding.given import Number, Outcomes
from service.reports.wording import figure, plural

# Of fewer parts that held no share is told, and only what at most so many of a hundred reach is unusual.
_ENOUGH = 20
_UNUSUAL_PCT = 5.0
_MOST_TOLD = 5


@dataclass(frozen=True, slots=True)
class Unusual:
    """A number that few of the parts that held reach."""

    name: str
    unit: str
    value: float
    larger: bool
    reached_by: int
    parts: int

    @property
    def share_pct(self) -> float:
        return 100 * self.reached_by / self.parts

    @property
    def lead(self) -> str:
        said = figure(self.value, self.unit) + (f" {self.unit}" if self.unit else "")
        return f"{self.name[:1].upper()}{self.name[1:]}: {said} is unusually {'large' if self.larger else 'small'}"

    @property
    def rest(self) -> str:
        so = "so large" if self.larger else "so small"
        if self.reached_by == 0:
            return f"; none of {plural(self.parts, 'part')} that held had one {so}."
        return f"; {self.reached_by} of {plural(self.parts, 'part')} that held had one {so} ({self.share_pct:.2g} %)."


def unusual(part: str, numbers: Iterable[Number], outcomes: Outcomes) -> tuple[Unusual, ...]:
    """The rarest first; the part itself is not counted, whatever became of it.

    What is unusual with its sign is not told once more without.
    """
    found = [(number, one) for number in numbers if (one := _placed(part, number, outcomes)) is not None]
    names = {one.name for _, one in found}
    told = [one for number, one in found if number.size_of not in names]
    return tuple(sorted(told, key=lambda one: (one.share_pct, one.name)))[:_MOST_TOLD]


@dataclass(frozen=True, slots=True)
class AmongTheHeld:
    """How many parts that held have less than the part that is looked at, how many the same, and of how many."""

    less: int
    same: int
    parts: int

    @property
    def percentile(self) -> float:
        """How many of a hundred parts that held have less, those with the same counted half."""
        return 100 * (self.less + self.same / 2) / self.parts


def among_the_held(part: str, number: Number, outcomes: Outcomes) -> AmongTheHeld | None:
    """Where this part's number lies among the parts that held; of fewer than twenty nothing is said."""
    own = number.values.get(part)
    if own is None:
        return None
    held = sorted(v for code, v in number.values.items() if code in outcomes.good and code != part)
    if len(held) < _ENOUGH:
        return None
    less = bisect_left(held, own)
    return AmongTheHeld(less, bisect_right(held, own) - less, len(held))


def _placed(part: str, number: Number, outcomes: Outcomes) -> Unusual | None:
    held = among_the_held(part, number, outcomes)
    if held is None:
        return None
    as_large, as_small = held.parts - held.less, held.less + held.same
    reached = min(as_large, as_small)
    if 100 * reached > _UNUSUAL_PCT * held.parts:
        return None
    return Unusual(number.name, number.unit, number.values[part], as_large < as_small, reached, held.parts)
