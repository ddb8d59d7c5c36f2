"""What a cure log proves: the clock, gaps, excursions, slopes, and stages in their order (shop rules 35 to 37)."""

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.cure_log import Log, gap_limit_min
from service.formulas.ranges import OutOfRange
from service.formulas.stages import Stage, StageVerdict, cure_verdict, stage_verdict

FIFTEEN_HOURS_AT_60 = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=900)
"""60 ± 5 °C for 15 h: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12."""


def judged(stage: Stage, times: list[float], *traces: list[float | None]) -> StageVerdict:
    probes = {f"P{number}": trace for number, trace in enumerate(traces, 1)}
    return stage_verdict(stage=stage, times_min=times, probes=probes, required=list(probes))


def oven_log(reaches_55: tuple[float, ...], leaves_at: float) -> tuple[list[float], list[list[float]]]:
    """Straight rise to 55 °C, then 60 °C from 10 min later, below the band from ``leaves_at``; samples each 5 min."""
    times = [5.0 * step for step in range(220)]
    traces = []
    for reached in reaches_55:
        trace = []
        for minute in times:
            if minute <= reached:
                trace.append(20 + 35 * minute / reached)
            elif minute <= leaves_at:
                trace.append(min(60.0, 55 + (minute - reached) / 2))
            else:
                trace.append(max(20.0, 55 - (minute - leaves_at) / 2))
        # The last sample in the band stands exactly on its edge.
        trace[times.index(leaves_at)] = 55.0
        traces.append(trace)
    return times, traces


class TestTheClockOfAllProbes:
    """Constructed vector: three probes reach 55 °C at 0:40, 0:55 and 1:20, and all stay in the band until 16:25."""

    def test_fifteen_hours_five_on_the_slowest_probe_pass(self):
        times, traces = oven_log((40, 55, 80), 985)
        verdict = judged(FIFTEEN_HOURS_AT_60, times, *traces)
        assert verdict.proved_min == pytest.approx(905)
        assert verdict.sections == ((pytest.approx(80), pytest.approx(985)),)
        assert verdict.completed_at_min == pytest.approx(980)
        assert verdict.passed
        assert verdict.sentences[0] == "15 h 5 min proved between 55 and 65 °C, 15 h 0 min needed."

    def test_five_minutes_short_on_the_slowest_probe_fails(self):
        times, traces = oven_log((40, 55, 90), 985)
        verdict = judged(FIFTEEN_HOURS_AT_60, times, *traces)
        assert verdict.proved_min == pytest.approx(895)
        assert verdict.completed_at_min is None
        assert not verdict.passed
        assert verdict.sentences[0].startswith("14 h 55 min proved")

    def test_the_fast_probes_alone_would_have_passed(self):
        times, traces = oven_log((40, 55, 90), 985)
        assert judged(FIFTEEN_HOURS_AT_60, times, *traces[:2]).proved_min == pytest.approx(930)

    def test_a_probe_that_is_not_required_proves_nothing_and_spoils_nothing(self):
        verdict = stage_verdict(
            stage=Stage(name="hold", low_c=55, high_c=65, minimum_min=10, over_c=70),
            times_min=[0, 10, 20],
            probes={"part": [60, 60, 60], "air": [90, 90, 90]},
            required=["part"],
        )
        assert verdict.passed

    def test_crossings_lie_on_the_straight_line_between_samples(self):
        # 50 to 60 °C in 10 min passes 55 at 5 min; 60 to 80 in 10 min passes 65 at 2.5 min.
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 10, 20], [50, 60, 80]).sections == ((5.0, 12.5),)

    def test_a_jump_right_through_the_band_counts_its_part(self):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 4], [50, 70]).sections == ((1.0, 3.0),)

    def test_the_edges_of_the_band_belong_to_it(self):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=20)
        assert judged(hold, [0, 10, 20], [55, 65, 55]).passed
        assert judged(hold, [0, 10, 20], [54.9, 54.9, 54.9]).proved_min == 0

    def test_touching_the_edge_is_no_time(self):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 10, 20], [50, 55, 50]).sections == ()


class TestSplitTime:
    TWO_VISITS = ([0, 10, 20, 30, 40, 50], [60, 60, 40, 40, 60, 60])

    def test_split_time_adds_up_only_where_the_stage_allows_it(self):
        # Split as long as the sum reaches 15 h: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12.
        whole = Stage(name="hold", low_c=55, high_c=65, minimum_min=25)
        split = Stage(name="hold", low_c=55, high_c=65, minimum_min=25, may_be_split=True)
        assert judged(whole, *self.TWO_VISITS).proved_min == pytest.approx(25)
        assert judged(whole, *self.TWO_VISITS).longest_min == pytest.approx(12.5)
        assert not judged(whole, *self.TWO_VISITS).passed
        assert judged(split, *self.TWO_VISITS).passed

    def test_the_refusal_says_that_the_time_may_not_be_split(self):
        whole = Stage(name="hold", low_c=55, high_c=65, minimum_min=25)
        assert "may not be split" in judged(whole, *self.TWO_VISITS).sentences[0]


