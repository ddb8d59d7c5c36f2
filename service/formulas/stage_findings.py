"""What is found of one stage within its window of a cure log, each finding with what it is worth (shop rule 35)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from service.formulas.cure_log import Excursion, Section, SuspectSample, clipped, grouped, joined
from service.formulas.probe_traces import OVER_MIN, RAMP_WINDOW_MIN, Trace
from service.formulas.stages import ReasonKind, Result, Stage, StageReason, span_text

ROUNDING_MIN = 1e-6

UNKNOWN_PEAK_MIN = 30.0
"""A longer hole leaves the highest temperature unknown."""

MOST_TOLD = 5


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found of a stage; of what is proved nobody asks for the kind."""

    result: Result
    sentence: str
    kind: ReasonKind = "evidence"
    probe: str | None = None
    at_min: float | None = None
    value: float | None = None
    limit: float | None = None

    @property
    def reason(self) -> StageReason:
        return StageReason(self.kind, self.sentence, self.probe, self.at_min, self.value, self.limit)


@dataclass(slots=True)
class Findings:
    findings: list[Finding] = field(default_factory=list)
    over: list[Excursion] = field(default_factory=list)
    heating_k_min: float | None = None
    cooling_k_min: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """One stage and the stretch of the log in which it is sought: when its time ran, without a break, or may have."""

    stage: Stage
    required: Sequence[Trace]
    air: Sequence[Trace]
    left_out: Sequence[Trace]
    begin: float
    finish: float
    sections: list[Section]
    unbroken: list[Section]
    possible: list[Section]
    comes_down_from: float
    goes_up_to: float
    must_span_begin: bool
    must_span_finish: bool

    @property
    def first(self) -> float:
        return self.sections[0][0] if self.sections else self.begin

    @property
    def last(self) -> float:
        return self.sections[-1][1] if self.sections else self.finish

    @property
    def proved_min(self) -> float:
        return total(self.sections)

    @property
    def longest_min(self) -> float:
        return max(map(total, grouped(self.sections, self.unbroken)), default=0.0)

    @property
    def holes(self) -> list[Section]:
        return clipped(joined([hole for trace in self.required for hole in trace.holes()]), self.begin, self.finish)

    @property
    def asked(self) -> list[SuspectSample]:
        doubts = [one for trace in (*self.required, *self.left_out, *self.air) for one in trace.asked]
        return sorted((one for one in doubts if self.begin <= one.at_min <= self.finish), key=lambda one: one.at_min)


def total(sections: Sequence[Section]) -> float:
    """All of their minutes."""
    return math.fsum(end - begin for begin, end in sections)


def findings_of(window: Window) -> Findings:
    """All findings of one stage, the time first."""
    found = Findings()
    found.findings += [*_time(window), *_longest(window)]
    found.heating_k_min, heating = _ramp(window, 1, "heating")
    found.cooling_k_min, cooling = _ramp(window, -1, "cooling")
    found.findings += [heating, cooling]
    found.findings += [*_over(window, found.over), *_span(window), *_doubts(window), *_holes(window)]
    return found


def _band(stage: Stage) -> str:
    return (
        f"between {stage.low_c:g} and {stage.high_c:g} °C" if stage.high_c is not None else f"from {stage.low_c:g} °C"
    )


def _time(window: Window) -> Iterator[Finding]:
    stage, proved, longest = window.stage, window.proved_min, window.longest_min
    counted, needed = proved if stage.may_be_split else longest, stage.minimum_min
    said = f"{span_text(proved)} proved {_band(stage)}, {span_text(stage.minimum_min, up=True)} needed."
    if len(window.unbroken) > 1 and not stage.may_be_split and proved > longest + ROUNDING_MIN:
        said += f" The longest unbroken time is {span_text(longest)}, and the time may not be split."
    if counted >= needed - ROUNDING_MIN:
        yield Finding("proved", said)
        return
    # Where nothing is known, the part may have been in the band all the time.
    stretches = [window.possible] if stage.may_be_split else [[stretch] for stretch in window.possible]
    if max((total(stretch) for stretch in stretches), default=0.0) >= needed - ROUNDING_MIN:
        yield Finding(
            "not known", f"{said} What is not known may make up for the rest.", "time", value=counted, limit=needed
        )
        return
    short = span_text(needed - counted, up=True)
    yield Finding("violated", f"{said} It is {short} short: {_least(window)}.", "time", value=counted, limit=needed)


