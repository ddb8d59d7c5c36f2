"""What a thermometer's minimum and maximum, or a person's word, say of one stage of a cure (shop rule 36).

- :func:`thermometer_verdict`: the lowest and highest temperature since the start.
- :func:`declared_verdict`: nothing was measured.

Both answer in the form of ``stages.StageVerdict``. Neither replaces the data sheet of the material or approved data.
"""

import math

from service.formulas.ranges import within
from service.formulas.stages import Stage, StageVerdict

__all__ = ["declared_verdict", "thermometer_verdict"]

LONGEST_MIN = 1e7
ROUNDING_MIN = 1e-6


def thermometer_verdict(*, stage: Stage, lowest_c: float, highest_c: float, minutes: float) -> StageVerdict:
    """Judge a stage by a minimum-maximum thermometer.

    All of the time counts if the lowest and the highest temperature lie in the band, none of it otherwise: when it was
    colder or hotter is not known.

    Parameters
    ----------
    stage : Stage
        What is asked [°C, min].
    lowest_c : float
        Minimum of the thermometer [°C].
    highest_c : float
        Maximum of it [°C].
    minutes : float
        Time between start of the cure and reading [min].

    Returns
    -------
    StageVerdict
        Time proved and the verdict [min, °C].

    Raises
    ------
    OutOfRange
        If a temperature or the time is outside its range, or the maximum is below the minimum.

    Valid range
    -----------
    Temperatures -100 to 1000 °C; time 0 to 1e7 min.

    Examples
    --------
    >>> overnight = Stage(name="overnight", low_c=18, high_c=25, minimum_min=960)
    >>> verdict = thermometer_verdict(stage=overnight, lowest_c=16.5, highest_c=22, minutes=1000)
    >>> verdict.passed, verdict.sentences[0]
    (False, 'The thermometer fell to 16.5 °C; at least 18 °C is needed all the time.')

    Source
    ------
    Shop rule 36; common practice, no source.
    """
    low = within("lowest_c", lowest_c, -100, 1000, unit="°C")
    high = within("highest_c", highest_c, low, 1000, unit="°C")
    time = within("minutes", minutes, 0, LONGEST_MIN, unit="min")
    broken = []
    if low < stage.low_c:
        broken.append(f"The thermometer fell to {low:g} °C; at least {stage.low_c:g} °C is needed all the time.")
    if high > stage.high_c:
        broken.append(f"The thermometer rose to {high:g} °C; at most {stage.high_c:g} °C is allowed.")
    within_band = f"{_floored(time)} between {low:g} and {high:g} °C by the thermometer, {_needed(stage)}"
    enough, sentences = _by_time(stage, time, within_band)
    return _verdict(stage, 0.0 if broken else time, enough and not broken, (*broken, *sentences))


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
    >>> overnight = Stage(name="overnight", low_c=18, high_c=25, minimum_min=960)
    >>> verdict = declared_verdict(stage=overnight, minutes=1000)
    >>> verdict.passed, verdict.proved_min, verdict.sentences[0]
    (True, 0.0, 'Declared, not measured: 1000 min, 960 min needed.')

    Source
    ------
    Shop rule 36; common practice, no source.
    """
    time = within("minutes", minutes, 0, LONGEST_MIN, unit="min")
    enough, sentences = _by_time(stage, time, f"Declared, not measured: {_floored(time)}, {_needed(stage)}")
    return _verdict(stage, 0.0, enough, sentences)


def _floored(minutes: float) -> str:
    """Rounded so that a time just short never reads as enough."""
    return f"{math.floor(minutes * 10 + ROUNDING_MIN) / 10:g} min"


def _needed(stage: Stage) -> str:
    return f"{stage.minimum_min:g} min needed."


def _by_time(stage: Stage, minutes: float, sentence: str) -> tuple[bool, tuple[str, ...]]:
    enough = minutes >= stage.minimum_min - ROUNDING_MIN
    if stage.maximum_min is not None and minutes > stage.maximum_min + ROUNDING_MIN:
        return False, (sentence, f"At most {stage.maximum_min:g} min is allowed.")
    return enough, (sentence,)


def _verdict(stage: Stage, proved_min: float, passed: bool, sentences: tuple[str, ...]) -> StageVerdict:
    return StageVerdict(
        name=stage.name,
        proved_min=proved_min,
        longest_min=proved_min,
        sections=(),
        gaps=(),
        over=(),
        suspects=(),
        fastest_heating_k_min=None,
        fastest_cooling_k_min=None,
        completed_at_min=None,
        passed=passed,
        sentences=sentences,
    )
