"""Stages of a cure as a schedule asks for them, and what is found of them (shop rules 35 and 36).

- ``Stage``: one stage of a schedule.
- ``StageVerdict``, ``CureVerdict``: what a log, a thermometer or a declaration proves of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from service.formulas.cure_log import Excursion, Section, SuspectSample
from service.formulas.ranges import within

__all__ = ["CureVerdict", "Excursion", "Stage", "StageReason", "StageVerdict", "SuspectSample"]

Result = Literal["proved", "not known", "violated"]
ReasonKind = Literal["time", "longest", "heating", "cooling", "over", "evidence"]


def worst(results: Iterable[Result]) -> Result:
    """What is violated outweighs what is not known, and that what is proved."""
    found = set(results)
    return "violated" if "violated" in found else "not known" if "not known" in found else "proved"


def span_text(minutes: float, *, up: bool = False) -> str:
    """Hours and minutes, rounded so that a time just short never reads as enough."""
    tenths = math.ceil(minutes * 10 - 1e-6) if up else math.floor(minutes * 10 + 1e-6)
    hours, rest = divmod(tenths, 600)
    return f"{hours} h {rest / 10:g} min" if hours else f"{rest / 10:g} min"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a cure schedule.

    Attributes
    ----------
    name : str
        What the shop calls it [text].
    low_c : float
        Lower edge of the band in which the time counts [°C].
    high_c : float or None
        Upper edge of it; None for none [°C].
    minimum_min : float
        Time needed in the band [min].
    over_c : float or None
        Temperature that no part probe may pass; None says that there is none [°C].
    air_over_c : float or None
        Temperature that no air probe may pass; None says that there is none [°C].
    set_c : float or None
        Set temperature; where it is None, the middle of the band, or its lower edge if it has no upper one [°C].
    maximum_min : float or None
        Longest time allowed from the first to the last moment in the band [min].
    heating_limit_k_min : float or None
        Fastest heating allowed [K/min].
    cooling_limit_k_min : float or None
        Fastest cooling allowed, above zero [K/min].
    may_be_split : bool
        Whether parts of the time may be added up [-].
    dip_min : float
        Longest dip below the band that does not break the time; it counts nothing itself [min].
    dip_k : float
        Deepest such dip [K].
    """

    name: str
    low_c: float
    high_c: float | None
    minimum_min: float
    over_c: float | None
    air_over_c: float | None
    set_c: float | None = None
    maximum_min: float | None = None
    heating_limit_k_min: float | None = None
    cooling_limit_k_min: float | None = None
    may_be_split: bool = False
    dip_min: float = 0.0
    dip_k: float = 0.0

    def __post_init__(self) -> None:
        within("low_c", self.low_c, -100, 1000, unit="°C")
        if self.high_c is not None:
            within("high_c", self.high_c, self.low_c, 1000, above=True, unit="°C")
        top = self.low_c if self.high_c is None else self.high_c
        within("minimum_min", self.minimum_min, 0, 1e6, above=True, unit="min")
        if self.maximum_min is not None:
            within("maximum_min", self.maximum_min, self.minimum_min, 1e7, unit="min")
        for name, limit in (("heating", self.heating_limit_k_min), ("cooling", self.cooling_limit_k_min)):
            if limit is not None:
                within(f"{name}_limit_k_min", limit, 0, 1000, above=True, unit="K/min")
        for name, highest in (("over_c", self.over_c), ("air_over_c", self.air_over_c)):
            if highest is not None:
                within(name, highest, top, 1000, unit="°C")
        if self.set_c is not None:
            within("set_c", self.set_c, self.low_c, 1000 if self.high_c is None else self.high_c, unit="°C")
        within("dip_min", self.dip_min, 0, 240, unit="min")
        within("dip_k", self.dip_k, 0, 100, unit="K")

    @property
    def highest_in_band_c(self) -> float:
        """Upper edge of the band, endless where there is none."""
        return math.inf if self.high_c is None else self.high_c

    @property
    def aimed_c(self) -> float:
        """The temperature that the stage is set to."""
        if self.set_c is not None:
            return self.set_c
        return self.low_c if self.high_c is None else (self.low_c + self.high_c) / 2


@dataclass(frozen=True, slots=True)
class StageReason:
    """What stands against a stage: one of the findings that are as grave as its verdict.

    Attributes
    ----------
    kind : {'time', 'longest', 'heating', 'cooling', 'over', 'evidence'}
        The time in the band, the longest time allowed, a ramp, a maximum, or evidence that leaves it open [text].
    sentence : str
        The finding in words [text].
    probe : str or None
        The probe that saw it [text].
    at_min : float or None
        When: the hottest sample over a maximum, the begin of the fastest ramp [min].
    value : float or None
        What was found [°C, or K/min for a ramp].
    limit : float or None
        What is allowed [the same].
    """

    kind: ReasonKind
    sentence: str
    probe: str | None = None
    at_min: float | None = None
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """What a log proves of one stage.

    Attributes
    ----------
    name : str
        The stage [text].
    result : {'proved', 'not known', 'violated'}
        Whether everything asked of the stage is proved, or what stands against it; the worst of its findings [text].
    proved_min : float
        All time in the band [min].
    longest_min : float
        Longest time in the band without a break [min].
    sections : tuple of (from, to)
        When the time ran [list of min].
    gaps : tuple of (from, to)
        Holes, where nothing is known of a required probe [list of min].
    over : tuple of Excursion
        Probes over the maximum; of each the first five times and the hottest [list of °C].
    suspects : tuple of SuspectSample
        What is asked about: readings that cannot be true, probes that count nothing any more [list of °C].
    fastest_heating_k_min : float or None
        Steepest rise over a window of at least 10 min; None if the log has no such window [K/min].
    fastest_cooling_k_min : float or None
        Steepest fall over a window of at least 10 min; None if the log has no such window [K/min].
    completed_at_min : float or None
        When the time needed was reached [min].
    passed : bool
        Whether everything asked of the stage is proved [-].
    sentences : tuple of str
        The same in words [text].
    reasons : tuple of StageReason
        Why it is not proved; none where it is [-].
    """

    name: str
    result: Result
    proved_min: float
    longest_min: float
    sections: tuple[Section, ...]
    gaps: tuple[Section, ...]
    over: tuple[Excursion, ...]
    suspects: tuple[SuspectSample, ...]
    fastest_heating_k_min: float | None
    fastest_cooling_k_min: float | None
    completed_at_min: float | None
    passed: bool
    sentences: tuple[str, ...]
    reasons: tuple[StageReason, ...] = ()


@dataclass(frozen=True, slots=True)
class CureVerdict:
    """What a log proves of a whole cure.

    Attributes
    ----------
    stages : tuple of StageVerdict
        One for each stage of the schedule, in its order [-].
    result : {'proved', 'not known', 'violated'}
        The worst result of any stage [text].
    passed : bool
        Whether all of them passed [-].
    sentences : tuple of str
        The same in words [text].
    """

    stages: tuple[StageVerdict, ...]
    result: Result
    passed: bool
    sentences: tuple[str, ...]
