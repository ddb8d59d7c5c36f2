"""A thermometer and a declaration say what they can, and no more (shop rule 36)."""

import pytest

from service.formulas.cure_statements import declared_verdict, thermometer_verdict
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage, StageVerdict

OVERNIGHT = Stage(
    name="overnight", low_c=18, high_c=25, minimum_min=960, maximum_min=2880, over_c=None, air_over_c=None
)


def read(low: float, high: float, minutes: float, **more: float) -> StageVerdict:
    """A thermometer that was reset at the start and read at the end, unless told otherwise."""
    facts = {"reset_min": 0.0, "read_min": minutes, "until_min": minutes, **more}
    return thermometer_verdict(stage=OVERNIGHT, lowest_c=low, highest_c=high, **facts)


@pytest.mark.parametrize(
    ("low", "high", "minutes", "result", "proved"),
    [
        (18, 25, 960, "proved", 960),
        (18, 25, 959.9, "violated", 959.9),
        (17.9, 25, 960, "not known", 0),
        (18, 25.1, 960, "not known", 0),
        (18, 25, 2880, "proved", 2880),
        (18, 25, 2881, "violated", 2881),
    ],
)
def test_all_of_the_time_counts_or_none(low: float, high: float, minutes: float, result: str, proved: float) -> None:
    """When it was too cold or too hot a thermometer does not say; how long it hung there it does."""
    verdict = read(low, high, minutes)
    assert (verdict.result, verdict.passed, verdict.proved_min) == (result, result == "proved", proved)


@pytest.mark.parametrize(
    ("reset", "read_at", "until", "result", "proved"),
    [
        (-600, 1200, 960, "proved", 960),
        (60, 1000, 1000, "not known", 940),
        (0, 900, 1000, "not known", 900),
        (-60, 900, 900, "violated", 900),
        # What is lost in the rounding of its times is no time that it did not see.
        (0, 900 - 1e-6, 900, "violated", 900 - 1e-6),
        (1100, 1200, 1000, "not known", 0),
    ],
)
def test_only_what_it_saw_of_the_cure_counts(
    reset: float, read_at: float, until: float, result: str, proved: float
) -> None:
    verdict = read(20, 22, until, reset_min=reset, read_min=read_at)
    assert (verdict.result, verdict.proved_min) == (result, proved)


def test_the_sentences_name_what_was_wrong() -> None:
    said = " ".join(read(12.5, 31, 600).sentences)
    assert "fell to 12.5 °C" in said
    assert "rose to 31 °C" in said
    assert "10 h 0 min between 12.5 and 31 °C by the thermometer, 16 h 0 min needed." in said


def test_a_declaration_proves_no_time_at_all() -> None:
    verdict = declared_verdict(stage=OVERNIGHT, minutes=1000)
    assert verdict.passed is True
    assert (verdict.proved_min, verdict.longest_min, verdict.sections) == (0, 0, ())
    assert declared_verdict(stage=OVERNIGHT, minutes=900).passed is False


def test_time_just_short_never_reads_as_enough() -> None:
    assert "15 h 59.9 min, 16 h 0 min needed" in declared_verdict(stage=OVERNIGHT, minutes=959.96).sentences[0]


@pytest.mark.parametrize(
    ("low", "high", "minutes", "argument"),
    [
        (20, 19, 60, "highest_c"),
        (float("nan"), 20, 60, "lowest_c"),
        (18, 2000, 60, "highest_c"),
        (18, 20, -1, "read_min"),
    ],
)
def test_absurd_readings_are_refused(low: float, high: float, minutes: float, argument: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        read(low, high, minutes)
    assert refused.value.argument == argument
