"""Several files of one cure as one log: each probe keeps its own samples and its own holes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.cure_log import Log
from service.formulas.cure_verdicts import stage_verdict
from service.formulas.merged_logs import merged_log
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage

POST_CURE = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60, over_c=None, air_over_c=None)


def proved(log: Log, *required: str, longest: float = 10) -> float:
    return stage_verdict(
        stage=POST_CURE, times_min=log.times_min, probes=log.probes, required=required, longest_interval_min=longest
    ).proved_min


def test_a_slow_logger_beside_a_fast_one_keeps_its_time() -> None:
    fast = Log(tuple(range(121)), {"root": (60.0,) * 121})
    slow = Log(tuple(range(0, 121, 10)), {"tip": (60.0,) * 13})
    assert proved(merged_log(logs=[fast, slow]), "root", "tip") == pytest.approx(120)
    # By the schedule's interval of a minute the slow one has nothing but holes.
    assert proved(merged_log(logs=[fast, slow]), "root", "tip", longest=1) == 0


def test_a_hole_in_a_fast_file_stays_a_hole_beside_a_slow_one() -> None:
    fast_times = (*range(41), *range(60, 121))
    fast = Log(fast_times, {"root": (60.0,) * len(fast_times)})
    slow = Log(tuple(range(0, 121, 10)), {"tip": (60.0,) * 13})
    assert proved(merged_log(logs=[fast, slow]), "root", "tip") == pytest.approx(100)


def test_a_second_file_of_the_same_logger_continues_its_probe() -> None:
    first = Log((0, 5, 10), {"root": (60.0, 60.0, 60.0)})
    second = Log((14, 19, 24), {"root": (60.0, 60.0, 60.0)})
    assert proved(merged_log(logs=[first, second]), "root", longest=5) == pytest.approx(24)
    late = Log((30, 35, 40), {"root": (60.0, 60.0, 60.0)})
    assert proved(merged_log(logs=[first, late]), "root", longest=5) == pytest.approx(20)


def test_of_two_samples_at_the_same_moment_the_earlier_file_s_counts_and_others_stand_beside_each_other() -> None:
    merged = merged_log(logs=[Log((0, 1, 3), {"root": (20.0, 21.0, 23.0)}), Log((1, 2), {"root": (99.0, 22.0)})])
    assert merged.times_min == (0, 1, 2, 3)
    assert merged.probes["root"] == (20.0, 21.0, 22.0, 23.0)


@settings(deadline=None, max_examples=50)
@given(
    step=st.floats(0.5, 9),
    values=st.lists(st.floats(40, 80), min_size=3, max_size=30),
)
def test_a_log_beside_a_steady_one_proves_what_it_proves_alone(step: float, values: list[float]) -> None:
    alone = Log(tuple(step * i for i in range(len(values))), {"root": tuple(values)})
    end = alone.times_min[-1]
    steady = Log(tuple(end * i / 400 for i in range(401)), {"tip": (60.0,) * 401})
    together = merged_log(logs=[alone, steady])
    assert together.times_min == tuple(sorted({*alone.times_min, *steady.times_min}))
    assert proved(together, "root") == pytest.approx(proved(alone, "root"), abs=1e-6)


def test_no_logs_are_refused() -> None:
    with pytest.raises(OutOfRange, match="logs"):
        merged_log(logs=[])
