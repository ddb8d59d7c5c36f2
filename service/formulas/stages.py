"""What a cure log proves of the stages of a cure (shop rules 35 to 37).

- ``Stage``: one stage of a schedule; :func:`stage_verdict`: a log against one stage.
- :func:`cure_verdict`: a log against all stages, each sought after the one before is complete.

The clock runs while all required part probes are in the band. A log proves time on the part only where a probe is
on the part: air probes are not among the required ones. A verdict does not replace the data sheet of the material
or approved data.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.formulas.cure_log import Excursion, Log, Reading, Section, SuspectSample, clipped
from service.formulas.ranges import OutOfRange, within

__all__ = ["CureVerdict", "Excursion", "Log", "Stage", "StageVerdict", "SuspectSample", "cure_verdict", "stage_verdict"]

ROUNDING_MIN = 1e-6


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a cure schedule.

    Attributes
    ----------
    name : str
        What the shop calls it [text].
    low_c : float
        Lower edge of the band in which the time counts [°C].
    high_c : float
        Upper edge of it [°C].
    minimum_min : float
        Time needed in the band [min].
    maximum_min : float or None
        Longest time allowed in the band [min].
    heating_limit_k_min : float or None
        Fastest heating allowed [K/min].
    cooling_limit_k_min : float or None
        Fastest cooling allowed, above zero [K/min].
    over_c : float or None
        Temperature that no part probe may pass [°C].
    may_be_split : bool
        Whether parts of the time may be added up [-].
    """

    name: str
    low_c: float
    high_c: float
    minimum_min: float
    maximum_min: float | None = None
    heating_limit_k_min: float | None = None
    cooling_limit_k_min: float | None = None
    over_c: float | None = None
    may_be_split: bool = False

    def __post_init__(self) -> None:
        within("low_c", self.low_c, -100, 1000, unit="°C")
        within("high_c", self.high_c, self.low_c, 1000, above=True, unit="°C")
        within("minimum_min", self.minimum_min, 0, 1e6, above=True, unit="min")
        if self.maximum_min is not None:
            within("maximum_min", self.maximum_min, self.minimum_min, 1e7, unit="min")
        for name, limit in (("heating", self.heating_limit_k_min), ("cooling", self.cooling_limit_k_min)):
            if limit is not None:
                within(f"{name}_limit_k_min", limit, 0, 1000, above=True, unit="K/min")
        if self.over_c is not None:
            within("over_c", self.over_c, self.high_c, 1000, unit="°C")


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """What a log proves of one stage.

    Attributes
    ----------
    name : str
        The stage [text].
    proved_min : float
        All time in the band [min].
    longest_min : float
        Longest unbroken time in the band [min].
    sections : tuple of (from, to)
        When the time ran [list of min].
    gaps : tuple of (from, to)
        Where samples are missing [list of min].
    over : tuple of Excursion
        Two or more samples in a row over the maximum [list of °C].
    suspects : tuple of SuspectSample
        Single samples over the maximum [list of °C].
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
    """

    name: str
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


@dataclass(frozen=True, slots=True)
class CureVerdict:
    """What a log proves of a whole cure.

    Attributes
    ----------
    stages : tuple of StageVerdict
        One for each stage of the schedule, in its order [-].
    passed : bool
        Whether all of them passed [-].
    sentences : tuple of str
        The same in words [text].
    """

    stages: tuple[StageVerdict, ...]
    passed: bool
    sentences: tuple[str, ...]


def stage_verdict(
    *,
    stage: Stage,
    times_min: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    required: Sequence[str],
) -> StageVerdict:
    """Judge a cure log against one stage.

    The clock runs while all required probes lie in the band, straight lines between their samples. Two samples further
    apart than ``max(3 * median interval, 5 min)`` have a gap between them, which counts nothing; a missing sample is
    judged by the same rule. Slopes are taken over windows of at least 10 min: heating until the part was last in the
    band, cooling from when it was first in it. Over the maximum are two samples in a row of one probe; one alone is
    suspect. Against a longest time allowed, gaps between the first and the last moment in the band count in full.

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

    Returns
    -------
    StageVerdict
        Time proved, sections, gaps, excursions, slopes and the verdict [min, °C, K/min].

    Raises
    ------
    OutOfRange
        If times do not ascend, lists differ in length, a temperature is no number, or a required probe is unknown.

    Valid range
    -----------
    2 to 1,000,000 samples; temperatures -273.15 to 3000 °C, so that a broken probe is judged and not hidden.

    Examples
    --------
    >>> post_cure = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60)
    >>> verdict = stage_verdict(
    ...     stage=post_cure,
    ...     times_min=[0, 20, 40, 60, 80, 100],
    ...     probes={"root": [25, 65, 60, 60, 60, 50]},
    ...     required=["root"],
    ... )
    >>> verdict.proved_min, verdict.passed
    (75.0, True)

    Source
    ------
    Shop rules 35 and 36; the lagging sensor guarantees the time and the leading one guards the maximum: US Army
    TM 1-1500-204-23-11. Gap, window and two-sample rules: common practice, no source.
    """
    return cure_verdict(stages=[stage], times_min=times_min, probes=probes, required=required).stages[0]


