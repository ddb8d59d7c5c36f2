"""What proves a cure: the best evidence counts, and several logs are one (shop rules 35 and 36)."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from schemas.words import Evidence
from service.operations.cures.evidence import Series, best_grade, coldest, gathered
from service.records.cures import Cure, CureLog, CureReading, Logger

BEGAN = datetime(2026, 11, 3, 18, 0, tzinfo=UTC)
CURE = Cure(started_at=BEGAN, ended_at=BEGAN + timedelta(minutes=60))


def log(
    probes: dict[str, list[float]], *, part: Sequence[str] = (), air: Sequence[str] = (), logger: int = 1,
    begins_min: float = 0, every_min: float = 10,
) -> CureLog:  # fmt: skip
    length = len(next(iter(probes.values())))
    return CureLog(
        logger=Logger(id=logger, name=f"Logger {logger}"),
        first_at=BEGAN + timedelta(minutes=begins_min),
        part_probes=list(part),
        air_probes=list(air),
        readings={"times_s": [n * every_min * 60 for n in range(length)], "probes": probes},
    )


def series(*logs: CureLog, cure: Cure = CURE) -> Series:
    return gathered(cure, logs)


PART = log({"root": [60.0] * 7}, part=["root"])
AIR = log({"air": [60.0] * 7}, air=["air"])
THERMOMETER, DECLARATION = (CureReading(kind=kind) for kind in (Evidence.MINIMUM_MAXIMUM, Evidence.DECLARED))


@pytest.mark.parametrize(
    ("logs", "readings", "expected"),
    [
        ([], [], None),
        ([], [DECLARATION], Evidence.DECLARED),
        ([], [DECLARATION, THERMOMETER], Evidence.MINIMUM_MAXIMUM),
        ([AIR], [THERMOMETER], Evidence.AIR_LOG),
        ([AIR, PART], [DECLARATION], Evidence.PART_PROBE),
    ],
)
def test_the_best_evidence_there_is(logs: Any, readings: Any, expected: Evidence | None) -> None:
    assert best_grade(logs, readings) == expected


def test_minutes_count_from_the_start_of_the_cure_and_what_lies_outside_proves_nothing() -> None:
    early_and_late = log({"root": [20.0, 30.0, 40.0, 50.0, 60.0]}, part=["root"], begins_min=-20, every_min=20)
    found = series(early_and_late).log
    assert found is not None
    assert found.times_min == (0, 20, 40, 60)
    assert found.probes["root"] == (30.0, 40.0, 50.0, 60.0)


def test_a_cure_that_has_not_ended_counts_to_the_last_sample() -> None:
    running = Cure(started_at=BEGAN, ended_at=None)
    found = series(log({"root": [60.0] * 10}, part=["root"]), cure=running).log
    assert found is not None
    assert found.times_min[-1] == 90


def test_one_sample_within_the_cure_is_no_log() -> None:
    assert series(log({"root": [60.0, 60.0]}, part=["root"], begins_min=50, every_min=20)).log is None


def test_probes_of_one_name_are_told_apart_by_their_loggers() -> None:
    both = series(
        log({"root": [60.0] * 7}, part=["root"], logger=1), log({"root": [58.0] * 7}, part=["root"], logger=2)
    )
    assert both.part == ("root (Logger 1)", "root (Logger 2)")


def test_a_second_file_of_the_same_logger_goes_on_with_its_probe() -> None:
    first = log({"root": [60.0] * 4}, part=["root"], every_min=5)
    second = log({"root": [61.0] * 4}, part=["root"], every_min=5, begins_min=20)
    found = series(first, second)
    assert found.part == ("root",)
    assert found.log is not None
    assert (found.log.times_min[0], found.log.times_min[-1]) == (0, 35)


def test_air_is_judged_only_where_no_probe_is_on_the_part() -> None:
    assert series(AIR).judged == ("air",)
    assert series(AIR, PART).judged == ("root",)


def test_a_probe_that_gave_nothing_within_the_cure_is_still_asked_for() -> None:
    silent = log({"tip": [60.0] * 3}, part=["tip"], logger=2, begins_min=-60)
    found = series(PART, silent)
    assert found.judged == ("root", "tip")
    assert found.log is not None
    assert set(found.log.probes["tip"]) == {None}


def test_the_coldest_is_the_one_with_the_lowest_mean_and_air_does_not_count_beside_the_part() -> None:
    found = series(
        log({"root": [60.0] * 7, "tip": [60.0] * 6 + [53.0]}, part=["root", "tip"]),
        log({"air": [20.0] * 7}, air=["air"]),
    )
    assert coldest(found) == "tip"
    assert coldest(Series(None, ("root",), (), (), {})) is None
    nothing = SimpleNamespace(times_min=(0.0, 1.0), probes={"root": (None, None)})
    assert coldest(Series(nothing, ("root",), (), (), {})) is None  # type: ignore[arg-type]
