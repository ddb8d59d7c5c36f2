"""A thermometer and a declaration say what they can, and no more (shop rule 36)."""

import pytest

from service.formulas.cure_statements import declared_verdict, thermometer_verdict
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage

OVERNIGHT = Stage(name="overnight", low_c=18, high_c=25, minimum_min=960, maximum_min=2880)


@pytest.mark.parametrize(
    ("low", "high", "minutes", "passed", "proved"),
    [
        (18, 25, 960, True, 960),
        (18, 25, 959.9, False, 959.9),
        (17.9, 25, 960, False, 0),
        (18, 25.1, 960, False, 0),
        (18, 25, 2880, True, 2880),
        (18, 25, 2881, False, 2881),
    ],
)
def test_all_of_the_time_counts_or_none(low: float, high: float, minutes: float, passed: bool, proved: float) -> None:
    verdict = thermometer_verdict(stage=OVERNIGHT, lowest_c=low, highest_c=high, minutes=minutes)
    assert (verdict.passed, verdict.proved_min) == (passed, proved)


def test_the_sentences_name_what_was_wrong() -> None:
    said = " ".join(thermometer_verdict(stage=OVERNIGHT, lowest_c=12.5, highest_c=31, minutes=600).sentences)
    assert "fell to 12.5 °C" in said
    assert "rose to 31 °C" in said
    assert "600 min between 12.5 and 31 °C by the thermometer, 960 min needed." in said


def test_a_declaration_proves_no_time_at_all() -> None:
    verdict = declared_verdict(stage=OVERNIGHT, minutes=1000)
    assert verdict.passed is True
    assert (verdict.proved_min, verdict.longest_min, verdict.sections) == (0, 0, ())
    assert declared_verdict(stage=OVERNIGHT, minutes=900).passed is False


def test_time_just_short_never_reads_as_enough() -> None:
    assert "959.9 min, 960 min needed" in declared_verdict(stage=OVERNIGHT, minutes=959.96).sentences[0]


@pytest.mark.parametrize(
    ("low", "high", "minutes", "argument"),
    [
        (20, 19, 60, "highest_c"),
        (float("nan"), 20, 60, "lowest_c"),
        (18, 2000, 60, "highest_c"),
        (18, 20, -1, "minutes"),
    ],
)
def test_absurd_readings_are_refused(low: float, high: float, minutes: float, argument: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        thermometer_verdict(stage=OVERNIGHT, lowest_c=low, highest_c=high, minutes=minutes)
    assert refused.value.argument == argument
