"""The samples of a cure, probe by probe, and what is found over a maximum (shop rule 35).

- ``Log``: times and the temperatures of the named probes, checked once.
- ``Excursion``, ``SuspectSample``: what was found over a maximum.
- :func:`gap_limit_min`: how far apart two samples may lie before nothing is counted between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from service.formulas.ranges import OutOfRange

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.float64]

__all__ = ["Excursion", "Log", "SuspectSample", "gap_limit_min"]

LEAST_GAP_MIN = 5.0
MOST_SAMPLES = 1_000_000
RAMP_WINDOW_MIN = 10.0
ROUNDING_MIN = 1e-9

Section = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Excursion:
    """Two or more samples in a row over the maximum.

    Attributes
    ----------
    probe : str
        The probe that saw it [text].
    from_min : float
        First sample over the maximum [min].
    to_min : float
        Last sample over the maximum [min].
    highest_c : float
        The hottest sample [°C].
    """

    probe: str
    from_min: float
    to_min: float
    highest_c: float


@dataclass(frozen=True, slots=True)
class SuspectSample:
    """One sample alone over the maximum: a bad contact looks like this, and so may a short overshoot.

    Attributes
    ----------
    probe : str
        The probe that saw it [text].
    at_min : float
        When [min].
    temperature_c : float
        What it read [°C].
    """

    probe: str
    at_min: float
    temperature_c: float


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


def gap_limit_min(*, times_min: Sequence[float]) -> float:
    """Longest interval between two samples that still counts as observed.

    Formula: ``max(3 * median interval, 5)``.

    Parameters
    ----------
    times_min : sequence of float
        Times of the samples, ascending, at least two [list of min].

    Returns
    -------
    float
        Limit [min]; two samples further apart than this have a gap between them.

    Raises
    ------
    OutOfRange
        If there are fewer than two times, or they do not ascend.

    Valid range
    -----------
    2 to 1,000,000 times from -1e8 to 1e8 min, each later than the one before.

    Examples
    --------
    >>> gap_limit_min(times_min=[0, 1, 2, 3, 10])
    5.0
    >>> gap_limit_min(times_min=[0, 10, 20, 30])
    30.0

    Source
    ------
    Shop rule 35; common practice, no source.
    """
    import numpy as np

    log = Log(tuple(times_min), {})
    return max(3 * float(np.median(np.diff(np.array(log.times_min, dtype=float)))), LEAST_GAP_MIN)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One probe: the samples that are there, straight lines between them.

    Attributes
    ----------
    name : str
        The probe [text].
    times, temperatures : numpy array
        Samples [list of min] and [list of °C].
    """

    name: str
    times: Samples
    temperatures: Samples

    def in_band(self, low_c: float, high_c: float, limit_min: float) -> list[Section]:
        """When this probe was proved to lie in the band, crossings by straight line, gaps left out."""
        import numpy as np

        begin, end = self.times[:-1], self.times[1:]
        first, last = self.temperatures[:-1], self.temperatures[1:]
        step = last - first
        with np.errstate(divide="ignore", invalid="ignore"):
            at_low, at_high = (low_c - first) / step, (high_c - first) / step
        enters = np.where(step > 0, at_low, np.where(step < 0, at_high, 0.0)).clip(0, 1)
        leaves = np.where(step > 0, at_high, np.where(step < 0, at_low, 1.0)).clip(0, 1)
        # The times of the samples themselves are kept as they are, so that neighbouring pieces join exactly.
        starts = np.where(enters <= 0, begin, begin + enters * (end - begin))
        stops = np.where(leaves >= 1, end, begin + leaves * (end - begin))
        moving_or_inside = (step != 0) | ((first >= low_c) & (first <= high_c))
        counts = (end - begin <= limit_min + ROUNDING_MIN) & (stops > starts) & moving_or_inside
        starts, stops = starts[counts], stops[counts]
        if not len(starts):
            return []
        breaks = starts[1:] != stops[:-1]
        first_of = np.concatenate(([True], breaks))
        last_of = np.concatenate((breaks, [True]))
        return list(zip(starts[first_of].tolist(), stops[last_of].tolist(), strict=True))

    def gaps(self, log_start_min: float, log_end_min: float, limit_min: float) -> list[Section]:
        """Where nothing is known of this probe for longer than the limit."""
        known = [log_start_min, *self.times.tolist(), log_end_min]
        return [(begin, end) for begin, end in pairwise(known) if end - begin > limit_min + ROUNDING_MIN]

    def over(self, maximum_c: float) -> tuple[list[Excursion], list[SuspectSample]]:
        """Runs of samples over the maximum: two or more are an excursion, one alone is suspect."""
        excursions: list[Excursion] = []
        suspects: list[SuspectSample] = []
        run: list[tuple[float, float]] = []
        hot = self.temperatures > maximum_c
        if not hot.any():
            return [], []
        for time, temperature, is_hot in zip(
            [*self.times.tolist(), math.inf], [*self.temperatures.tolist(), 0.0], [*hot.tolist(), False], strict=True
        ):
            if is_hot:
                run.append((time, temperature))
                continue
            if len(run) == 1:
                suspects.append(SuspectSample(self.name, *run[0]))
            elif run:
                hottest = max(temperature for _, temperature in run)
                excursions.append(Excursion(self.name, run[0][0], run[-1][0], hottest))
            run = []
        return excursions, suspects

    def slopes(self, begin_min: float, end_min: float, without: Sequence[float] = ()) -> tuple[float, float] | None:
        """Steepest and flattest slope over windows of at least 10 min [K/min]; None if no window fits."""
        import numpy as np

        usable = (self.times >= begin_min - ROUNDING_MIN) & (self.times <= end_min + ROUNDING_MIN)
        usable &= ~np.isin(self.times, np.array(without, dtype=float))
        times, temperatures = self.times[usable], self.temperatures[usable]
        ends = np.searchsorted(times, times + (RAMP_WINDOW_MIN - ROUNDING_MIN), side="left")
        starts = np.flatnonzero(ends < len(times))
        if not len(starts):
            return None
        ends = ends[starts]
        slopes = (temperatures[ends] - temperatures[starts]) / (times[ends] - times[starts])
        return float(slopes.max()), float(slopes.min())