def _least(window: Window) -> str:
    """What broke the time, where only its longest stretch counts; else the probe that was in the band least."""
    stage = window.stage
    if not stage.may_be_split and (broken := _broken(window)) is not None:
        return broken
    band = (stage.low_c, stage.highest_in_band_c)
    probe = min(window.required, key=lambda trace: trace.minutes_in_band(*band, window.begin, window.finish))
    sections = clipped(probe.in_band(*band), window.begin, window.finish)
    if sections:
        return f"{probe.name} was in the band from minute {sections[0][0]:.1f} to {sections[-1][1]:.1f} at the most"
    if probe.suspect_from <= window.begin:
        return f"{probe.name} is doubted from minute {probe.suspect_from:.1f} on and counts nothing"
    seen = (probe.times >= window.begin) & (probe.times <= min(window.finish, probe.suspect_from))
    if not seen.any():
        return f"{probe.name} gave nothing from minute {window.begin:.1f} to {window.finish:.1f}"
    readings, times = probe.temperatures[seen], probe.times[seen]
    place = int(readings.argmax()) if readings.max() < stage.low_c else int(readings.argmin())
    way = "highest" if readings.max() < stage.low_c else "lowest"
    return f"{probe.name} was never in the band, {readings[place]:.1f} °C at the {way}, at minute {times[place]:.1f}"


def _broken(window: Window) -> str | None:
    """The first time that a probe was seen to leave the band and come back, how far it went, and how often one did."""
    stretches = grouped(window.sections, window.unbroken)
    breaks = [
        found
        for before, after in pairwise(stretches)
        if (found := _outside(window, before[-1][1], after[0][0])) is not None
    ]
    if not breaks:
        return None
    more = {0: "", 1: ", and once more"}.get(len(breaks) - 1, f", and {len(breaks) - 1} times more")
    return f"{breaks[0]}{more}"


def _outside(window: Window, begin: float, end: float) -> str | None:
    """Which probe was farthest out of the band between two moments, of those whose readings count."""
    import numpy as np

    low, high = window.stage.low_c, window.stage.highest_in_band_c
    farthest, said = 0.0, None
    for trace in window.required:
        first, last = np.searchsorted(trace.times, (begin, min(end, trace.suspect_from)))
        readings = trace.temperatures[first:last]
        beyond = np.maximum(low - readings, readings - high)
        if len(beyond) and beyond.max() > farthest:
            place = int(beyond.argmax())
            farthest = float(beyond[place])
            said = f"{trace.name} left the band, {readings[place]:.1f} °C at minute {trace.times[first + place]:.1f}"
    return said


def _longest(window: Window) -> Iterator[Finding]:
    allowed, first, last = window.stage.maximum_min, window.first, window.last
    if allowed is None or not window.sections:
        return
    if last - first > allowed + ROUNDING_MIN:
        names = " and ".join(trace.name for trace in window.required)
        said = f"By {names} it was in the band for {span_text(last - first, up=True)}, from minute {first:.1f} to "
        yield Finding("violated", f"{said}{last:.1f}; {span_text(allowed)} is allowed.", "longest")
        return
    begin = next((start for start, stop in window.possible if start <= first <= stop), first)
    end = next((stop for start, stop in window.possible if start <= last <= stop), last)
    if end - begin > allowed + ROUNDING_MIN:
        said = f"With what is not known it may have been {span_text(end - begin, up=True)} in the band; "
        yield Finding("not known", f"{said}{span_text(allowed)} is allowed.", "longest")


def _ramp(window: Window, way: int, name: Literal["heating", "cooling"]) -> tuple[float | None, Finding]:
    """Heating counts until the part was last in the band, cooling from when it was first in it."""
    stage = window.stage
    limit = stage.heating_limit_k_min if way > 0 else stage.cooling_limit_k_min
    begin, end = (window.begin, window.last) if way > 0 else (window.first, window.finish)
    steepest = [(*found, one.name) for one in window.required if (found := one.steepest(begin, end, way)) is not None]
    fastest = max(0.0, *(slope for slope, *_ in steepest)) if steepest else None
    if limit is None:
        return fastest, Finding("proved", "")
    if fastest is not None and fastest > limit * (1 + 1e-9):
        slope, start, stop, probe = max(steepest)
        said = f"Fastest {name} was {slope:.2f} K/min, of {probe} from minute {start:.1f} to {stop:.1f}; "
        said += f"at most {limit:g} K/min is allowed."
        return fastest, Finding("violated", said, name, probe, start, slope, limit)
    for one in window.required:
        hidden = one.may_hide(begin, end, way, limit)
        if hidden is not None:
            said = f"Fastest {name} is not known: nothing is known of {one.name} from minute {hidden[0]:.1f} to "
            said += f"{hidden[1]:.1f}, which may hide more than {limit:g} K/min."
            return fastest, Finding("not known", said, name, one.name, hidden[0])
    if fastest is None:
        said = f"Fastest {name} is not known: the log has no window of {RAMP_WINDOW_MIN:g} min for it."
        return None, Finding("not known", said, name)
    return fastest, Finding("proved", f"Fastest {name} was {fastest:.2f} K/min over 10 min, within {limit:g} K/min.")


