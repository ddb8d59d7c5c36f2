"""Stages of a cure in their order, what holds for any log, and what is refused (shop rules 35 to 37)."""

import time

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas.cure_log import Log
from service.formulas.cure_verdicts import stage_verdict
from service.formulas.ranges import OutOfRange
from tests.formulas.cure_logs import asked, in_order, judged


class TestStagesInOrder:
    FIRST = asked("first cure", low_c=20, high_c=25, minimum_min=1440)
    SECOND = asked("post-cure", low_c=55, high_c=65, minimum_min=900, may_be_split=True, over_c=70)
    """24 h at 20 to 25 °C, then 15 h at 60 ± 5 °C: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12."""

    @staticmethod
    def curve(*holds: tuple[float, float]) -> tuple[list[float], dict[str, list[float]]]:
        """Holds of (°C, minutes) with a quarter hour between them; a sample every 15 min."""
        trace = [temperature for temperature, minutes in holds for _ in range(int(minutes / 15) + 1)]
        return [15.0 * number for number in range(len(trace))], {"root": trace}

    def verdict(self, *holds: tuple[float, float]):
        times, probes = self.curve(*holds)
        return in_order([self.FIRST, self.SECOND], times, probes, 15)

    def test_both_stages_in_their_order_pass(self):
        verdict = self.verdict((22, 1440), (60, 900), (22, 60))
        assert verdict.passed
        assert verdict.sentences[0] == "All stages are proved."

    def test_a_post_cure_before_the_first_cure_is_complete_does_not_count(self):
        verdict = self.verdict((60, 915), (22, 1455))
        assert [stage.passed for stage in verdict.stages] == [True, False]
        assert verdict.stages[1].proved_min == pytest.approx(0)
        assert verdict.sentences[0] == "Violated: post-cure."

    def test_a_first_cure_cut_short_fails_and_the_post_cure_is_still_shown(self):
        verdict = self.verdict((22, 1200), (60, 900), (22, 60))
        assert [stage.passed for stage in verdict.stages] == [False, True]
        assert not verdict.passed

    def test_the_way_to_a_hotter_stage_is_not_over_the_maximum_of_the_cooler_one(self):
        first = asked("first cure", low_c=20, high_c=25, minimum_min=60, over_c=30)
        times, probes = [10.0 * n for n in range(20)], {"root": [22.0] * 8 + [35, 45, 54] + [60.0] * 9}
        second = asked("post-cure", low_c=55, high_c=65, minimum_min=60)
        assert in_order([first, second], times, probes).passed

    def test_the_way_from_a_hotter_stage_is_not_over_the_maximum_of_the_cooler_one(self):
        hot = asked("hot", low_c=115, high_c=125, minimum_min=60, over_c=130)
        warm = asked("warm", low_c=75, high_c=85, minimum_min=60, over_c=90)
        times, probes = [10.0 * n for n in range(20)], {"root": [120.0] * 8 + [110, 95] + [80.0] * 10}
        assert in_order([hot, warm], times, probes).passed

    THREE = (
        asked("dwell", low_c=45, high_c=55, minimum_min=30, maximum_min=90, over_c=60),
        asked("cure", low_c=85, high_c=95, minimum_min=30),
        asked("post-cure", low_c=125, high_c=135, minimum_min=30),
    )

    def test_a_stage_ends_where_the_next_one_begins_and_not_the_last(self):
        # Back at 50 °C after the cure: that is no time of the dwell any more, and not over its 90 min.
        trace = [50.0] * 7 + [70.0, 90.0, 90.0, 90.0, 90.0, 70.0] + [50.0] * 6 + [90.0, 130.0, 130.0, 130.0, 130.0]
        verdict = in_order(list(self.THREE), [10 * n for n in range(len(trace))], {"root": trace})
        assert [stage.result for stage in verdict.stages] == ["proved", "proved", "proved"]
        # The dwell from minute 0 on, left towards the cure at 55 °C.
        assert verdict.stages[0].proved_min == pytest.approx(62.5)

    def test_the_maximum_of_a_stage_holds_on_the_way_from_a_cooler_one_and_to_a_cooler_one(self):
        """Only a hotter neighbour has a maximum of its own for the way; the last stage is no neighbour of the first."""
        hot_start = [70.0] * 3 + [50.0] * 7 + [90.0] * 5 + [130.0] * 5
        verdict = in_order(list(self.THREE), [10 * n for n in range(len(hot_start))], {"root": hot_start})
        assert verdict.stages[0].result == "violated"
        assert any("root was over 60 °C from minute 0.0" in said for said in verdict.stages[0].sentences)
        warm, cool = (
            asked("warm", low_c=85, high_c=95, minimum_min=30, over_c=100),
            asked("cool", low_c=45, high_c=55, minimum_min=30),
        )
        late_peak = [90.0] * 5 + [105.0, 90.0, 70.0] + [50.0] * 5
        verdict = in_order([warm, cool], [10 * n for n in range(len(late_peak))], {"root": late_peak})
        assert verdict.stages[0].result == "violated"

    def test_a_time_that_is_just_reached_is_complete_at_its_last_minute(self):
        first = asked("first", low_c=45, high_c=55, minimum_min=60)
        second = asked("second", low_c=85, high_c=95, minimum_min=60)
        # From 50 to 90 °C in 10 min: the first is left after 1.25 min, the second reached after 8.75 min.
        trace = [50.0] * 7 + [90.0] * 7
        times = [0, *(8.75 + 10 * n for n in range(6)), 68.75, *(78.75 + 10 * n for n in range(6))]
        verdict = in_order([first, second], times, {"root": trace})
        assert verdict.stages[0].proved_min == pytest.approx(60)
        assert verdict.stages[0].completed_at_min == pytest.approx(60)
        assert verdict.stages[0].passed

    def test_a_minute_in_two_bands_belongs_to_the_nearer_set_temperature(self):
        # 55 to 75 °C about 65, 70 to 90 °C about 80: what lies above 72.5 °C belongs to the second.
        first = asked("first", low_c=55, high_c=75, minimum_min=30, maximum_min=60)
        second = asked("second", low_c=70, high_c=90, minimum_min=30)
        trace = [65.0] * 4 + [72.0] * 4 + [73.0] * 4 + [80.0] * 4
        verdict = in_order([first, second], [10 * n for n in range(16)], {"root": trace})
        assert verdict.stages[0].proved_min == pytest.approx(75)
        assert verdict.stages[1].proved_min == pytest.approx(75)
        # The overlap does not switch the longest time off: 75 min are more than 60.
        assert [stage.result for stage in verdict.stages] == ["violated", "proved"]

    def test_a_set_temperature_that_is_stated_counts_before_the_middle(self):
        first = asked("first", low_c=55, high_c=75, minimum_min=30, set_c=57)
        second = asked("second", low_c=70, high_c=90, minimum_min=30, set_c=83)
        verdict = in_order([first, second], [0, 40, 80], {"root": [71, 71, 71]}, 40)
        assert [stage.proved_min for stage in verdict.stages] == pytest.approx([0, 80])

    def test_a_band_without_an_upper_edge_has_none(self):
        open_band = asked(low_c=55, high_c=None, minimum_min=20)
        verdict = judged(open_band, [0, 10, 20, 30], [50, 60, 200, 300])
        assert (verdict.proved_min, verdict.result) == (pytest.approx(25), "proved")
        assert verdict.sentences[0] == "25 min proved from 55 °C, 20 min needed."

    def test_heating_limits_belong_to_the_way_to_their_own_stage(self):
        first = asked("first cure", low_c=20, high_c=25, minimum_min=60, heating_limit_k_min=0.5)
        second = asked("post-cure", low_c=55, high_c=65, minimum_min=60, heating_limit_k_min=2)
        times, probes = [10.0 * n for n in range(20)], {"root": [22.0] * 8 + [40] + [60.0] * 11}
        verdict = in_order([first, second], times, probes)
        assert verdict.stages[0].fastest_heating_k_min == pytest.approx(0)
        assert verdict.stages[1].fastest_heating_k_min == pytest.approx(2.0)
        assert verdict.passed