class TestGaps:
    def test_limit_is_three_intervals_or_five_minutes(self):
        assert gap_limit_min(times_min=[0, 1, 2, 3]) == 5
        assert gap_limit_min(times_min=[0, 4, 8, 12]) == 12

    def test_a_gap_counts_nothing_and_breaks_the_time(self):
        times = [*range(11), *range(17, 28)]
        verdict = judged(Stage(name="hold", low_c=55, high_c=65, minimum_min=20), times, [60.0] * 22)
        assert verdict.gaps == ((10, 17),)
        assert verdict.proved_min == pytest.approx(20)
        assert verdict.longest_min == pytest.approx(10)
        assert not verdict.passed

    def test_an_interval_just_at_the_limit_still_counts(self):
        times = [*range(11), *range(15, 26)]
        verdict = judged(Stage(name="hold", low_c=55, high_c=65, minimum_min=25), times, [60.0] * 22)
        assert verdict.gaps == ()
        assert verdict.passed

    def test_missing_samples_of_one_probe_are_a_gap_by_the_same_rule(self):
        times = list(range(31))
        whole: list[float | None] = [60.0] * 31
        short = [None if 10 < minute < 15 else 60.0 for minute in times]
        long = [None if 10 < minute < 16 else 60.0 for minute in times]
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=30)
        assert judged(hold, times, whole, short).passed
        assert judged(hold, times, whole, long).gaps == ((10, 16),)
        assert judged(hold, times, whole, long).proved_min == pytest.approx(24)

    def test_nothing_is_proved_before_the_first_or_after_the_last_sample(self):
        times = list(range(31))
        trace = [60.0 if 10 <= minute <= 20 else None for minute in times]
        verdict = judged(Stage(name="hold", low_c=55, high_c=65, minimum_min=10), times, trace)
        assert verdict.sections == ((10, 20),)
        assert verdict.gaps == ((0, 10), (20, 30))

    def test_a_probe_without_any_sample_proves_nothing(self):
        verdict = judged(Stage(name="hold", low_c=55, high_c=65, minimum_min=10), [0, 10, 20, 30, 40], [None] * 5)
        assert verdict.proved_min == 0
        assert verdict.gaps == ((0, 40),)

    def test_against_a_longest_time_a_gap_counts_in_full(self):
        times = [*range(11), *range(17, 28)]
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=10, maximum_min=25)
        verdict = judged(hold, times, [60.0] * 22)
        assert not verdict.passed
        assert any("With the gaps it may have been 27 min" in sentence for sentence in verdict.sentences)


class TestLongestTime:
    @pytest.mark.parametrize(("allowed", "passes"), [(30, True), (29.9, False)])
    def test_longer_than_allowed_fails(self, allowed, passes):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=10, maximum_min=allowed)
        assert judged(hold, [0, 10, 20, 30], [60.0] * 4).passed is passes


class TestOverTheMaximum:
    HOLD = Stage(name="injection repair", low_c=48.9, high_c=54.4, minimum_min=30, over_c=54.4)
    """125 ± 5 °F, never above 130 °F: US Army TM 1-1500-204-23-11."""

    def test_two_samples_in_a_row_fail(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30, 40, 50], [52, 52, 56, 57, 52, 52])
        assert [(run.probe, run.from_min, run.to_min, run.highest_c) for run in verdict.over] == [("P1", 20, 30, 57)]
        assert not verdict.passed

    def test_one_sample_alone_is_suspect_and_does_not_fail_by_itself(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30, 40, 50, 60], [52, 52, 90, 52, 52, 52, 52])
        assert verdict.over == ()
        assert [(sample.probe, sample.at_min, sample.temperature_c) for sample in verdict.suspects] == [("P1", 20, 90)]
        assert verdict.longest_min > 30
        assert verdict.passed
        assert any("suspect" in sentence for sentence in verdict.sentences)

    def test_one_sample_each_of_two_probes_is_not_two_in_a_row(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30], [52, 56, 52, 52], [52, 52, 56, 52])
        assert verdict.over == ()
        assert len(verdict.suspects) == 2

    def test_a_missing_sample_between_two_hot_ones_does_not_part_them(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30, 40], [52, 56, None, 56, 52])
        assert len(verdict.over) == 1

    def test_exactly_at_the_maximum_is_not_over_it(self):
        assert judged(self.HOLD, [0, 10, 20, 30], [54.4] * 4).passed

    def test_overshoot_before_the_lagging_probe_arrives_is_seen(self):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=20, over_c=70)
        verdict = judged(hold, [0, 10, 20, 30, 40, 50], [20, 72, 73, 60, 60, 60], [20, 30, 40, 55, 60, 60])
        assert verdict.proved_min == pytest.approx(20)
        assert not verdict.passed