def cure_verdict(
    *,
    stages: Sequence[Stage],
    times_min: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    required: Sequence[str],
) -> CureVerdict:
    """Judge a cure log against all stages of a schedule, in their order.

    Each stage is judged from the moment at which the one before was complete to the first moment in the band of the one
    after. If a stage is not complete, the next is sought from the same moment on, so that its own time is still shown.

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
    1 to 50 stages, 1 to 200 required probes, 2 to 1,000,000 samples.

    Examples
    --------
    >>> verdict = cure_verdict(
    ...     stages=[
    ...         Stage(name="first cure", low_c=20, high_c=30, minimum_min=60),
    ...         Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60),
    ...     ],
    ...     times_min=[0, 30, 60, 90, 120, 150, 180],
    ...     probes={"root": [25, 25, 25, 60, 60, 60, 25]},
    ...     required=["root"],
    ... )
    >>> [round(stage.proved_min, 1) for stage in verdict.stages], verdict.passed
    ([64.3, 68.6], True)

    Source
    ------
    Shop rules 35 to 37; common practice, no source, for the order of search.
    """
    if not 1 <= len(stages) <= 50:
        raise OutOfRange("stages", f"a list of {len(stages)}", "a list of 1 to 50 stages")
    if isinstance(required, str) or not 1 <= len(set(required)) <= 200:
        raise OutOfRange("required", repr(required)[:40], "a list of the names of 1 to 200 probes")
    log = Log(tuple(times_min), {name: tuple(values) for name, values in probes.items()})
    reading = Reading(log, dict.fromkeys(required))
    sections = [reading.in_band(stage.low_c, stage.high_c) for stage in stages]
    verdicts: list[StageVerdict] = []
    begin = reading.start
    for index, stage in enumerate(stages):
        completed = _completed_at(stage, clipped(sections[index], begin, reading.end))
        finish = reading.end
        if completed is not None and index + 1 < len(stages):
            finish = next((start for start, _ in clipped(sections[index + 1], completed, reading.end)), finish)
        verdicts.append(_judged(reading, stages, index, clipped(sections[index], begin, finish), begin, finish))
        begin = begin if completed is None else completed
    passed = all(verdict.passed for verdict in verdicts)
    failed = [verdict.name for verdict in verdicts if not verdict.passed]
    summary = "All stages are proved." if passed else f"Not proved: {', '.join(failed)}."
    said = [f"{verdict.name}: {sentence}" for verdict in verdicts for sentence in verdict.sentences]
    return CureVerdict(tuple(verdicts), passed, (summary, *said))


def _completed_at(stage: Stage, sections: list[Section]) -> float | None:
    total = 0.0
    for begin, end in sections:
        total = total + (end - begin) if stage.may_be_split else end - begin
        if total >= stage.minimum_min - ROUNDING_MIN:
            return end - max(total - stage.minimum_min, 0.0)
    return None


