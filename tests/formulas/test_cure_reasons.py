"""What stands against a stage, as numbers: which probe, when, how much and how much is allowed (shop rule 35)."""

import pytest

from service.formulas.cure_statements import thermometer_verdict
from service.formulas.stages import StageReason
from tests.formulas.cure_logs import asked, judged

MINUTES = list(range(61))


def _told(reasons: tuple[StageReason, ...]) -> list[tuple[object, ...]]:
    return [(one.kind, one.probe, one.at_min, one.value, one.limit) for one in reasons]


def test_what_is_proved_has_no_reasons_and_what_is_violated_only_those_of_that_gravity() -> None:
    hold = asked(low_c=55, high_c=65, minimum_min=40, over_c=70)
    assert judged(hold, MINUTES, [60.0] * 61, longest=1).reasons == ()
    hot = [60.0] * 61
    hot[30:34] = [71.0, 73.0, 72.0, 71.0]
    violated = judged(hold, MINUTES, hot, longest=1)
    assert _told(violated.reasons) == [
        ("time", None, None, pytest.approx(29 + 5 / 11), 40),
        ("over", "P1", 31, 73, 70),
    ]
    # Half an hour and more of nothing: the time is there, how hot it was is not known.
    unseen = judged(hold, [*range(41), *range(80, 120)], [60.0] * 81, longest=1)
    assert (unseen.result, _told(unseen.reasons)) == ("not known", [("evidence", None, None, None, None)])


def test_a_ramp_names_its_probe_when_it_began_and_how_fast_it_was() -> None:
    climb = asked(low_c=55, high_c=65, minimum_min=5, heating_limit_k_min=2, cooling_limit_k_min=2)
    steep = [*([20.0] * 10), *(20 + 4.0 * minute for minute in range(11)), *([60.0] * 40)]
    assert _told(judged(climb, MINUTES, [60.0] * 61, steep, longest=1).reasons) == [
        ("heating", "P2", pytest.approx(9, abs=1), pytest.approx(4), 2)
    ]


def test_a_thermometer_says_why_it_leaves_the_cure_open_and_by_how_much_it_was_too_short() -> None:
    night = asked(low_c=18, high_c=25, minimum_min=960)
    facts = {"reset_min": 0, "read_min": 1000, "until_min": 1000}
    cold = thermometer_verdict(stage=night, lowest_c=17, highest_c=26, **facts)
    assert [(one.kind, one.sentence.split(";")[0]) for one in cold.reasons] == [
        ("evidence", "The thermometer fell to 17 °C"),
        ("evidence", "The thermometer rose to 26 °C"),
    ]
    short = thermometer_verdict(stage=night, lowest_c=20, highest_c=22, reset_min=0, read_min=900, until_min=900)
    assert _told(short.reasons) == [("time", None, None, 900, 960)]
    # It was too cold as well, but the time alone is enough to say no.
    both = thermometer_verdict(stage=night, lowest_c=17, highest_c=22, reset_min=0, read_min=900, until_min=900)
    assert (both.result, _told(both.reasons)) == ("violated", [("time", None, None, 900, 960)])
    assert thermometer_verdict(stage=night, lowest_c=20, highest_c=22, **facts).reasons == ()
