"""The samples of a cure, probe by probe, and what they leave unknown (shop rule 35).

- ``Log``: times and the temperatures of the named probes, checked once.
- ``Excursion``, ``SuspectSample``: what was found over a maximum, and what is asked about.
- :func:`hole_limit_min`: how far apart two samples of a probe may lie before nothing is counted between them.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from operator import itemgetter
from typing import TYPE_CHECKING

from service.formulas.ranges import OutOfRange, within

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.float64]

__all__ = ["Excursion", "Log", "SuspectSample", "hole_limit_min"]

MOST_SAMPLES = 1_000_000
# From so many sections on they are worked on all at once: the same answer, a tenth of the time.
MANY = 64
ROUNDING_MIN = 1e-9

Section = tuple[float, float]
"""From and to [min]."""

HOLE_FACTOR = 1.1


@dataclass(frozen=True, slots=True)
class Excursion:
    """A probe over a maximum for 2 min in all within 10 min; any sample where samples are over 2 min apart.

    Attributes
    ----------
    probe : str
        The probe that saw it [text].
    from_min : float
        First moment over the maximum [min].
    to_min : float
        Last moment over the maximum [min].
    highest_c : float
        The hottest sample [°C].
    """

    probe: str
    from_min: float
    to_min: float
    highest_c: float


@dataclass(frozen=True, slots=True)
class SuspectSample:
    """What is asked about: a reading that cannot be true, or the moment from which a probe counts nothing.

    Attributes
    ----------
    probe : str
        The probe that gave it [text].
    at_min : float
        When [min].
    temperature_c : float
        What it read [°C].
    why : str
        Why it is doubted [text].
    """

    probe: str
    at_min: float
    temperature_c: float
    why: str


def _as_samples(name: str, values: Sequence[float | None], *, may_miss: bool, low: float, high: float) -> Samples:
    import numpy as np

    allowed = f"a list of numbers from {low:g} to {high:g}" + (", or nothing where a sample is missing" * may_miss)
    for kind in set(map(type, values)):
        missing = kind is type(None)
        if (missing and not may_miss) or (not missing and (kind is bool or not issubclass(kind, int | float))):
            raise OutOfRange(name, f"a list that holds {kind.__name__}", allowed)
    try:
        samples = np.array(values, dtype=float)
    except OverflowError:
        raise OutOfRange(name, "a list with a number too large", allowed) from None
    present = samples[np.array([value is not None for value in values], dtype=bool)] if may_miss else samples
    if not bool(np.all((present >= low) & (present <= high))):
        raise OutOfRange(name, "a list with a number outside its range", allowed)
    return samples


@dataclass(frozen=True, slots=True)
class Log:
    """Times and temperatures of a cure, as logged.

    Attributes
    ----------
    times_min : tuple of float
        Ascending, at least two [list of min].
    probes : dict of str to tuple
        One temperature for each time, or None where the sample is missing [list of °C].
    """

    times_min: tuple[float, ...]
    probes: Mapping[str, tuple[float | None, ...]]

    def __post_init__(self) -> None:
        object.__setattr__(self, "times_min", tuple(self.times_min))
        object.__setattr__(self, "probes", {name: tuple(values) for name, values in self.probes.items()})
        if not 2 <= len(self.times_min) <= MOST_SAMPLES:
            raise OutOfRange("times_min", f"a list of {len(self.times_min)}", f"a list of 2 to {MOST_SAMPLES} times")
        times = _as_samples("times_min", self.times_min, may_miss=False, low=-1e8, high=1e8)
        if not bool((times[1:] > times[:-1]).all()):
            raise OutOfRange("times_min", "not in ascending order", "a list of times, each later than the one before")
        for name, values in self.probes.items():
            if len(values) != len(self.times_min):
                given = f"a list of {len(values)}"
                raise OutOfRange(f"probes[{name}]", given, f"a list of {len(self.times_min)}, one for each time")
            _as_samples(f"probes[{name}]", values, may_miss=True, low=-273.15, high=3000)


def hole_limit_min(*, longest_interval_min: float) -> float:
    """Longest interval between two samples of one probe that still counts as observed.

    Formula: ``1.1*longest sample interval of the schedule``. It is never taken from the samples themselves: a log of
    two samples has an interval too.

    Parameters
    ----------
    longest_interval_min : float
        Longest interval between samples that the schedule allows [min].

    Returns
    -------
    float
        Limit; two samples further apart than this have a hole between them [min].

    Raises
    ------
    OutOfRange
        If the interval is outside its range.

    Valid range
    -----------
    Above 0 and at most 60 min; for thin parts at most a quarter of the oven's cycle.

    Examples
    --------
    >>> hole_limit_min(longest_interval_min=5)
    5.5

    Source
    ------
    Shop rule 35: a hole is longer than 1.1 times the schedule's longest sample interval. Common practice, no source.
    """
    return HOLE_FACTOR * within("longest_interval_min", longest_interval_min, 0, 60, above=True, unit="min")


def mean_c(
    times_min: Sequence[float], temperatures_c: Sequence[float | None], sections_min: Sequence[Section]
) -> float | None:
    """Mean temperature of a probe over sections of time [°C]: the area under straight lines between its samples.

    Nothing where there is no sample or no time in the sections. Those of a verdict leave holes out; before its first
    and after its last sample a probe stays as it was there.

    >>> mean_c([0, 10, 20], [20, 40, 40], [(5, 20)])
    38.333333333333336
    """
    import numpy as np

    known = [(at, value) for at, value in zip(times_min, temperatures_c, strict=True) if value is not None]
    begins, ends = _columns([*sections_min])
    length = float((ends - begins).sum())
    if not known or length <= 0:
        return None
    # What comes before the first and after the last sample stays level.
    low, high = min(known[0][0], float(begins.min())) - 1, max(known[-1][0], float(ends.max())) + 1
    at, value = np.array([(low, known[0][1]), *known, (high, known[-1][1])], dtype=float).T
    area = np.concatenate(([0.0], np.cumsum(np.diff(at) * (value[1:] + value[:-1]) / 2)))

    def until(moments: Samples) -> Samples:
        place = np.searchsorted(at, moments, side="right") - 1
        then: Samples = area[place] + (moments - at[place]) * (value[place] + np.interp(moments, at, value)) / 2
        return then

    return float((until(ends) - until(begins)).sum()) / length


def joined(sections: Sequence[Section]) -> list[Section]:
    """Sections in their order, those that touch or overlap made one."""
    if len(sections) > MANY:
        return joined_columns(*_columns(sections))
    made: list[Section] = []
    for begin, end in sorted(sections):
        if made and begin <= made[-1][1] + ROUNDING_MIN:
            made[-1] = (made[-1][0], max(end, made[-1][1]))
        else:
            made.append((begin, end))
    return made


def joined_columns(begins: Samples, ends: Samples) -> list[Section]:
    """The same of sections whose begins and ends stand apart."""
    import numpy as np

    if not len(begins):
        return []
    order = np.argsort(begins, kind="stable")
    begins, reach = begins[order], np.maximum.accumulate(ends[order])
    apart = np.flatnonzero(begins[1:] > reach[:-1] + ROUNDING_MIN) + 1
    firsts, lasts = np.concatenate(([0], apart)), np.concatenate((apart - 1, [len(begins) - 1]))
    return list(zip(begins[firsts].tolist(), reach[lasts].tolist(), strict=True))


def common_sections(first: list[Section], second: list[Section]) -> list[Section]:
    """Where both lists of sections overlap; both ascend."""
    if len(first) > MANY and len(second) > MANY:
        return _common_at_once(first, second)
    few, many = (first, second) if len(first) <= len(second) else (second, first)
    return [section for begin, end in few for section in clipped(many, begin, end)]


def _common_at_once(first: list[Section], second: list[Section]) -> list[Section]:
    """For each section of the first, all those of the second that it meets."""
    import numpy as np

    (begins, ends), (others_begin, others_end) = _columns(first), _columns(second)
    lows, highs = np.searchsorted(others_end, begins, side="right"), np.searchsorted(others_begin, ends, side="left")
    counts = np.maximum(highs - lows, 0)
    own = np.repeat(np.arange(len(first)), counts)
    other = np.arange(len(own)) - np.repeat(np.cumsum(counts) - counts, counts) + np.repeat(lows, counts)
    begins, ends = np.maximum(begins[own], others_begin[other]), np.minimum(ends[own], others_end[other])
    real = ends > begins
    return list(zip(begins[real].tolist(), ends[real].tolist(), strict=True))


def _columns(sections: Sequence[Section]) -> tuple[Samples, Samples]:
    import numpy as np

    flat = np.fromiter(chain.from_iterable(sections), dtype=float, count=2 * len(sections))
    return flat[::2], flat[1::2]


def clipped(sections: list[Section], begin: float, end: float) -> list[Section]:
    """The parts of the sections between two moments; they ascend."""
    first = bisect_right(sections, begin, key=itemgetter(1))
    last = bisect_left(sections, end, lo=first, key=itemgetter(0))
    kept = sections[first:last]
    if kept:
        kept[0] = (max(kept[0][0], begin), kept[0][1])
        kept[-1] = (kept[-1][0], min(kept[-1][1], end))
        if kept[-1][1] <= kept[-1][0]:
            kept.pop()
        if kept and kept[0][1] <= kept[0][0]:
            kept.pop(0)
    return kept


def grouped(sections: list[Section], stretches: list[Section]) -> list[list[Section]]:
    """For each stretch the parts of the sections that lie in it; both ascend."""
    groups: list[list[Section]] = []
    first = 0
    for begin, end in stretches:
        while first < len(sections) and sections[first][1] <= begin:
            first += 1
        last = first
        while last < len(sections) and sections[last][0] < end:
            last += 1
        groups.append([(max(start, begin), min(stop, end)) for start, stop in sections[first:last]])
        first = max(first, last - 1)
    return groups


def without(sections: list[Section], taken: list[Section]) -> list[Section]:
    """What is left of the sections; both ascend."""
    edges = [-math.inf, *(moment for section in joined(taken) for moment in section), math.inf]
    return common_sections(sections, list(zip(edges[::2], edges[1::2], strict=True)))
