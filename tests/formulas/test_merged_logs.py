"""Several files of one cure as one log: each keeps its own rule of gaps."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.cure_log import Log
from service.formulas.merged_logs import merged_log
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage, cure_verdict

POST_CURE = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60)


def proved(log: Log, *required: str) -> float:
    return (
        cure_verdict(stages=[POST_CURE], times_min=log.times_min, probes=log.probes, required=required)
        .stages[0]
        .proved_min
    )


def test_a_slow_logger_beside_a_fast_one_keeps_its_time() -> None:
    # Every 10 min is regular for the slow file; on the axis of the fast one alone it would be one gap after another.
    fast = Log(tuple(range(121)), {"root": (60.0,) * 121})
    slow = Log(tuple(range(0, 121, 10)), {"tip": (60.0,) * 13})
    assert proved(merged_log(logs=[fast, slow], maxima_c=[]), "root", "tip") == pytest.approx(120)


def test_a_gap_in_a_fast_file_stays_a_gap_beside_a_slow_one() -> None:
    # 20 min without samples: more than max(3 × 1, 5) min of the fast file (shop rule 35).
    fast_times = (*range(41), *range(60, 121))
    fast = Log(fast_times, {"root": (60.0,) * len(fast_times)})
    slow = Log(tuple(range(0, 121, 10)), {"tip": (60.0,) * 13})
    assert proved(merged_log(logs=[fast, slow], maxima_c=[]), "root", "tip") == pytest.approx(100)


def test_a_second_file_of_the_same_logger_continues_its_probe() -> None:
    first = Log((0, 5, 10), {"root": (60.0, 60.0, 60.0)})
    second = Log((14, 19, 24), {"root": (60.0, 60.0, 60.0)})
    assert proved(merged_log(logs=[first, second], maxima_c=[]), "root") == pytest.approx(24)
    late = Log((30, 35, 40), {"root": (60.0, 60.0, 60.0)})
    assert proved(merged_log(logs=[first, late], maxima_c=[]), "root") == pytest.approx(20)


def test_where_two_files_overlap_the_earlier_counts() -> None:
    merged = merged_log(logs=[Log((0, 1), {"root": (20.0, 21.0)}), Log((1, 2), {"root": (99.0, 22.0)})], maxima_c=[])
    assert merged.probes["root"] == (20.0, 21.0, 22.0)


def test_one_hot_sample_of_a_slow_file_stays_alone() -> None:
    stage = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=10, over_c=70)
    slow = Log((0, 10, 20, 30, 40), {"tip": (60.0, 60.0, 95.0, 60.0, 60.0)})
    fast = Log(tuple(range(41)), {"root": (60.0,) * 41})
    merged = merged_log(logs=[slow, fast], maxima_c=[70])
    verdict = cure_verdict(
        stages=[stage], times_min=merged.times_min, probes=merged.probes, required=["root", "tip"]
    ).stages[0]
    assert [(s.probe, s.at_min, s.temperature_c) for s in verdict.suspects] == [("tip", 20.0, 95.0)]
    assert verdict.over == ()


def test_two_hot_samples_of_a_slow_file_are_still_an_excursion() -> None:
    stage = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=10, over_c=70)
    slow = Log((0, 10, 20, 30, 40), {"tip": (60.0, 80.0, 80.0, 60.0, 60.0)})
    fast = Log(tuple(range(41)), {"root": (60.0,) * 41})
    merged = merged_log(logs=[slow, fast], maxima_c=[70])
    verdict = cure_verdict(
        stages=[stage], times_min=merged.times_min, probes=merged.probes, required=["root", "tip"]
    ).stages[0]
    assert verdict.passed is False
    assert [run.highest_c for run in verdict.over] == [80.0]


@settings(deadline=None, max_examples=50)
@given(
    step=st.floats(0.5, 30),
    values=st.lists(st.floats(40, 80), min_size=3, max_size=30),
)
def test_a_log_beside_a_steady_one_proves_what_it_proves_alone(step: float, values: list[float]) -> None:
    alone = Log(tuple(step * i for i in range(len(values))), {"root": tuple(values)})
    end = alone.times_min[-1]
    steady = Log(tuple(end * i / 400 for i in range(401)), {"tip": (60.0,) * 401})
    together = merged_log(logs=[alone, steady], maxima_c=[])
    assert proved(together, "root", "tip") == pytest.approx(proved(alone, "root"), abs=1e-6)


def test_no_logs_and_absurd_maxima_are_refused() -> None:
    with pytest.raises(OutOfRange, match="logs"):
        merged_log(logs=[], maxima_c=[])
    with pytest.raises(OutOfRange, match="maxima_c"):
        merged_log(logs=[Log((0, 1), {})], maxima_c=[float("nan")])