class TestSlopes:
    DRYING = Stage(name="drying", low_c=55, high_c=65, minimum_min=10, heating_limit_k_min=5.6, cooling_limit_k_min=5.6)
    """Heating and cooling at most 10 °F/min: US Army TM 1-1500-204-23-11."""

    def test_slope_over_ten_minutes(self):
        verdict = judged(self.DRYING, [0, 10, 20, 30, 40], [20, 60, 60, 60, 30])
        assert verdict.fastest_heating_k_min == pytest.approx(4.0)
        assert verdict.fastest_cooling_k_min == pytest.approx(3.0)
        assert verdict.passed

    def test_a_short_step_is_spread_over_the_window(self):
        # 10 K within one minute are 1 K/min over ten.
        times = list(range(41))
        trace = [50.0 if minute < 20 else 60.0 for minute in times]
        assert judged(self.DRYING, times, trace).fastest_heating_k_min == pytest.approx(1.0)

    @pytest.mark.parametrize(("start_c", "passes"), [(4.0, True), (3.9, False)])
    def test_just_at_the_limit_passes_and_just_past_it_fails(self, start_c, passes):
        assert judged(self.DRYING, [0, 10, 20, 30], [start_c, 60, 60, 60]).passed is passes

    def test_cooling_too_fast_fails(self):
        assert not judged(self.DRYING, [0, 10, 20, 30], [60, 60, 60, 3]).passed

    def test_a_log_with_no_window_of_ten_minutes_proves_no_ramp(self):
        brief = Stage(name="hold", low_c=55, high_c=65, minimum_min=5, heating_limit_k_min=3)
        verdict = judged(brief, [0, 3, 6, 9], [60.0] * 4)
        assert verdict.fastest_heating_k_min is None
        assert not verdict.passed

    def test_a_suspect_sample_makes_no_slope(self):
        hold = Stage(name="hold", low_c=55, high_c=65, minimum_min=20, over_c=70, heating_limit_k_min=2)
        verdict = judged(hold, [0, 10, 20, 30, 40, 50, 60], [60, 60, 60, 60, 60, 200, 60])
        assert verdict.fastest_heating_k_min == pytest.approx(0)
        assert verdict.passed


class TestStagesInOrder:
    FIRST = Stage(name="first cure", low_c=20, high_c=25, minimum_min=1440)
    SECOND = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=900, may_be_split=True, over_c=70)
    """24 h at 20 to 25 °C, then 15 h at 60 ± 5 °C: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12."""

    @staticmethod
    def curve(*holds: tuple[float, float]) -> tuple[list[float], dict[str, list[float]]]:
        """Holds of (°C, minutes) with a quarter hour between them; a sample every 15 min."""
        trace = [temperature for temperature, minutes in holds for _ in range(int(minutes / 15) + 1)]
        return [15.0 * number for number in range(len(trace))], {"root": trace}

    def verdict(self, *holds: tuple[float, float]):
        times, probes = self.curve(*holds)
        return cure_verdict(stages=[self.FIRST, self.SECOND], times_min=times, probes=probes, required=["root"])

    def test_both_stages_in_their_order_pass(self):
        verdict = self.verdict((22, 1440), (60, 900), (22, 60))
        assert verdict.passed
        assert verdict.sentences[0] == "All stages are proved."

    def test_a_post_cure_before_the_first_cure_is_complete_does_not_count(self):
        verdict = self.verdict((60, 915), (22, 1455))
        assert [stage.passed for stage in verdict.stages] == [True, False]
        assert verdict.stages[1].proved_min == pytest.approx(0)
        assert verdict.sentences[0] == "Not proved: post-cure."

    def test_a_first_cure_cut_short_fails_and_the_post_cure_is_still_shown(self):
        verdict = self.verdict((22, 1200), (60, 900), (22, 60))
        assert [stage.passed for stage in verdict.stages] == [False, True]
        assert not verdict.passed

    def test_the_way_to_a_hotter_stage_is_not_over_the_maximum_of_the_cooler_one(self):
        first = Stage(name="first cure", low_c=20, high_c=25, minimum_min=60, over_c=30)
        times, probes = [10.0 * n for n in range(20)], {"root": [22.0] * 8 + [35, 45, 54] + [60.0] * 9}
        second = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60)
        assert cure_verdict(stages=[first, second], times_min=times, probes=probes, required=["root"]).passed

    def test_the_way_from_a_hotter_stage_is_not_over_the_maximum_of_the_cooler_one(self):
        hot = Stage(name="hot", low_c=115, high_c=125, minimum_min=60, over_c=130)
        warm = Stage(name="warm", low_c=75, high_c=85, minimum_min=60, over_c=90)
        times, probes = [10.0 * n for n in range(20)], {"root": [120.0] * 8 + [110, 95] + [80.0] * 10}
        assert cure_verdict(stages=[hot, warm], times_min=times, probes=probes, required=["root"]).passed

    def test_heating_limits_belong_to_the_way_to_their_own_stage(self):
        first = Stage(name="first cure", low_c=20, high_c=25, minimum_min=60, heating_limit_k_min=0.5)
        second = Stage(name="post-cure", low_c=55, high_c=65, minimum_min=60, heating_limit_k_min=2)
        times, probes = [10.0 * n for n in range(20)], {"root": [22.0] * 8 + [40] + [60.0] * 11}
        verdict = cure_verdict(stages=[first, second], times_min=times, probes=probes, required=["root"])
        assert verdict.stages[0].fastest_heating_k_min == pytest.approx(0)
        assert verdict.stages[1].fastest_heating_k_min == pytest.approx(2.0)
        assert verdict.passed