def _judged(
    reading: Reading, stages: Sequence[Stage], index: int, sections: list[Section], begin: float, finish: float
) -> StageVerdict:
    stage = stages[index]
    proved = math.fsum(end - start for start, end in sections)
    longest = max((end - start for start, end in sections), default=0.0)
    first, last = (sections[0][0], sections[-1][1]) if sections else (begin, finish)
    gaps = clipped(reading.gaps, begin, finish)
    over: list[Excursion] = []
    suspects: list[SuspectSample] = []
    if stage.over_c is not None:
        # A hotter stage before or after has a maximum of its own for the way there.
        steps_down = index > 0 and stages[index - 1].high_c > stage.over_c
        steps_up = index + 1 < len(stages) and stages[index + 1].high_c > stage.over_c
        over, suspects = reading.over(stage.over_c, first if steps_down else begin, last if steps_up else finish)
    heating = [steepest for steepest, _ in reading.slopes(begin, last, suspects)]
    cooling = [-flattest for _, flattest in reading.slopes(first, finish, suspects)]
    fastest_heating = max(0.0, *heating) if heating else None
    fastest_cooling = max(0.0, *cooling) if cooling else None
    unseen = math.fsum(end - start for start, end in clipped(gaps, first, last)) if sections else 0.0
    findings = [
        _time_finding(stage, proved, longest, len(sections)),
        _maximum_finding(stage, proved, unseen),
        _ramp_finding("heating", fastest_heating, stage.heating_limit_k_min),
        _ramp_finding("cooling", fastest_cooling, stage.cooling_limit_k_min),
        *((False, _over_sentence(stage, run)) for run in over),
        *((True, _suspect_sentence(stage, sample)) for sample in suspects),
        *((True, f"No samples from minute {start:.1f} to {end:.1f}: this gap counts nothing.") for start, end in gaps),
    ]
    return StageVerdict(
        name=stage.name,
        proved_min=proved,
        longest_min=longest,
        sections=tuple(sections),
        gaps=tuple(gaps),
        over=tuple(over),
        suspects=tuple(suspects),
        fastest_heating_k_min=fastest_heating,
        fastest_cooling_k_min=fastest_cooling,
        completed_at_min=_completed_at(stage, sections),
        passed=all(good for good, _ in findings),
        sentences=tuple(sentence for _, sentence in findings if sentence),
    )


def _span(minutes: float, *, up: bool = False) -> str:
    """Hours and minutes, rounded so that a time just short never reads as enough."""
    tenths = math.ceil(minutes * 10 - ROUNDING_MIN) if up else math.floor(minutes * 10 + ROUNDING_MIN)
    hours, rest = divmod(tenths, 600)
    return f"{hours} h {rest / 10:g} min" if hours else f"{rest / 10:g} min"


def _time_finding(stage: Stage, proved: float, longest: float, pieces: int) -> tuple[bool, str]:
    counted = proved if stage.may_be_split else longest
    enough = counted >= stage.minimum_min - ROUNDING_MIN
    sentence = f"{_span(proved)} proved between {stage.low_c:g} and {stage.high_c:g} °C, "
    sentence += f"{_span(stage.minimum_min, up=True)} needed."
    if pieces > 1 and not stage.may_be_split:
        sentence += f" The longest unbroken time is {_span(longest)}, and the time may not be split."
    return enough, sentence


def _maximum_finding(stage: Stage, proved: float, unseen: float) -> tuple[bool, str]:
    if stage.maximum_min is None or proved + unseen <= stage.maximum_min + ROUNDING_MIN:
        return True, ""
    if proved > stage.maximum_min + ROUNDING_MIN:
        return False, f"{_span(proved, up=True)} in the band is longer than the {_span(stage.maximum_min)} allowed."
    longest = _span(proved + unseen, up=True)
    return False, f"With the gaps it may have been {longest} in the band; {_span(stage.maximum_min)} is allowed."


def _ramp_finding(way: str, fastest: float | None, limit: float | None) -> tuple[bool, str]:
    if limit is None:
        return True, ""
    if fastest is None:
        return False, f"Fastest {way} is not known: the log has no window of 10 min for it."
    if fastest > limit * (1 + 1e-9):
        return False, f"Fastest {way} was {fastest:.2f} K/min over 10 min; at most {limit:g} K/min is allowed."
    return True, f"Fastest {way} was {fastest:.2f} K/min over 10 min, within {limit:g} K/min."


def _over_sentence(stage: Stage, run: Excursion) -> str:
    return (
        f"Probe {run.probe} was over {stage.over_c:g} °C from minute {run.from_min:.1f} to {run.to_min:.1f}, "
        f"{run.highest_c:.1f} °C at the highest."
    )


def _suspect_sentence(stage: Stage, sample: SuspectSample) -> str:
    return (
        f"One sample of probe {sample.probe} at minute {sample.at_min:.1f} reads {sample.temperature_c:.1f} °C, over "
        f"{stage.over_c:g} °C, and stands alone: it is suspect. Look at the probe."
    )
