"""The samples of a cure before anything is judged: what a log takes, and the mean of a probe."""

import pytest

from service.formulas.cure_log import Log, mean_c
from service.formulas.ranges import OutOfRange


def test_a_log_takes_a_million_samples_and_temperatures_down_to_absolute_zero() -> None:
    assert Log((0, 1), {"P1": (-273.15, 3000)}).probes["P1"] == (-273.15, 3000)
    with pytest.raises(OutOfRange, match="outside its range"):
        Log((0, 1), {"P1": (-273.16, 20)})
    with pytest.raises(OutOfRange, match="a list of 1000001; it must be a list of 2 to 1000000 times"):
        Log((0.0,) * 1_000_001, {})


@pytest.mark.parametrize(
    ("sections", "mean"),
    [
        ([(0, 10)], 30),
        ([(20, 25)], 60),
        ([(-5, 0)], 20),
        # 10 min at a mean of 50 °C and 30 min at 60 °C.
        ([(10, 50)], 57.5),
        ([(0, 10), (20, 30)], 45),
    ],
)
def test_before_its_first_and_after_its_last_sample_a_probe_stays_as_it_was(
    sections: list[tuple[float, float]], mean: float
) -> None:
    assert mean_c([0, 10, 20], [20, 40, 60], sections) == pytest.approx(mean)


def test_there_is_no_mean_without_samples_or_without_time() -> None:
    assert mean_c([0, 10], [None, None], [(0, 10)]) is None
    assert mean_c([0, 10], [20, 20], [(5, 5)]) is None
    assert mean_c([0, 10], [None, 20], [(0, 5)]) == 20
