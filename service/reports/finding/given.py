"""What the search for suspects is given: what became of the parts, what they share, what was measured on them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What became of the parts that are compared, by their codes.

    Attributes
    ----------
    failed
        Like the part that is looked at.
    otherwise
        Failed in another way.
    gone
        Shipped and never heard of again; those that were inspected and accepted before are good as well.
    defects
        How the part that is looked at failed.
    scrapped
        For a test, or because nobody wants them, and not inspected, or not since they came back.
    fitted
        Components of an assembly that is judged and stands for them.
    corrected
        Somebody said that they failed, and a correction took it back; each is one of the others as well.
    """

    word: str
    failed: frozenset[str]
    good: frozenset[str]
    undecided: frozenset[str]
    otherwise: frozenset[str]
    since: date
    until: date
    gone: frozenset[str] = frozenset()
    defects: tuple[str, ...] = ()
    corrected: frozenset[str] = frozenset()
    scrapped: frozenset[str] = frozenset()
    fitted: frozenset[str] = frozenset()
    # Nothing that could be sectioned or tested: planned, being laid up, being cured, scrapped.
    not_there: frozenset[str] = frozenset()

    @property
    def judged(self) -> frozenset[str]:
        return self.failed | self.good

    @property
    def failed_at_all(self) -> frozenset[str]:
        return self.failed | self.otherwise


@dataclass(frozen=True, slots=True)
class Factor:
    """Something that parts share. ``among`` are those that it is compared within, if not all."""

    kind: str
    name: str
    code: str | None
    parts: frozenset[str]
    among: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Number:
    """Something that was measured or counted on parts, by their codes; larger may be worse, or smaller.

    ``size_of`` names the number whose distance from nothing it is, whatever its sign.
    """

    name: str
    unit: str
    values: Mapping[str, float]
    size_of: str = ""


@dataclass(frozen=True, slots=True)
class AgedUse:
    """A container with a limit, and how old it was at the last use for each part: days open, or days past its date."""

    code: str
    noun: str
    material: str
    because: str
    limit_days: int
    days: Mapping[str, int]
    others: frozenset[str]
    measured: Mapping[str, tuple[float, str]]

    @property
    def after(self) -> frozenset[str]:
        return frozenset(part for part, days in self.days.items() if days > self.limit_days)


@dataclass(frozen=True, slots=True)
class Times:
    """When each part was started, in any unit, and which parts shared a pot or a cure: one name for each such group."""

    started: Mapping[str, float] = field(default_factory=dict)
    blocks: Mapping[str, str] = field(default_factory=dict)
