"""Vacuum and pressure during a cure: bands with a from and an until, judged by the gauges of a log (shop rule 35).

- ``PressureBand``: what is asked.
- :func:`pressure_verdict`: the gauges of a log against one band.

A verdict does not replace the process sheet or approved data.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from service.formulas.cure_log import Log, hole_limit_min
from service.formulas.probe_traces import OVER_MIN, Trace
from service.formulas.ranges import OutOfRange, within
from service.formulas.stage_findings import MOST_TOLD, UNKNOWN_PEAK_MIN
from service.formulas.stages import Result, worst

__all__ = ["PressureBand", "PressureVerdict", "pressure_verdict"]

ROUNDING_MIN = 1e-6

Measure = Literal["vacuum", "pressure", "absolute"]


@dataclass(frozen=True, slots=True)
class PressureBand:
    """A band in which every gauge of a kind stays from one moment to another.

    Attributes
    ----------
    measure : {'vacuum', 'pressure', 'absolute'}
        Below the pressure of the air, above it, or from zero [text].
    low_mbar : float or None
        Least that is asked for; None for no lower edge [mbar].
    high_mbar : float or None
        Most that is allowed; None for no upper edge [mbar].
    """

    measure: Measure
    low_mbar: float | None
    high_mbar: float | None

    def __post_init__(self) -> None:
        if self.measure not in ("vacuum", "pressure", "absolute"):
            raise OutOfRange("measure", repr(self.measure)[:40], "vacuum, pressure or absolute")
        if self.low_mbar is None and self.high_mbar is None:
            raise OutOfRange("low_mbar", "left open as high_mbar is", "a number in one of them at least")
        low = 0.0 if self.low_mbar is None else within("low_mbar", self.low_mbar, 0, 100_000, unit="mbar")
        if self.high_mbar is not None:
            within("high_mbar", self.high_mbar, low, 100_000, above=True, unit="mbar")


@dataclass(frozen=True, slots=True)
class PressureVerdict:
    """What the gauges of a log prove of one band.

    Attributes
    ----------
    measure : {'vacuum', 'pressure', 'absolute'}
        What the gauges measure [text].
    result : {'proved', 'not known', 'violated'}
        Whether all of them stayed in the band all the time [text].
    from_min : float
        From when it was asked for [min].
    until_min : float
        Until when [min].
    lowest_mbar : float or None
        Lowest reading of any gauge meanwhile [mbar].
    highest_mbar : float or None
        Highest reading of any gauge meanwhile [mbar].
    sentences : tuple of str
        The same in words [text].
    """

    measure: Measure
    result: Result
    from_min: float
    until_min: float
    lowest_mbar: float | None
    highest_mbar: float | None
    sentences: tuple[str, ...]


def pressure_verdict(
    *,
    band: PressureBand,
    times_min: Sequence[float],
    gauges: Mapping[str, Sequence[float | None]],
    longest_interval_min: float,
    from_min: float,
    until_min: float,
) -> PressureVerdict:
    """Judge the gauges of a log against a band of vacuum or pressure.

    Outside is a gauge that is so for 2 min in all within 10 min; where samples are over 2 min apart, any sample. What
    is shorter is told. Not known is a hole of over 30 min, one of any length beyond ``hole_limit_min`` at the beginning
    or the end, and everything where there is no gauge. A vacuum gauge that counts down from the pressure of the air
    gives numbers below zero; they count by their amount. A reading is never taken for a spike: a bag leaks at once.

    Parameters
    ----------
    band : PressureBand
        What is asked [mbar].
    times_min : sequence of float
        Times of the samples, ascending [list of min].
    gauges : mapping of str to sequence
        Readings of each gauge of this kind, None where a sample is missing [list of mbar].
    longest_interval_min : float
        Longest interval between two samples that the schedule allows [min].
    from_min : float
        From when the band holds [min].
    until_min : float
        Until when it holds [min].

    Returns
    -------
    PressureVerdict
        Lowest and highest meanwhile, and the verdict [mbar].

    Raises
    ------
    OutOfRange
        If times do not ascend, lists differ in length, a reading is no number, or the band ends before it begins.

    Valid range
    -----------
    2 to 1,000,000 samples; times -1e8 to 1e8 min; readings -1100 to 100,000 mbar; interval above 0 and at most 60 min.

    Examples
    --------
    >>> verdict = pressure_verdict(
    ...     band=PressureBand(measure="vacuum", low_mbar=850, high_mbar=None),
    ...     times_min=[0, 10, 20, 30, 40],
    ...     gauges={"bag": [-300, -920, -915, -910, 0]},
    ...     longest_interval_min=10,
    ...     from_min=10,
    ...     until_min=30,
    ... )
    >>> verdict.result, verdict.lowest_mbar
    ('proved', 910.0)

    Source
    ------
    Shop rule 35: vacuum and pressure are bands with from and until. Common practice, no source.
    """
    limit = hole_limit_min(longest_interval_min=longest_interval_min)
    begin = within("from_min", from_min, -1e8, 1e8, unit="min")
    end = within("until_min", until_min, begin, 1e8, unit="min")
    times = Log(tuple(times_min), {}).times_min
    traces = [_trace(band, times, name, readings, begin, end, limit) for name, readings in gauges.items()]
    findings = [finding for trace in traces for finding in _of_gauge(band, trace)]
    if not traces:
        findings.append(("not known", f"No gauge shows the {_said(band)}."))
    result = worst(result for result, _ in findings)
    low = min((float(one.temperatures.min()) for one in traces if len(one.temperatures)), default=None)
    high = max((float(one.temperatures.max()) for one in traces if len(one.temperatures)), default=None)
    told = [sentence for finding, sentence in findings if finding == result and sentence]
    if result == "proved":
        span = f"from minute {begin:.1f} to {end:.1f}, {_asked(band)}."
        told.insert(0, f"The {_said(band)} was {low:g} to {high:g} mbar {span}")
    return PressureVerdict(band.measure, result, begin, end, low, high, tuple(told))


def _trace(
    band: PressureBand,
    times: Sequence[float],
    name: str,
    readings: Sequence[float | None],
    begin: float,
    end: float,
    limit: float,
) -> Trace:
    """A gauge's readings within the window, as a trace; what it counts from the air downwards is turned over."""
    import numpy as np

    if len(readings) != len(times):
        given = f"a list of {len(readings)}"
        raise OutOfRange(f"gauges[{name}]", given, f"a list of {len(times)}, one for each time")
    there = [
        (time, within(f"gauges[{name}]", reading, -1100, 100_000, unit="mbar"))
        for time, reading in zip(times, readings, strict=True)
        if reading is not None
    ]
    values = [reading for _, reading in there]
    if band.measure == "vacuum" and values and -min(values) > max(values):
        there = [(time, -reading) for time, reading in there]
    inside = [(t, v) for t, v in there if begin - ROUNDING_MIN <= t <= end + ROUNDING_MIN]
    moments, kept = np.array([t for t, _ in inside], dtype=float), np.array([v for _, v in inside], dtype=float)
    hole = np.diff(moments) > limit + ROUNDING_MIN
    return Trace(name, moments, kept, hole, begin, end, limit)


