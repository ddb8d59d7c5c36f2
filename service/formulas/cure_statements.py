"""What a thermometer's minimum and maximum, or a person's word, say of one stage of a cure (shop rule 36).

- :func:`thermometer_verdict`: the lowest and highest temperature since the start.
- :func:`declared_verdict`: nothing was measured.

Both answer in the form of ``stages.StageVerdict``. Neither replaces the data sheet of the material or approved data.
"""

from collections.abc import Sequence

from service.formulas.ranges import within
from service.formulas.stages import Result, Stage, StageReason, StageVerdict, span_text, worst

__all__ = ["declared_verdict", "thermometer_verdict"]

LONGEST_MIN = 1e7
ROUNDING_MIN = 1e-6


def thermometer_verdict(
    *,
    stage: Stage,
    lowest_c: float,
    highest_c: float,
    reset_min: float,
    read_min: float,
    until_min: float,
) -> StageVerdict:
    """Judge a stage by a minimum-maximum thermometer.

    The time from its reset to its reading, as far as it lies within the cure, counts if the lowest and the highest
    temperature lie in the band, and none of it otherwise: when it was colder or hotter is not known.

    Parameters
    ----------
    stage : Stage
        What is asked [°C, min].
    lowest_c : float
        Minimum of the thermometer [°C].
    highest_c : float
        Maximum of it [°C].
    reset_min : float
        When it was reset, from the start of the cure [min].
    read_min : float
        When it was read, from the start of the cure [min].
    until_min : float
        When the cure ended, from its start [min].

    Returns
    -------
    StageVerdict
        Time proved and the verdict [min, °C].

    Raises
    ------
    OutOfRange
        If a temperature or a time is outside its range, the maximum is below the minimum, or it was read before its
        reset.

    Valid range
    -----------
    Temperatures -100 to 1000 °C; times -1e7 to 1e7 min, the end from 0.

    Examples
    --------
    >>> overnight = Stage(name="overnight", low_c=18, high_c=25, minimum_min=960, over_c=None, air_over_c=None)
    >>> verdict = thermometer_verdict(
    ...     stage=overnight, lowest_c=16.5, highest_c=22, reset_min=-5, read_min=1000, until_min=1000
    ... )
    >>> verdict.result, verdict.sentences[0]
    ('not known', 'The thermometer fell to 16.5 °C; at least 18 °C is needed all the time.')

    Source
    ------
    Shop rule 36: a span in the band throughout is evidence as a log of the air is. Common practice, no source.
    """
    low = within("lowest_c", lowest_c, -100, 1000, unit="°C")
    high = within("highest_c", highest_c, low, 1000, unit="°C")
    reset = within("reset_min", reset_min, -LONGEST_MIN, LONGEST_MIN, unit="min")
    read = within("read_min", read_min, reset, LONGEST_MIN, unit="min")
    until = within("until_min", until_min, 0, LONGEST_MIN, unit="min")
    time = max(min(read, until) - max(reset, 0.0), 0.0)
    said = []
    if low < stage.low_c:
        said.append(f"The thermometer fell to {low:g} °C; at least {stage.low_c:g} °C is needed all the time.")
    if high > stage.highest_in_band_c:
        said.append(f"The thermometer rose to {high:g} °C; at most {stage.high_c:g} °C is allowed.")
    within_band = f"{span_text(time)} between {low:g} and {high:g} °C by the thermometer, {_needed(stage)}"
    by_time, sentences = _by_time(stage, time, within_band)
    unseen = time < until - ROUNDING_MIN
    if by_time == "violated" and time < stage.minimum_min and unseen:
        by_time = "not known"
        sentences = (*sentences, f"Of the {span_text(until)} of the cure it saw no more.")
    result = worst([by_time, "not known"] if said else [by_time])
    reasons = [StageReason("evidence", sentence) for sentence in said if result == "not known"]
    if by_time == result != "proved":
        reasons.append(StageReason("time", " ".join(sentences), value=time, limit=stage.minimum_min))
    return _verdict(stage, 0.0 if said else time, result, (*said, *sentences), reasons)


def declared_verdict(*, stage: Stage, minutes: float) -> StageVerdict:
    """Judge a stage by a declaration: the time is counted, nothing was measured and nothing is proved.

    Parameters
    ----------
    stage : Stage
        What is asked [°C, min].
    minutes : float
        Time between start and end of the cure [min].

    Returns
    -------
    StageVerdict
        The verdict, with no time proved [min].

    Raises
    ------
    OutOfRange
        If the time is outside its range.

    Valid range
    -----------
    Time 0 to 1e7 min.

    Examples
    --------
    >>> overnight = Stage(name="overnight", low_c=18, high_c=25, minimum_min=960, over_c=None, air_over_c=None)
    >>> verdict = declared_verdict(stage=overnight, minutes=1000)
    >>> verdict.passed, verdict.proved_min, verdict.sentences[0]
    (True, 0.0, 'Declared, not measured: 16 h 40 min, 16 h 0 min needed.')

    Source
    ------
    Shop rule 36: a room-temperature overnight cure may be declared, and says so. Common practice, no source.
    """
    time = within("minutes", minutes, 0, LONGEST_MIN, unit="min")
    result, sentences = _by_time(stage, time, f"Declared, not measured: {span_text(time)}, {_needed(stage)}")
    short = StageReason("time", " ".join(sentences), value=time, limit=stage.minimum_min)
    return _verdict(stage, 0.0, result, sentences, [short] if result != "proved" else [])


def _needed(stage: Stage) -> str:
    return f"{span_text(stage.minimum_min, up=True)} needed."


def _by_time(stage: Stage, minutes: float, sentence: str) -> tuple[Result, tuple[str, ...]]:
    if stage.maximum_min is not None and minutes > stage.maximum_min + ROUNDING_MIN:
        return "violated", (sentence, f"At most {span_text(stage.maximum_min)} is allowed.")
    return ("proved" if minutes >= stage.minimum_min - ROUNDING_MIN else "violated"), (sentence,)


def _verdict(
    stage: Stage, proved_min: float, result: Result, sentences: tuple[str, ...], reasons: Sequence[StageReason]
) -> StageVerdict:
    return StageVerdict(
        name=stage.name,
        result=result,
        proved_min=proved_min,
        longest_min=proved_min,
        sections=(),
        gaps=(),
        over=(),
        suspects=(),
        fastest_heating_k_min=None,
        fastest_cooling_k_min=None,
        completed_at_min=None,
        passed=result == "proved",
        sentences=sentences,
        reasons=tuple(reasons),
    )
