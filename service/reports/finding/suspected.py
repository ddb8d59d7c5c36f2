"""Suspects as they are told: counts, splits at a limit day, numbers, and what they amount to."""

from dataclasses import dataclass
from datetime import date

from service.reports.finding.weighing import Suspicion


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
    material_name: str
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
    """One factor, or several with the very same parts.

    ``apart`` counts those of its parts that no stronger suspect has: where none of them failed, it may owe its place to
    the stronger one alone.

    Attributes
    ----------
    rank
        Among all that was tried, people and numbers too; equal chances share a rank.
    verdict
        What the numbers say of it.
    cannot_separate
        Factors with the very same parts; no table tells them apart.
    rival
        A factor that it cannot be told from, though other parts have it.
    apart
        Those of its parts that no stronger suspect has.
    any_exposed
        With it, of the parts that failed in whatever way or are good.
    any_others
        The same without it.
    stands_alone
        Worth following, and not only through a stronger one.
    p
        Fisher's exact test, one-sided, all parts as one group.
    p_any
        The same for failures of whatever kind.
    p_within
        By rearranging the failures within two strata of time.
    p_adjusted
        The same for all that was tried (min-P).
    p_neighbours
        By rearranging them among neighbours in time; nothing where the others tell enough.
    odds_ratio
        Nothing where it is infinite.
    """

    kind: str
    name: str
    code: str | None
    rank: int
    verdict: Suspicion
    cannot_separate: tuple[str, ...]
    rival: str | None
    exposed: Count
    others: Count
    apart: Count
    any_exposed: Count
    any_others: Count
    stands_alone: bool
    undecided: int
    p: float
    p_any: float
    p_within: float
    p_adjusted: float
    p_neighbours: float | None
    odds_ratio: float | None
    odds_low: float
    odds_high: float | None
    parts: tuple[str, ...]
    failed_parts: tuple[str, ...]
    sentence: str

    @property
    def suspicious(self) -> bool:
        """More than chance, whatever else may be said of it."""
        return self.verdict != Suspicion.CHANCE

    @property
    def leads(self) -> bool:
        """Parts failed more often with it than without."""
        return self.exposed.failed * self.others.parts > self.others.failed * self.exposed.parts


@dataclass(frozen=True, slots=True)
class Measured:
    """A number of the parts against their failures, and against the hardness that was measured on them.

    Attributes
    ----------
    own
        Of the part that is looked at.
    percentile
        How many of a hundred parts that held have less than it, those with the same counted half; nothing where fewer
        than twenty held.
    p
        Rank-sum test, two-sided, exact with ties while there are few.
    tau
        Kendall's rank correlation with the hardness; nothing where too little was measured.
    """

    name: str
    unit: str
    rank: int
    verdict: Suspicion
    rival: str | None
    own: float | None
    percentile: float | None
    parts: int
    median_failed: float | None
    median_good: float | None
    p: float
    p_within: float
    p_adjusted: float
    p_neighbours: float | None
    tau: float | None
    p_trend: float | None
    sentence: str

    @property
    def suspicious(self) -> bool:
        return self.verdict != Suspicion.CHANCE


@dataclass(frozen=True, slots=True)
class Became:
    """What became of the parts of the time.

    Attributes
    ----------
    good
        Inspected and accepted, and here or heard of; scrapped afterwards as tested or not wanted, it is among them.
    gone
        Inspected and accepted, shipped, and never heard of again: compared as good.
    unheard
        Shipped without an inspection on record, and never heard of again: not compared.
    scrapped
        For a test, or because nobody wants them, and not inspected, or not since they came back: not compared.
    fitted
        Into another part of the time that is judged: that one stands for it.
    corrected_away
        Of all these, of how many somebody had said that they failed, which a correction took back: no failures.
    """

    failed: int
    failed_otherwise: int
    good: int
    gone: int
    unheard: int
    not_judged: int
    scrapped: int
    fitted: int
    corrected_away: int


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
    smallest_p
        The smallest chance that any factor could have here, all parts as one group, pots and cures whole.
    smallest_p_within
        The same within two strata of time.
    rearrangements
        How many ways in which the failures could have fallen were counted.
    worked_on_again
        Of failed parts that were reworked since: whether they failed again, and what went in then.
    next_part
        Which part to look at next, and what it would tell.
    """

    word: str
    since: date
    until: date
    became: Became
    compared: int
    failed: int
    undecided: int
    left_out: int
    tried: int
    not_shared: int
    shared_by_all: int
    smallest_p: float
    smallest_p_within: float
    rearrangements: int
    all_rearrangements: bool
    ranked: tuple[Suspect, ...]
    numbers: tuple[Measured, ...]
    people: tuple[Suspect, ...]
    splits: tuple[AgeSplit, ...]
    worked_on_again: str | None
    next_part: str | None
    sentence: str