bands = st.builds(lambda low, width: (low, low + width), st.floats(20, 80), st.floats(1, 40))


logs = st.lists(
    st.tuples(st.floats(0.5, 20), st.floats(10, 120), st.none() | st.floats(10, 120)), min_size=2, max_size=30
)

# Up or down by a little at each sample, and never still: hardly a probe is doubted, hardly a log is thrown away.
moves = st.tuples(st.sampled_from((-1, 1)), st.floats(0.2, 4)).map(lambda move: move[0] * move[1])


@st.composite
def believed_logs(draw):
    now = [draw(st.floats(30, 90)), draw(st.floats(30, 90))]
    log = []
    for step, *both, missing in draw(
        st.lists(st.tuples(st.floats(0.5, 20), moves, moves, st.booleans()), min_size=2, max_size=30)
    ):
        now = [was + move for was, move in zip(now, both, strict=True)]
        log.append((step, now[0], None if missing else now[1]))
    return log


def unpacked(log: list[tuple[float, float, float | None]], shift: float = 0.0):
    times, now = [], shift
    for step, _, _ in log:
        now += step
        times.append(now)
    return times, {"A": [first for _, first, _ in log], "B": [second for _, _, second in log]}


@given(log=believed_logs(), band=bands)
@settings(deadline=None, max_examples=60)
def test_a_further_required_probe_never_proves_more(log, band):
    times, probes = unpacked(log)
    stage = asked("s", low_c=band[0], high_c=band[1], minimum_min=1)
    one = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A"], longest_interval_min=10)
    both = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A", "B"], longest_interval_min=10)
    assume(not one.suspects and not both.suspects)
    assert both.proved_min <= one.proved_min + 1e-9
    assert one.longest_min <= one.proved_min + 1e-9
    assert one.proved_min <= times[-1] - times[0] + 1e-9


