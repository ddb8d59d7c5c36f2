"""What a cure log proves of the stages of a cure (shop rules 35 to 37).

- :func:`stage_verdict`: a log against one stage.
- :func:`cure_verdict`: a log against all stages, each sought after the one before is complete.

The clock runs while all required part probes are in the band. A log proves time on the part only where a probe is
on the part: air probes are not among the required ones. A verdict does not replace the data sheet of the material
or approved data.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from service.formulas.cure_log import Log, Section, clipped, common_sections, grouped, hole_limit_min, joined, without
from service.formulas.probe_traces import Trace, doubt, trace_of
from service.formulas.ranges import OutOfRange, within
from service.formulas.stage_findings import Window, findings_of
from service.formulas.stages import CureVerdict, Result, Stage, StageVerdict, worst

__all__ = ["cure_verdict", "stage_verdict"]

ROUNDING_MIN = 1e-6

# A day of twelve probes, read every 10 s, that flicker at the edge of two stages with each reading: 207,000.
MOST_CROSSINGS = 250_000


def stage_verdict(
    *,
    stage: Stage,
    times_min: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    required: Sequence[str],
    longest_interval_min: float,
) -> StageVerdict:
    """Judge a cure log against one stage: ``cure_verdict`` for a schedule of one.

    Parameters
    ----------
    stage : Stage
        What is asked [°C, min, K/min].
    times_min : sequence of float
        Times of the samples, ascending [list of min].
    probes : mapping of str to sequence
        Temperatures of each probe, None where a sample is missing [list of °C].
    required : sequence of str
        Names of the part probes that must all be in the band [text].
    longest_interval_min : float
        Longest interval between two samples of a probe that the schedule allows [min].

    Returns
    -------
    StageVerdict
        Time proved, sections, holes, excursions, slopes and the verdict [min, °C, K/min].

    Raises
    ------
    OutOfRange
        If times do not ascend, lists differ in length, a temperature is no number, or a required probe is unknown.

    Valid range
    -----------
    2 to 1,000,000 samples; temperatures -273.15 to 3000 °C, so that a broken probe is judged and not hidden.

    Examples
    --------
    >>> post_cure = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60, over_c=70, air_over_c=None)
    >>> verdict = stage_verdict(
    ...     stage=post_cure,
    ...     times_min=[0, 20, 40, 60, 80, 100],
    ...     probes={"root": [25, 65, 60, 60, 60, 50]},
    ...     required=["root"],
    ...     longest_interval_min=20,
    ... )
    >>> verdict.proved_min, verdict.result
    (75.0, 'proved')

    Source
    ------
    Shop rules 35 and 36; the lagging sensor guarantees the time and the leading one guards the maximum: US Army
    TM 1-1500-204-23-11. The rest is common practice, no source.
    """
    return cure_verdict(
        stages=[stage],
        times_min=times_min,
        probes=probes,
        required=required,
        longest_interval_min=longest_interval_min,
    ).stages[0]


def cure_verdict(
    *,
    stages: Sequence[Stage],
    times_min: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    required: Sequence[str],
    longest_interval_min: float,
    air: Sequence[str] = (),
    left_out: Sequence[str] = (),
    from_min: float | None = None,
    until_min: float | None = None,
    sensor_ranges_c: Mapping[str, tuple[float, float]] | None = None,
) -> CureVerdict:
    """Judge a cure log against all stages of a schedule, in their order.

    Each stage is judged from the moment at which the one before was complete to the first moment in the band of the one
    after. If a stage is not complete, the next is sought from the same moment on, so that its own time is still shown.

    The clock runs while all required probes lie in the band, straight lines between their samples. Samples of a probe
    further apart than ``hole_limit_min`` have a hole between them, which counts nothing. A hole of up to 60 min with
    both ends in the band does not break an unbroken time, nor does a dip that the stage allows. A hole over 30 min
    leaves the highest temperature unknown; one hides a ramp only where its ends differ by more than ten minutes of the
    limit. Slopes are taken over windows of at least 10 min. Over a maximum is a part probe, a left-out one too, that is
    above for 2 min in all within 10 min; where samples are over 2 min apart, any sample. A reading outside the sensor's
    range, or one that goes out and back faster than 30 K/min (by 5 K at least), is a hole and is asked about. A
    required probe that jumps by 10 K in 2 min alone (if there is no other: faster than 30 K/min), or stands still for
    60 min while another moves by 15 K, counts nothing from then on. A minute in the bands of two stages belongs to the
    one whose set temperature is nearer. The longest time runs from the first to the last moment in the band.

    Violated is what the log shows; not known is what it leaves open.

    Parameters
    ----------
    stages : sequence of Stage
        The schedule, at least one stage [°C, min, K/min].
    times_min : sequence of float
        Times of the samples, ascending [list of min].
    probes : mapping of str to sequence
        Temperatures of each probe, None where a sample is missing [list of °C].
    required : sequence of str
        Names of the part probes that must all be in the band [text].
    longest_interval_min : float
        Longest interval between two samples of a probe that the schedule allows [min].
    air : sequence of str, optional
        Names of the air probes: they guard the air's own maximum and prove no time [text].
    left_out : sequence of str, optional
        Names of part probes that do not count: they still guard the maximum [text].
    from_min : float, optional
        When the parts went in; the first sample where it is None [min].
    until_min : float, optional
        When they came out; the last sample where it is None [min].
    sensor_ranges_c : mapping of str to pair, optional
        For each probe that states it, lowest and highest temperature that its sensor can read [list of °C].

    Returns
    -------
    CureVerdict
        A verdict for each stage and for the whole [-].

    Raises
    ------
    OutOfRange
        If there is no stage or no required probe, or the log is not in order (see ``stage_verdict``).

    Valid range
    -----------
    1 to 50 stages, 1 to 200 required probes, 2 to 1,000,000 samples that cross the limits of the stages 250,000 times
    at most; interval above 0 and at most 60 min.

    Examples
    --------
    >>> verdict = cure_verdict(
    ...     stages=[
    ...         Stage(name="first cure", low_c=20, high_c=30, minimum_min=60, over_c=None, air_over_c=None),
    ...         Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60, over_c=70, air_over_c=None),
    ...     ],
    ...     times_min=[0, 30, 60, 90, 120, 150, 180],
    ...     probes={"root": [25, 25, 25, 60, 60, 60, 25]},
    ...     required=["root"],
    ...     longest_interval_min=30,
    ... )
    >>> [round(stage.proved_min, 1) for stage in verdict.stages], verdict.result
    ([64.3, 68.6], 'proved')

    Source
    ------
    Shop rules 35 to 37; common practice, no source, for the order of search.
    """
    if not 1 <= len(stages) <= 50:
        raise OutOfRange("stages", f"a list of {len(stages)}", "a list of 1 to 50 stages")
    for argument, names in (("required", required), ("air", air), ("left_out", left_out)):
        if isinstance(names, str) or not (argument == "required") <= len(set(names)) <= 200:
            raise OutOfRange(argument, repr(names)[:40], "a list of the names of 1 to 200 probes")
    limit = hole_limit_min(longest_interval_min=longest_interval_min)
    log = Log(tuple(times_min), {name: tuple(values) for name, values in probes.items()})
    begin = log.times_min[0] if from_min is None else within("from_min", from_min, -1e8, 1e8, unit="min")
    end = max(log.times_min[-1], begin) if until_min is None else within("until_min", until_min, begin, 1e8, unit="min")
    ranges = sensor_ranges_c or {}
    traces = {
        name: trace_of(log, name, begin=begin, end=end, limit_min=limit, sensor_c=ranges.get(name))
        for name in dict.fromkeys((*required, *air, *left_out))
    }
    cure = _Cure(
        stages=stages,
        required=[traces[name] for name in dict.fromkeys(required)],
        air=[traces[name] for name in dict.fromkeys(air)],
        left_out=[traces[name] for name in dict.fromkeys(left_out)],
        begin=begin,
        end=end,
        must_begin=from_min is not None,
        must_end=until_min is not None,
    )
    return cure.verdict()


@dataclass(frozen=True, slots=True, eq=False)
class _Cure:
    """The probes of a cure and its stages."""

    stages: Sequence[Stage]
    required: Sequence[Trace]
    air: Sequence[Trace]
    left_out: Sequence[Trace]
    begin: float
    end: float
    must_begin: bool
    must_end: bool

    def verdict(self) -> CureVerdict:
        self._doubt()
        inside, unbroken_ones = self._inside(), self._unbroken()
        verdicts: list[StageVerdict] = []
        begin = self.begin
        for index, stage in enumerate(self.stages):
            unbroken = clipped(unbroken_ones[index], begin, self.end)
            completed = completed_at(stage, clipped(inside[index], begin, self.end), unbroken)
            finish = self.end
            if completed is not None and index + 1 < len(self.stages):
                finish = next((start for start, _ in clipped(inside[index + 1], completed, self.end)), finish)
            verdicts.append(self._judged(index, inside[index], unbroken, begin, finish))
            begin = begin if completed is None else completed
        result = worst(verdict.result for verdict in verdicts)
        said = [f"{verdict.name}: {sentence}" for verdict in verdicts for sentence in verdict.sentences]
        return CureVerdict(tuple(verdicts), result, result == "proved", (summary(verdicts), *said))

    def _doubt(self) -> None:
        doubts = []
        for trace in self.required:
            others = [other for other in self.required if other is not trace]
            doubts.append(doubt(trace, others, [one for one in self.air if one not in self.required]))
        # All are judged as they were logged, before any of them is taken out.
        for trace, found in zip(self.required, doubts, strict=True):
            if found is not None:
                trace.asked.append(found)
                trace.suspect_from = found.at_min

    def _inside(self) -> list[list[Section]]:
        """For each stage when all required probes were in its band; a minute belongs to one of two temperatures."""
        lows = []
        for stage in self.stages:
            cooler = [other for other in self.stages if other.aimed_c < stage.aimed_c and _overlap(stage, other)]
            lows.append(max([stage.low_c, *((stage.aimed_c + other.aimed_c) / 2 for other in cooler)]))
        bands = [(low, stage.highest_in_band_c) for low, stage in zip(lows, self.stages, strict=True)]
        self._require_bearable(bands)
        found = {band: self._common(Trace.in_band, *band) for band in dict.fromkeys(bands)}
        taken = []
        for stage, own in zip(self.stages, bands, strict=True):
            hotter = [
                section
                for other, its in zip(self.stages, bands, strict=True)
                if other.aimed_c > stage.aimed_c and _overlap(stage, other)
                for section in found[its]
            ]
            taken.append(without(found[own], hotter) if hotter else found[own])
        return taken

    def _require_bearable(self, bands: Sequence[tuple[float, float]]) -> None:
        """Each time that a probe goes into a band, through it, or over a maximum, costs a little work."""
        guarded = [*self.required, *self.left_out]
        over = [(stage.over_c, guarded) for stage in self.stages] + [
            (stage.air_over_c, self.air) for stage in self.stages
        ]
        limits = [(low, high, self.required) for low, high in bands]
        limits += [(maximum_c, math.inf, traces) for maximum_c, traces in over if maximum_c is not None]
        crossings = sum(trace.crossings(low, high) for low, high, traces in limits for trace in traces)
        if crossings > MOST_CROSSINGS:
            given = f"a log that crosses the limits of the stages {crossings:,} times"
            raise OutOfRange("probes", given, f"one that does so {MOST_CROSSINGS:,} times at most, as no part does")

    def _unbroken(self) -> list[list[Section]]:
        """For each stage the stretches in its band that neither a short hole nor a dip breaks."""
        bands = [(stage.low_c, stage.highest_in_band_c, stage.dip_min, stage.dip_k) for stage in self.stages]
        found = {band: self._common(Trace.unbroken, *band) for band in dict.fromkeys(bands)}
        return [found[band] for band in bands]

    def _common(self, sections_of: Callable[..., list[Section]], *band: float) -> list[Section]:
        common = [(self.begin, self.end)]
        for trace in self.required:
            common = common_sections(common, sections_of(trace, *band))
        return common

    def _judged(
        self, index: int, inside: list[Section], unbroken: list[Section], begin: float, finish: float
    ) -> StageVerdict:
        stage = self.stages[index]
        sections, unbroken = clipped(inside, begin, finish), clipped(unbroken, begin, finish)
        possible = self._common(Trace.possible, stage.low_c, stage.highest_in_band_c)
        before = self.stages[index - 1] if index > 0 else None
        after = self.stages[index + 1] if index + 1 < len(self.stages) else None
        window = Window(
            stage=stage,
            required=self.required,
            air=self.air,
            left_out=self.left_out,
            begin=begin,
            finish=finish,
            sections=sections,
            unbroken=unbroken,
            possible=clipped(joined([*possible, *unbroken]), begin, finish),
            # A hotter stage before or after has a maximum of its own for the way there.
            comes_down_from=before.highest_in_band_c if before else -math.inf,
            goes_up_to=after.highest_in_band_c if after else -math.inf,
            must_span_begin=self.must_begin and index == 0,
            must_span_finish=self.must_end and index + 1 == len(self.stages),
        )
        found = findings_of(window)
        result: Result = worst(finding.result for finding in found.findings)
        return StageVerdict(
            name=stage.name,
            result=result,
            proved_min=window.proved_min,
            longest_min=window.longest_min,
            sections=tuple(sections),
            gaps=tuple(window.holes),
            over=tuple(found.over),
            suspects=tuple(window.asked),
            fastest_heating_k_min=found.heating_k_min,
            fastest_cooling_k_min=found.cooling_k_min,
            completed_at_min=completed_at(stage, sections, unbroken),
            passed=result == "proved",
            sentences=tuple(finding.sentence for finding in found.findings if finding.sentence),
            reasons=tuple(f.reason for f in found.findings if f.result == result and result != "proved"),
        )


def summary(verdicts: Sequence[StageVerdict]) -> str:
    """All stages in one sentence, what is violated first."""
    said = []
    for result in ("violated", "not known"):
        names = [verdict.name for verdict in verdicts if verdict.result == result]
        if names:
            said.append(f"{result.capitalize()}: {', '.join(names)}.")
    return " ".join(said) or "All stages are proved."


def completed_at(stage: Stage, sections: list[Section], unbroken: list[Section]) -> float | None:
    """When the time needed was reached, in all or within one unbroken stretch."""
    for together in [sections] if stage.may_be_split else grouped(sections, unbroken):
        total = 0.0
        for start, stop in together:
            total += stop - start
            if total >= stage.minimum_min - ROUNDING_MIN:
                return stop - max(total - stage.minimum_min, 0.0)
    return None


def _overlap(stage: Stage, other: Stage) -> bool:
    return stage.low_c < other.highest_in_band_c and other.low_c < stage.highest_in_band_c