def trace_of(log: Log, name: str) -> Trace:
    """The samples of one probe, the missing ones left out."""
    import numpy as np

    if name not in log.probes:
        known = ", ".join(sorted(log.probes)) or "none"
        raise OutOfRange("required", f"a probe named {name!r}", f"among the probes of the log ({known})")
    times, temperatures = np.array(log.times_min, dtype=float), np.array(log.probes[name], dtype=float)
    present = ~np.isnan(temperatures)
    return Trace(name, times[present], temperatures[present])


class Reading:
    """The required traces of one log, with what all stages share."""

    def __init__(self, log: Log, names: Iterable[str]) -> None:
        self.traces = [trace_of(log, name) for name in names]
        self.start, self.end = float(log.times_min[0]), float(log.times_min[-1])
        self.limit_min = gap_limit_min(times_min=log.times_min)
        gaps = sorted(gap for trace in self.traces for gap in trace.gaps(self.start, self.end, self.limit_min))
        self.gaps: list[Section] = []
        for begin, end in gaps:
            if self.gaps and begin <= self.gaps[-1][1]:
                self.gaps[-1] = (self.gaps[-1][0], max(end, self.gaps[-1][1]))
            else:
                self.gaps.append((begin, end))

    def in_band(self, low_c: float, high_c: float) -> list[Section]:
        """When all probes were in the band."""
        common = [(self.start, self.end)]
        for trace in self.traces:
            common = common_sections(common, trace.in_band(low_c, high_c, self.limit_min))
        return common

    def over(self, maximum_c: float, begin: float, end: float) -> tuple[list[Excursion], list[SuspectSample]]:
        """What all probes saw over the maximum between two moments."""
        found = [trace.over(maximum_c) for trace in self.traces]
        over = [run for runs, _ in found for run in runs if run.to_min >= begin and run.from_min <= end]
        suspects = [sample for _, singles in found for sample in singles if begin <= sample.at_min <= end]
        return over, suspects

    def slopes(self, begin: float, end: float, suspects: list[SuspectSample]) -> list[tuple[float, float]]:
        """Steepest and flattest slope of each probe that has a window; suspect samples are left out."""
        slopes = []
        for trace in self.traces:
            doubted = [sample.at_min for sample in suspects if sample.probe == trace.name]
            slopes.append(trace.slopes(begin, end, doubted))
        return [slope for slope in slopes if slope is not None]


def common_sections(first: list[Section], second: list[Section]) -> list[Section]:
    """Where both lists of sections overlap; both ascend."""
    common: list[Section] = []
    i = j = 0
    while i < len(first) and j < len(second):
        begin, end = max(first[i][0], second[j][0]), min(first[i][1], second[j][1])
        if end > begin:
            common.append((begin, end))
        if first[i][1] <= second[j][1]:
            i += 1
        else:
            j += 1
    return common


def clipped(sections: list[Section], begin: float, end: float) -> list[Section]:
    """The parts of the sections between two moments."""
    return common_sections(sections, [(begin, end)])