@given(log=logs, band=bands, more=st.floats(0, 20))
@settings(deadline=None, max_examples=60)
def test_a_wider_band_never_proves_less(log, band, more):
    times, probes = unpacked(log)
    narrow = asked("s", low_c=band[0], high_c=band[1], minimum_min=1)
    wide = asked("s", low_c=band[0] - more, high_c=band[1] + more, minimum_min=1)
    given_log = {"times_min": times, "probes": probes, "required": ["A", "B"], "longest_interval_min": 10}
    assert (
        stage_verdict(stage=wide, **given_log).proved_min >= stage_verdict(stage=narrow, **given_log).proved_min - 1e-9
    )


@given(log=believed_logs(), band=bands)
@settings(deadline=None, max_examples=40)
def test_time_in_band_agrees_with_counting_small_steps(log, band):
    times, probes = unpacked(log)
    stage = asked("s", low_c=band[0], high_c=band[1], minimum_min=1)
    verdict = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A"], longest_interval_min=10)
    limit, steps, counted = 11, 400, 0.0
    assume(not verdict.suspects)
    for k in range(len(times) - 1):
        span = times[k + 1] - times[k]
        if span > limit:
            continue
        for step in range(steps):
            value = probes["A"][k] + (probes["A"][k + 1] - probes["A"][k]) * (step + 0.5) / steps
            counted += span / steps * (band[0] <= value <= band[1])
    assert verdict.proved_min == pytest.approx(counted, abs=20 * 2 / steps * len(times))


def test_a_long_log_is_judged_quickly():
    times = [index / 2 for index in range(50_000)]
    probes = {name: [60.0 + (index % 7) for index in range(50_000)] for name in ("A", "B", "C", "D")}
    stage = asked("s", low_c=55, high_c=65, minimum_min=100, over_c=70, heating_limit_k_min=3, may_be_split=True)
    start = time.process_time()
    stage_verdict(stage=stage, times_min=times, probes=probes, required=list(probes), longest_interval_min=1)
    assert time.process_time() - start < 3


class TestRefusals:
    STAGE = asked(low_c=55, high_c=65, minimum_min=10)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"times_min": [0, 10, 10]}, "times_min"),
            ({"times_min": [0, 20, 10]}, "times_min"),
            ({"times_min": [0]}, "times_min"),
            ({"times_min": [0, 10, float("nan")]}, "times_min"),
            ({"times_min": [0, 10, None]}, "times_min"),
            ({"probes": {"A": [60, 60]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, float("nan")]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, float("inf")]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, "60"]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, True]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, 10**400]}}, r"probes\[A\]"),
            ({"probes": {"A": [60, 60, -300]}}, r"probes\[A\]"),
            ({"required": ["B"]}, "required"),
            ({"required": []}, "required"),
            ({"required": "A"}, "required"),
            ({"longest_interval_min": 0}, "longest_interval_min"),
            ({"longest_interval_min": 61}, "longest_interval_min"),
        ],
    )
    def test_a_log_that_is_not_in_order_is_refused_by_name(self, change, named):
        good = {"times_min": [0, 10, 20], "probes": {"A": [60, 60, 60]}, "required": ["A"], "longest_interval_min": 10}
        with pytest.raises(OutOfRange, match=named):
            stage_verdict(stage=self.STAGE, **{**good, **change})

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("high_c", 55),
            ("minimum_min", 0),
            ("maximum_min", 9),
            ("heating_limit_k_min", 0),
            ("cooling_limit_k_min", -1),
            ("over_c", 64),
            ("air_over_c", 64),
            ("set_c", 54),
            ("set_c", 66),
            ("dip_min", -1),
            ("dip_k", -1),
        ],
    )
    def test_a_stage_that_contradicts_itself_is_refused_by_name(self, field, value):
        with pytest.raises(OutOfRange, match=field):
            asked(**{"low_c": 55, "high_c": 65, "minimum_min": 10, field: value})

    def test_a_schedule_without_stages_is_refused(self):
        with pytest.raises(OutOfRange, match="stages"):
            in_order([], [0, 10], {"A": [60, 60]})

    def test_a_log_keeps_its_samples_unchanged(self):
        assert Log((0.0, 1.0), {"A": (1.0, None)}).probes == {"A": (1.0, None)}