bands = st.builds(lambda low, width: (low, low + width), st.floats(20, 80), st.floats(1, 40))
logs = st.lists(
    st.tuples(st.floats(0.5, 20), st.floats(10, 120), st.none() | st.floats(10, 120)), min_size=2, max_size=30
)


def unpacked(log: list[tuple[float, float, float | None]], shift: float = 0.0):
    times, now = [], shift
    for step, _, _ in log:
        now += step
        times.append(now)
    return times, {"A": [first for _, first, _ in log], "B": [second for _, _, second in log]}


@given(log=logs, band=bands)
@settings(deadline=None, max_examples=60)
def test_a_further_required_probe_never_proves_more(log, band):
    times, probes = unpacked(log)
    stage = Stage(name="s", low_c=band[0], high_c=band[1], minimum_min=1)
    one = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A"])
    both = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A", "B"])
    assert both.proved_min <= one.proved_min + 1e-9
    assert one.longest_min <= one.proved_min + 1e-9
    assert one.proved_min <= times[-1] - times[0] + 1e-9


@given(log=logs, band=bands, more=st.floats(0, 20))
@settings(deadline=None, max_examples=60)
def test_a_wider_band_never_proves_less(log, band, more):
    times, probes = unpacked(log)
    narrow = Stage(name="s", low_c=band[0], high_c=band[1], minimum_min=1)
    wide = Stage(name="s", low_c=band[0] - more, high_c=band[1] + more, minimum_min=1)
    given_log = {"times_min": times, "probes": probes, "required": ["A", "B"]}
    assert (
        stage_verdict(stage=wide, **given_log).proved_min >= stage_verdict(stage=narrow, **given_log).proved_min - 1e-9
    )


@given(log=logs, band=bands)
@settings(deadline=None, max_examples=40)
def test_time_in_band_agrees_with_counting_small_steps(log, band):
    times, probes = unpacked(log)
    stage = Stage(name="s", low_c=band[0], high_c=band[1], minimum_min=1)
    verdict = stage_verdict(stage=stage, times_min=times, probes=probes, required=["A"])
    limit, steps, counted = gap_limit_min(times_min=times), 400, 0.0
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
    stage = Stage(name="s", low_c=55, high_c=65, minimum_min=100, over_c=70, heating_limit_k_min=3, may_be_split=True)
    start = time.perf_counter()
    stage_verdict(stage=stage, times_min=times, probes=probes, required=list(probes))
    assert time.perf_counter() - start < 3


class TestRefusals:
    STAGE = Stage(name="hold", low_c=55, high_c=65, minimum_min=10)

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
        ],
    )
    def test_a_log_that_is_not_in_order_is_refused_by_name(self, change, named):
        good = {"times_min": [0, 10, 20], "probes": {"A": [60, 60, 60]}, "required": ["A"]}
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
        ],
    )
    def test_a_stage_that_contradicts_itself_is_refused_by_name(self, field, value):
        good = {"name": "s", "low_c": 55, "high_c": 65, "minimum_min": 10}
        with pytest.raises(OutOfRange, match=field):
            Stage(**{**good, field: value})

    def test_a_schedule_without_stages_is_refused(self):
        with pytest.raises(OutOfRange, match="stages"):
            cure_verdict(stages=[], times_min=[0, 10], probes={"A": [60, 60]}, required=["A"])

    def test_a_log_keeps_its_samples_unchanged(self):
        assert Log((0.0, 1.0), {"A": (1.0, None)}).probes == {"A": (1.0, None)}
