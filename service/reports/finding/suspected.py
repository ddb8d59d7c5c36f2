"""Suspects as they are told: counts, splits at a limit day, and what they amount to."""

from dataclasses import dataclass
from datetime import date

# Adjusted p-values up to this make a suspect; it is the false discovery rate that is common in such searches.
SUSPICIOUS = 0.05


@dataclass(frozen=True, slots=True)
class Count:
    """So many parts, and how many of them failed."""

    parts: int
    failed: int


@dataclass(frozen=True, slots=True)
class Point:
    """One part at the age of the container when it was made; failed is nothing where that is not decided.

    Attributes
    ----------
    failed
        Nothing where it is not judged yet.
    """

    part: str
    days: int
    failed: bool | None
    value: float | None


@dataclass(frozen=True, slots=True)
class AgeSplit:
    """A container that was used beyond its limit: parts made from it after, before, and from others of its material."""

    code: str
    noun: str
    material: str
    because: str
    limit_days: int
    own_days: int
    after: Count
    before: Count
    elsewhere: Count
    undecided: int
    p: float
    median_failed: float | None
    median_good: float | None
    p_ages: float | None
    measured: str | None
    tau: float | None
    p_trend: float | None
    points: tuple[Point, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """One factor, or several that cannot be told apart.

    ``apart`` counts those of its parts that no stronger suspect has: where none of them failed, it may owe its place to
    the stronger one alone.

    Attributes
    ----------
    cannot_separate
        Factors with the very same parts; no table tells them apart.
    apart
        Those of its parts that no stronger suspect has.
    stands_alone
        Suspicious, and not only through a stronger one.
    p
        Fisher's exact test, one-sided.
    p_adjusted
        For all factors tried (Benjamini and Hochberg).
    odds_ratio
        Nothing where it is infinite.
    """

    kind: str
    name: str
    code: str | None
    cannot_separate: tuple[str, ...]
    exposed: Count
    others: Count
    apart: Count
    stands_alone: bool
    undecided: int
    p: float
    p_adjusted: float
    odds_ratio: float | None
    odds_low: float
    odds_high: float | None
    parts: tuple[str, ...]
    failed_parts: tuple[str, ...]
    sentence: str

    @property
    def suspicious(self) -> bool:
        return self.p_adjusted <= SUSPICIOUS


@dataclass(frozen=True, slots=True)
class Suspects:
    """What was compared, and what stands out of it: suspects, never causes.

    Attributes
    ----------
    left_out
        Failed in another way than this part.
    people
        By task, in the order of the alphabet. Who did a task is often who works on such a day, with such a material:
        it asks what was different about the work, and blames nobody.
    """

    word: str
    since: date
    until: date
    compared: int
    failed: int
    undecided: int
    left_out: int
    tried: int
    not_shared: int
    shared_by_all: int
    ranked: tuple[Suspect, ...]
    people: tuple[Suspect, ...]
    splits: tuple[AgeSplit, ...]
    sentence: str