def _said(band: PressureBand) -> str:
    return "absolute pressure" if band.measure == "absolute" else band.measure


def _asked(band: PressureBand) -> str:
    if band.high_mbar is None:
        return f"at least {band.low_mbar:g} mbar asked for"
    if band.low_mbar is None:
        return f"at most {band.high_mbar:g} mbar allowed"
    return f"{band.low_mbar:g} to {band.high_mbar:g} mbar asked for"


def _of_gauge(band: PressureBand, trace: Trace) -> Iterator[tuple[Result, str]]:
    yield "proved", ""
    if band.high_mbar is not None:
        yield from _beyond(band, trace, band.high_mbar, 1)
    if band.low_mbar is not None:
        upside_down = replace(trace, temperatures=-trace.temperatures)
        yield from _beyond(band, upside_down, -band.low_mbar, -1)
    for start, stop in trace.holes():
        at_an_end = start <= trace.begin + ROUNDING_MIN or stop >= trace.end - ROUNDING_MIN
        if at_an_end or stop - start > UNKNOWN_PEAK_MIN + ROUNDING_MIN:
            span = f"from minute {start:.1f} to {stop:.1f}"
            yield "not known", f"The {_said(band)} is not known {span}: {trace.name} gave nothing."


def _beyond(band: PressureBand, trace: Trace, edge: float, way: int) -> Iterator[tuple[Result, str]]:
    """Excursions beyond one edge; downwards the trace stands on its head."""
    long, short = trace.over(edge, trace.begin, trace.end)
    side, most = ("above", "highest") if way > 0 else ("below", "lowest")
    for run in long[:MOST_TOLD]:
        said = f"{trace.name} was {side} {way * edge:g} mbar from minute {run.from_min:.1f} to {run.to_min:.1f}, "
        yield "violated", f"{said}{way * run.highest_c:g} mbar at the {most}."
    if len(long) > MOST_TOLD:
        yield "violated", f"{trace.name} was {side} {way * edge:g} mbar {len(long) - MOST_TOLD} times more."
    for run in short[:MOST_TOLD]:
        said = f"{trace.name} was {side} {way * edge:g} mbar for less than {OVER_MIN:g} min, at minute "
        yield "proved", f"{said}{run.from_min:.1f}, {way * run.highest_c:g} mbar at the {most}."
