"""One probe of a cure and what it proves: time in a band, holes, excursions, slopes, doubt (shop rule 35)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from service.formulas.cure_log import (
    ROUNDING_MIN,
    Excursion,
    Log,
    Section,
    SuspectSample,
    clipped,
    joined,
    joined_columns,
)
from service.formulas.ranges import OutOfRange

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.float64]

BRIDGED_MIN = 60.0
RAMP_WINDOW_MIN = 10.0

# No part warms and cools so fast: such a reading is the probe's own. What moves less than the least is noise.
SPIKE_K_MIN, LEAST_SPIKE_K, LONGEST_SPIKE_MIN = 30.0, 5.0, 10.0

OVER_MIN, OVER_WITHIN_MIN, COARSE_MIN = 2.0, 10.0, 2.0

# A probe that jumps and takes no other a third of its way along has fallen off; one that stands still is dead.
JUMP_K, JUMP_MIN = 10.0, 2.0
ALONG_K, ALONG_SHARE = 3.0, 1 / 3
STILL_MIN, STILL_K, MOVED_K = 60, 0.05, 15.0


@dataclass(slots=True, eq=False)
class Trace:
    """One probe within the window of a cure: the samples that count, straight lines between them, holes apart.

    ``hole`` says of each interval between two samples whether it is one. From ``suspect_from`` on the probe counts
    nothing, though what it reads over a maximum is still seen.
    """

    name: str
    times: Samples
    temperatures: Samples
    hole: npt.NDArray[np.bool_]
    begin: float
    end: float
    limit_min: float
    asked: list[SuspectSample] = field(default_factory=list)
    suspect_from: float = math.inf

    def holes(self) -> list[Section]:
        """Where nothing is known of this probe, before its first and after its last sample too."""
        if not len(self.times):
            return [(self.begin, self.end)] if self.end > self.begin else []
        first, last = float(self.times[0]), float(self.times[-1])
        found = [(self.begin, first)] if first - self.begin > self.limit_min + ROUNDING_MIN else []
        found += [
            (float(a), float(b)) for a, b in zip(self.times[:-1][self.hole], self.times[1:][self.hole], strict=True)
        ]
        return found + ([(last, self.end)] if self.end - last > self.limit_min + ROUNDING_MIN else [])

    def unknown(self) -> list[Section]:
        """Where nothing is counted of it: its holes, and all from the moment on from which it is suspect."""
        if self.suspect_from >= self.end:
            return self.holes()
        return joined([*clipped(self.holes(), self.begin, self.suspect_from), (self.suspect_from, self.end)])

    def in_band(self, low_c: float, high_c: float) -> list[Section]:
        """When this probe was proved to lie in the band: crossings by straight line, holes left out."""
        return clipped(joined_columns(*self._pieces(low_c, high_c)), self.begin, self.suspect_from)

    def minutes_in_band(self, low_c: float, high_c: float, begin: float, end: float) -> float:
        """How long it was proved to lie in the band between two moments [min]."""
        import numpy as np

        starts, stops = self._pieces(low_c, high_c)
        first, last = max(begin, self.begin), min(end, self.suspect_from)
        return float(np.maximum(np.minimum(stops, last) - np.maximum(starts, first), 0.0).sum())

    def crossings(self, low_c: float, high_c: float) -> int:
        """How often it goes into or out of the band, or through it."""
        import numpy as np

        side = (self.temperatures > high_c).astype(np.int8) - (self.temperatures < low_c)
        return int(np.count_nonzero(side[1:] != side[:-1]))

    def unbroken(self, low_c: float, high_c: float, dip_min: float, dip_k: float) -> list[Section]:
        """Stretches in the band that a short hole or a small dip does not break."""
        import numpy as np

        inside = (self.temperatures >= low_c) & (self.temperatures <= high_c)
        short = self.hole & inside[:-1] & inside[1:] & (self.times[1:] - self.times[:-1] <= BRIDGED_MIN + ROUNDING_MIN)
        starts, stops = self._pieces(low_c, high_c)
        pieces = joined_columns(
            np.concatenate((starts, self.times[:-1][short])), np.concatenate((stops, self.times[1:][short]))
        )
        if dip_min > 0:
            pieces = self._over_dips(pieces, low_c, dip_min, dip_k)
        return clipped(pieces, self.begin, self.suspect_from)

    def possible(self, low_c: float, high_c: float) -> list[Section]:
        """When it was in the band, or may have been because nothing is known of it."""
        unknown = self.unknown()
        return joined([*self.in_band(low_c, high_c), *unknown]) if unknown else self.in_band(low_c, high_c)

    def _pieces(self, low_c: float, high_c: float) -> tuple[Samples, Samples]:
        """Where the pieces in the band begin and end."""
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
        counts = ~self.hole & (stops > starts) & moving_or_inside
        starts, stops = starts[counts], stops[counts]
        if not len(starts):
            return starts, stops
        breaks = starts[1:] != stops[:-1]
        first_of, last_of = np.concatenate(([True], breaks)), np.concatenate((breaks, [True]))
        return starts[first_of], stops[last_of]

    def _over_dips(self, pieces: list[Section], low_c: float, dip_min: float, dip_k: float) -> list[Section]:
        """Joined where the probe was out of the band downwards alone, shortly and by little."""
        kept: list[Section] = []
        for begin, end in pieces:
            if kept and begin - kept[-1][1] <= dip_min + ROUNDING_MIN and self._dips(kept[-1][1], begin, low_c, dip_k):
                kept[-1] = (kept[-1][0], end)
            else:
                kept.append((begin, end))
        return kept

    def _dips(self, begin: float, end: float, low_c: float, dip_k: float) -> bool:
        import numpy as np

        first, last = np.searchsorted(self.times, (begin, end), side="left")
        if self.hole[max(int(first) - 1, 0) : int(last)].any():
            return False
        between = self.temperatures[int(first) : int(last)]
        between = between[(self.times[int(first) : int(last)] > begin)]
        return bool(len(between) and between.max() <= low_c and between.min() >= low_c - dip_k - 1e-9)

    def over(self, maximum_c: float, begin: float, end: float) -> tuple[list[Excursion], list[Excursion]]:
        """Excursions over the maximum between two moments, and those too short to count as one."""
        import numpy as np

        kept = (self.times >= begin - ROUNDING_MIN) & (self.times <= end + ROUNDING_MIN)
        times, temperatures = self.times[kept], self.temperatures[kept]
        hot = temperatures > maximum_c
        if not hot.any():
            return [], []
        apart = np.diff(times) > COARSE_MIN + ROUNDING_MIN
        coarse = times[hot & (np.append(apart, False) | np.insert(apart, 0, False))]
        above = clipped(joined_columns(*self._pieces(np.nextafter(maximum_c, math.inf), math.inf)), begin, end)
        counts = np.sort(np.concatenate((coarse, _lasting(above))))
        long: list[Excursion] = []
        short: list[Excursion] = []
        runs = _runs([*above, *((t, t) for t in times[hot].tolist())])
        edges = np.array(runs) + np.array((-ROUNDING_MIN, ROUNDING_MIN))
        within, counted = np.searchsorted(times, edges).tolist(), np.searchsorted(counts, edges).tolist()
        for (start, stop), (first, last), (before, after) in zip(runs, within, counted, strict=True):
            found = Excursion(self.name, start, stop, float(temperatures[first:last].max()))
            (long if after > before else short).append(found)
        return long, short

    def steepest(self, begin: float, end: float, way: int) -> tuple[float, float, float] | None:
        """Steepest slope in a direction over windows of at least 10 min [K/min], from and to; none across a hole."""
        import numpy as np

        usable = (self.times >= begin - ROUNDING_MIN) & (self.times <= min(end, self.suspect_from) + ROUNDING_MIN)
        times, temperatures = self.times[usable], self.temperatures[usable]
        run = np.concatenate(([0], np.cumsum(self.hole)))[usable]
        ends = np.searchsorted(times, times + (RAMP_WINDOW_MIN - ROUNDING_MIN), side="left")
        starts = np.flatnonzero(ends < len(times))
        starts = starts[run[ends[starts]] == run[starts]]
        if not len(starts):
            return None
        ends = ends[starts]
        slopes = way * (temperatures[ends] - temperatures[starts]) / (times[ends] - times[starts])
        best = int(slopes.argmax())
        return float(slopes[best]), float(times[starts[best]]), float(times[ends[best]])

    def may_hide(self, begin: float, end: float, way: int, limit_k_min: float) -> Section | None:
        """The first hole between two moments that may hide a ramp: its ends differ by more than ten minutes of it."""
        import numpy as np

        met = [(a, b) for a, b in self.unknown() if b > begin + ROUNDING_MIN and a < end - ROUNDING_MIN]
        befores = np.searchsorted(self.times, [start for start, _ in met], side="right").tolist()
        afters = np.searchsorted(self.times, [stop for _, stop in met], side="left").tolist()
        for (start, stop), before, after in zip(met, befores, afters, strict=True):
            known = before > 0 and after < len(self.times) and stop <= self.suspect_from
            rises = way * (self.temperatures[after] - self.temperatures[before - 1]) if known else math.inf
            if rises > limit_k_min * RAMP_WINDOW_MIN + 1e-9:
                return start, stop
        return None


def _runs(sections: Sequence[Section]) -> list[Section]:
    """Sections so near to each other that one window may hold both, made one."""
    runs: list[Section] = []
    for start, stop in joined(sections):
        if runs and start - runs[-1][1] <= OVER_WITHIN_MIN:
            runs[-1] = (runs[-1][0], stop)
        else:
            runs.append((start, stop))
    return runs


def _lasting(above: list[Section]) -> Samples:
    """The ends of those sections at which two minutes of them lay within ten."""
    import numpy as np

    edges = np.array(above, dtype=float).ravel()
    if not len(edges):
        return edges
    so_far = np.cumsum(np.diff(edges, prepend=edges[:1]) * (np.arange(len(edges)) % 2))
    stops = edges[1::2]
    within_ten = np.interp(stops, edges, so_far) - np.interp(stops - OVER_WITHIN_MIN, edges, so_far)
    return stops[within_ten >= OVER_MIN - ROUNDING_MIN]


def trace_of(
    log: Log, name: str, *, begin: float, end: float, limit_min: float, sensor_c: tuple[float, float] | None = None
) -> Trace:
    """The samples of one probe within a window; a reading that cannot be true is taken out, and is a hole."""
    import numpy as np

    if name not in log.probes:
        known = ", ".join(sorted(log.probes)) or "none"
        raise OutOfRange("required", f"a probe named {name!r}", f"among the probes of the log ({known})")
    times, temperatures = np.array(log.times_min, dtype=float), np.array(log.probes[name], dtype=float)
    kept = ~np.isnan(temperatures) & (times >= begin - ROUNDING_MIN) & (times <= end + ROUNDING_MIN)
    times, temperatures = times[kept], temperatures[kept]
    doubted: dict[int, str] = {}
    if sensor_c is not None:
        outside = np.flatnonzero((temperatures < sensor_c[0]) | (temperatures > sensor_c[1]))
        doubted = dict.fromkeys(
            outside.tolist(), f"outside the sensor's range of {sensor_c[0]:g} to {sensor_c[1]:g} °C"
        )
    true = np.array([place for place in range(len(times)) if place not in doubted], dtype=int)
    for place in _spikes(times[true], temperatures[true]):
        doubted[int(true[place])] = f"out and back faster than {SPIKE_K_MIN:g} K/min"
    left = np.array([place for place in range(len(times)) if place not in doubted], dtype=int)
    hole = (np.diff(left) > 1) | (np.diff(times[left]) > limit_min + ROUNDING_MIN)
    asked = [SuspectSample(name, float(times[p]), float(temperatures[p]), doubted[p]) for p in sorted(doubted)]
    return Trace(name, times[left], temperatures[left], hole, begin, end, limit_min, asked)


def _spikes(times: Samples, temperatures: Samples) -> list[int]:
    """Samples that lie out between two flanks which no part can follow."""
    import numpy as np

    steps, spans = np.diff(temperatures), np.diff(times)
    flanks = np.flatnonzero((np.abs(steps) >= LEAST_SPIKE_K) & (np.abs(steps) > SPIKE_K_MIN * spans)).tolist()
    found: list[int] = []
    after = 0
    for place, out in enumerate(flanks):
        if out < after:
            continue
        for back in flanks[place + 1 :]:
            if times[back + 1] - times[out] > LONGEST_SPIKE_MIN:
                break
            returned = abs(temperatures[back + 1] - temperatures[out]) <= abs(steps[out]) / 2
            if steps[back] * steps[out] < 0 and returned:
                found += range(out + 1, back + 1)
                after = back + 1
                break
    return found


def doubt(trace: Trace, parts: Sequence[Trace], air: Sequence[Trace]) -> SuspectSample | None:
    """The moment from which a probe counts nothing, judged by what the other probes did meanwhile."""
    found = [_jump(trace, [*parts, *air]), _stillness(trace, parts, air)]
    return min((one for one in found if one is not None), key=lambda one: one.at_min, default=None)


def _jump(trace: Trace, others: Sequence[Trace]) -> SuspectSample | None:
    import numpy as np

    times, temperatures = trace.times, trace.temperatures
    if len(times) < 2:
        return None
    run = np.concatenate(([0], np.cumsum(trace.hole)))
    starts = np.arange(len(times) - 1)
    ends = np.maximum(np.searchsorted(times, times[:-1] + JUMP_MIN + ROUNDING_MIN, side="right") - 1, starts + 1)
    moved, span = temperatures[ends] - temperatures[starts], times[ends] - times[starts]
    jumps = (run[ends] == run[starts]) & (np.abs(moved) >= JUMP_K * np.maximum(1.0, span / JUMP_MIN))
    starts, ends, moved = starts[jumps], ends[jumps], moved[jumps]
    # Where there is no other to compare with, only what no part can follow has jumped.
    alone = np.full(len(starts), True) if others else np.abs(moved) > SPIKE_K_MIN * span[jumps]
    for other in others:
        if len(other.times):
            after = np.interp(times[ends] + 1, other.times, other.temperatures)
            before = np.interp(times[starts] - 1, other.times, other.temperatures)
            alone &= np.sign(moved) * (after - before) < np.maximum(ALONG_K, ALONG_SHARE * np.abs(moved))
    if not alone.any():
        return None
    first = int(np.flatnonzero(alone)[0])
    at, before = float(times[starts[first]]), float(temperatures[starts[first]])
    return SuspectSample(trace.name, at, before, f"then jumped by {moved[first]:+.1f} K within {JUMP_MIN:g} min alone")


def _stillness(trace: Trace, parts: Sequence[Trace], air: Sequence[Trace]) -> SuspectSample | None:
    import numpy as np

    if len(trace.times) < 2:
        return None
    breaks = np.flatnonzero(np.abs(np.diff(trace.temperatures)) > STILL_K) + 1
    firsts, lasts = np.concatenate(([0], breaks)), np.concatenate((breaks - 1, [len(trace.times) - 1]))
    long = trace.times[lasts] - trace.times[firsts] >= STILL_MIN
    for first, last in zip(firsts[long].tolist(), lasts[long].tolist(), strict=True):
        begin, end = float(trace.times[first]), float(trace.times[last])
        # An oven's air swings about its mean; only where the mean moves has it moved.
        if any(_moved(other, begin, end, 1) for other in parts) or any(_moved(one, begin, end, 20) for one in air):
            return SuspectSample(
                trace.name,
                begin,
                float(trace.temperatures[first]),
                f"stood still for {end - begin:.0f} min while another moved by {MOVED_K:g} K",
            )
    return None


def _moved(other: Trace, begin: float, end: float, mean_of: int) -> bool:
    """Whether a probe, as the mean of so many minutes, moved within some hour of this time."""
    import numpy as np

    if not len(other.times):
        return False
    minutes = np.arange(max(begin, float(other.times[0])), min(end, float(other.times[-1])) + ROUNDING_MIN)
    if len(minutes) <= STILL_MIN:
        return False
    values = np.interp(minutes, other.times, other.temperatures)
    means = np.convolve(values, np.full(mean_of, 1 / mean_of), "valid")
    windows = np.lib.stride_tricks.sliding_window_view(means, min(STILL_MIN + 1, len(means)))
    return bool((windows.max(axis=1) - windows.min(axis=1) >= MOVED_K).any())