def _over(window: Window, over: list[Excursion]) -> Iterator[Finding]:
    parts = [*window.required, *window.left_out]
    yield from _over_one(window, parts, window.stage.over_c, over)
    if window.stage.air_over_c is not None and not window.air:
        yield Finding("not known", f"No probe in the air guards its {window.stage.air_over_c:g} °C.")
    yield from _over_one(window, window.air, window.stage.air_over_c, over)


def _over_one(
    window: Window, traces: Sequence[Trace], maximum_c: float | None, over: list[Excursion]
) -> Iterator[Finding]:
    if maximum_c is None:
        return
    begin = window.first if window.comes_down_from > maximum_c else window.begin
    end = window.last if window.goes_up_to > maximum_c else window.finish
    for trace in traces:
        long, short = trace.over(maximum_c, begin, end)
        # The first few and the hottest; a log that goes up and down all day says the rest by their number.
        hottest_run = _hottest(long) if long else None
        told = [run for place, run in enumerate(long) if place < MOST_TOLD or run is hottest_run]
        over += told
        for run in told:
            said = f"{run.probe} was over {maximum_c:g} °C from minute {run.from_min:.1f} to {run.to_min:.1f}, "
            said += f"{run.highest_c:.1f} °C at the highest."
            at_min = _moment_of(trace, run)
            yield Finding("violated", said, "over", run.probe, at_min, run.highest_c, maximum_c)
        if len(long) > len(told):
            said = f"{trace.name} was over {maximum_c:g} °C {len(long) - len(told)} times more, up to minute "
            yield Finding("violated", f"{said}{long[-1].to_min:.1f}, never hotter than that.", "over")
        if short:
            hottest = _hottest(short)
            said = f"{trace.name} was over {maximum_c:g} °C for less than {OVER_MIN:g} min, at minute "
            yield Finding("proved", f"{said}{hottest.from_min:.1f}, {hottest.highest_c:.1f} °C at the highest.")
    for trace in traces:
        if trace in window.left_out:
            continue
        # A probe that has fallen off once the time is over leaves nothing open.
        doubted = clipped([(min(trace.suspect_from, trace.end), trace.end)], begin, min(end, window.last))
        for start, stop in [*clipped(trace.holes(), begin, end), *doubted]:
            if stop - start > UNKNOWN_PEAK_MIN + ROUNDING_MIN:
                said = f"The highest temperature is not known: nothing is known of {trace.name} from minute "
                yield Finding("not known", f"{said}{start:.1f} to {stop:.1f}.")
                break


def _moment_of(trace: Trace, run: Excursion) -> float:
    """When its hottest sample was read."""
    inside = (trace.times >= run.from_min - ROUNDING_MIN) & (trace.times <= run.to_min + ROUNDING_MIN)
    if not inside.any():
        return run.from_min
    return float(trace.times[inside][trace.temperatures[inside].argmax()])


def _hottest(runs: Sequence[Excursion]) -> Excursion:
    return max(runs, key=lambda run: run.highest_c)


def _span(window: Window) -> Iterator[Finding]:
    for trace in window.required:
        first = float(trace.times[0]) if len(trace.times) else trace.end
        last = float(trace.times[-1]) if len(trace.times) else trace.begin
        if window.must_span_begin and first - trace.begin > trace.limit_min + ROUNDING_MIN:
            late = span_text(first - trace.begin, up=True)
            yield Finding("not known", f"The log of {trace.name} begins {late} after the parts went in.")
        if window.must_span_finish and trace.end - last > trace.limit_min + ROUNDING_MIN:
            early = span_text(trace.end - last, up=True)
            yield Finding("not known", f"The log of {trace.name} ends {early} before the parts came out.")


def _doubts(window: Window) -> Iterator[Finding]:
    asked = window.asked
    for one in asked[:MOST_TOLD]:
        said = f"{one.probe} reads {one.temperature_c:.1f} °C at minute {one.at_min:.1f}: {one.why}. "
        yield Finding("proved", f"{said}Look at the probe.")
    if len(asked) > MOST_TOLD:
        yield Finding("proved", f"{len(asked) - MOST_TOLD} more readings are doubted. Look at the probes.")


def _holes(window: Window) -> Iterator[Finding]:
    holes = window.holes
    for start, end in holes[:MOST_TOLD]:
        yield Finding("proved", f"No samples from minute {start:.1f} to {end:.1f}: this hole counts nothing.")
    if len(holes) > MOST_TOLD:
        yield Finding("proved", f"{len(holes) - MOST_TOLD} more holes, {span_text(total(holes), up=True)} in all.")
