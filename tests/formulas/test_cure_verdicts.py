"""What a cure log proves: the clock, holes, excursions, slopes, doubt, stages in their order (shop rules 35 to 37)."""

import math
import time
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas.cure_log import Log, hole_limit_min
from service.formulas.cure_verdicts import cure_verdict, stage_verdict
from service.formulas.ranges import OutOfRange
from service.formulas.stages import CureVerdict, Stage, StageVerdict


def asked(name: str = "hold", **facts: Any) -> Stage:
    """A stage that states no highest temperatures where a test is not about them."""
    return Stage(**{"name": name, "over_c": None, "air_over_c": None, **facts})


FIFTEEN_HOURS_AT_60 = asked("post-cure", low_c=55, high_c=65, minimum_min=900)
"""60 ± 5 °C for 15 h: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12."""


def judged(stage: Stage, times: Any, *traces: Any, longest: float = 10) -> StageVerdict:
    """A log of required probes P1, P2, … against one stage; its samples may be ``longest`` apart."""
    probes = {f"P{number}": trace for number, trace in enumerate(traces, 1)}
    return stage_verdict(
        stage=stage, times_min=times, probes=probes, required=list(probes), longest_interval_min=longest
    )


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
                # A probe that lives is never quite still.
                trace.append(min(60.0, 55 + (minute - reached) / 2) + 0.1 * (minute % 2))
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
            stage=asked(low_c=55, high_c=65, minimum_min=10, over_c=70),
            times_min=[0, 10, 20],
            probes={"part": [60, 60, 60], "air": [90, 90, 90]},
            required=["part"],
            longest_interval_min=10,
        )
        assert verdict.passed

    def test_crossings_lie_on_the_straight_line_between_samples(self):
        # 50 to 60 °C in 10 min passes 55 at 5 min; 60 to 80 in 10 min passes 65 at 2.5 min.
        hold = asked(low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 10, 20], [50, 60, 80]).sections == ((5.0, 12.5),)

    def test_a_jump_right_through_the_band_counts_its_part(self):
        hold = asked(low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 4], [50, 70]).sections == ((1.0, 3.0),)

    def test_the_edges_of_the_band_belong_to_it(self):
        hold = asked(low_c=55, high_c=65, minimum_min=20)
        assert judged(hold, [0, 10, 20], [55, 65, 55]).passed
        assert judged(hold, [0, 10, 20], [54.9, 54.9, 54.9]).proved_min == 0

    def test_touching_the_edge_is_no_time(self):
        hold = asked(low_c=55, high_c=65, minimum_min=1)
        assert judged(hold, [0, 10, 20], [50, 55, 50]).sections == ()


class TestSplitTime:
    TWO_VISITS = ([0, 10, 20, 30, 40, 50], [60, 60, 40, 40, 60, 60])

    def test_split_time_adds_up_only_where_the_stage_allows_it(self):
        # Split as long as the sum reaches 15 h: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12.
        whole = asked(low_c=55, high_c=65, minimum_min=25)
        split = asked(low_c=55, high_c=65, minimum_min=25, may_be_split=True)
        assert judged(whole, *self.TWO_VISITS).proved_min == pytest.approx(25)
        assert judged(whole, *self.TWO_VISITS).longest_min == pytest.approx(12.5)
        assert not judged(whole, *self.TWO_VISITS).passed
        assert judged(split, *self.TWO_VISITS).passed

    def test_the_refusal_says_that_the_time_may_not_be_split(self):
        whole = asked(low_c=55, high_c=65, minimum_min=25)
        assert "may not be split" in judged(whole, *self.TWO_VISITS).sentences[0]


class TestHoles:
    HOLD = asked(low_c=55, high_c=65, minimum_min=20)

    def test_a_hole_is_longer_than_the_schedule_allows_by_a_tenth(self):
        assert hole_limit_min(longest_interval_min=10) == pytest.approx(11)
        assert judged(self.HOLD, [0, 11, 22], [60.0] * 3).gaps == ()
        assert judged(self.HOLD, [0, 11.1, 22.1], [60.0] * 3).gaps == ((0, 11.1),)

    def test_the_limit_never_follows_from_the_log_itself(self):
        """Two readings, at minutes 0 and 640, prove nothing between them."""
        verdict = judged(asked(low_c=55, high_c=65, minimum_min=480), [0, 640], [60, 60])
        assert (verdict.proved_min, verdict.result) == (0, "not known")

    def test_a_hole_counts_no_time(self):
        times = [*range(11), *range(31, 52)]
        assert judged(self.HOLD, times, [60.0] * 32, longest=1).proved_min == pytest.approx(30)

    @pytest.mark.parametrize(("minutes", "longest", "result"), [(60, 30, "proved"), (61, 15, "not known")])
    def test_up_to_an_hour_with_both_ends_in_band_it_does_not_break_the_time(self, minutes, longest, result):
        times = [*range(16), *range(15 + minutes, 31 + minutes)]
        verdict = judged(asked(low_c=55, high_c=65, minimum_min=30), times, [60.0] * 32, longest=1)
        assert verdict.longest_min == pytest.approx(longest)
        assert verdict.result == result

    def test_with_an_end_out_of_the_band_it_does(self):
        times = [*range(16), *range(35, 51)]
        verdict = judged(
            asked(low_c=55, high_c=65, minimum_min=30), times, [60.0] * 16 + [54.0] + [60.0] * 15, longest=1
        )
        assert verdict.longest_min < 16

    def test_missing_samples_of_one_probe_are_a_hole_by_the_same_rule(self):
        times = list(range(31))
        whole: list[float | None] = [60.0] * 31
        short = [None if 10 < minute < 15 else 60.0 for minute in times]
        long = [None if 10 < minute < 16 else 60.0 for minute in times]
        hold = asked(low_c=55, high_c=65, minimum_min=30)
        assert judged(hold, times, whole, short, longest=5).passed
        assert judged(hold, times, whole, long, longest=5).gaps == ((10, 16),)
        assert judged(hold, times, whole, long, longest=5).proved_min == pytest.approx(24)

    def test_nothing_is_proved_before_the_first_or_after_the_last_sample(self):
        times = list(range(31))
        trace = [60.0 if 10 <= minute <= 20 else None for minute in times]
        verdict = judged(asked(low_c=55, high_c=65, minimum_min=10), times, trace, longest=1)
        assert verdict.sections == ((10, 20),)
        assert verdict.gaps == ((0, 10), (20, 30))

    def test_a_probe_without_any_sample_proves_nothing(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30, 40], [None] * 5)
        assert (verdict.proved_min, verdict.gaps, verdict.result) == (0, ((0, 40),), "not known")

    def test_a_hole_over_half_an_hour_leaves_the_highest_unknown(self):
        hold = asked(low_c=55, high_c=65, minimum_min=20, over_c=70)
        for minutes, result in ((30, "proved"), (31, "not known")):
            times = [*range(31), *range(30 + minutes, 61 + minutes)]
            verdict = judged(hold, times, [60.0] * 62, longest=1)
            assert verdict.result == result
        assert any("nothing is known of P1 from minute 30.0 to 61.0" in said for said in verdict.sentences)

    def test_against_a_longest_time_what_is_not_known_may_have_been_in_the_band(self):
        times = [*range(11), *range(25, 36)]
        hold = asked(low_c=55, high_c=65, minimum_min=10, maximum_min=12)
        trace = [60.0] * 11 + [50.0] * 11
        verdict = judged(hold, times, trace, longest=1)
        assert verdict.result == "not known"
        assert any("may have been 25 min in the band" in said for said in verdict.sentences)

    def test_what_the_log_shows_is_violated_and_what_it_leaves_open_is_not_known(self):
        seen = judged(asked(low_c=55, high_c=65, minimum_min=30), list(range(26)), [60.0] * 26, longest=1)
        assert seen.result == "violated"
        assert "P1 was in the band from minute 0.0 to 25.0 at the most" in seen.sentences[0]
        assert "5 min short" in seen.sentences[0]
        open_ended = judged(
            asked(low_c=55, high_c=65, minimum_min=30), [*range(21), *range(32, 38)], [60.0] * 27, longest=1
        )
        assert open_ended.result == "not known"

    def test_a_probe_that_never_came_there_is_named_with_its_nearest(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30], [60] * 4, [20, 54, 53, 52])
        assert "P2 was never in the band, 54.0 °C at the highest, at minute 10.0" in verdict.sentences[0]


class TestDips:
    """An opened door: the part falls below the band for a while."""

    TRACE = [60.0] * 30 + [54.0, 51.0, 54.0] + [60.0] * 30

    def dipped(self, **allowed: float) -> StageVerdict:
        return judged(asked(low_c=55, high_c=65, minimum_min=50, **allowed), range(63), self.TRACE, longest=1)

    def test_one_within_the_minutes_and_kelvin_of_the_schedule_does_not_break_the_time(self):
        verdict = self.dipped(dip_min=5, dip_k=4)
        assert verdict.result == "proved"
        # It lasts from minute 29.83 to 32.17, and counts nothing itself.
        assert verdict.proved_min == pytest.approx(62 - 14 / 6)

    @pytest.mark.parametrize("allowed", [{}, {"dip_min": 2, "dip_k": 4}, {"dip_min": 5, "dip_k": 3.9}])
    def test_one_longer_or_deeper_does(self, allowed):
        assert self.dipped(**allowed).result == "violated"

    def test_one_above_the_band_always_does(self):
        trace = [60.0] * 30 + [66.0] + [60.0] * 32
        stage = asked(low_c=55, high_c=65, minimum_min=50, dip_min=5, dip_k=10)
        assert judged(stage, range(63), trace, longest=1).result == "violated"

    def test_one_with_a_hole_in_it_does(self):
        times = [*range(30), 31, *range(33, 63)]
        trace = [60.0] * 30 + [52.0] + [60.0] * 30
        stage = asked(low_c=55, high_c=65, minimum_min=50, dip_min=5, dip_k=10)
        assert judged(stage, times, trace, longest=1).longest_min < 31


class TestLongestTime:
    @pytest.mark.parametrize(("allowed", "passes"), [(30, True), (29.9, False)])
    def test_longer_than_allowed_fails(self, allowed, passes):
        hold = asked(low_c=55, high_c=65, minimum_min=10, maximum_min=allowed)
        assert judged(hold, [0, 10, 20, 30], [60.0] * 4).passed is passes

    def test_it_runs_from_the_first_to_the_last_moment_in_the_band(self):
        hold = asked(low_c=55, high_c=65, minimum_min=10, maximum_min=45)
        verdict = judged(hold, [0, 10, 20, 30, 40, 50], [60, 60, 40, 40, 60, 60])
        assert verdict.result == "violated"
        assert any(
            "By P1 it was in the band for 50 min, from minute 0.0 to 50.0; 45 min is allowed." in said
            for said in verdict.sentences
        )


class TestOverTheMaximum:
    HOLD = asked("injection repair", low_c=48.9, high_c=54.4, minimum_min=10, over_c=54.4)
    """125 ± 5 °F, never above 130 °F: US Army TM 1-1500-204-23-11."""

    def test_where_samples_are_over_two_minutes_apart_any_sample_is_over(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30, 40, 50], [52, 52, 56, 52, 52, 52])
        assert [(run.probe, run.highest_c) for run in verdict.over] == [("P1", 56)]
        assert verdict.result == "violated"
        assert any("P1 was over 54.4 °C from minute" in said and "56.0 °C" in said for said in verdict.sentences)

    def test_with_close_samples_two_minutes_in_all_within_ten_are_over(self):
        def with_peaks(*minutes: int) -> StageVerdict:
            # A peak of one sample, 2 K over its neighbours at the maximum, lasts a minute on either side of it.
            trace = [54.4 + 2 * (minute in minutes) for minute in range(40)]
            return judged(self.HOLD, range(40), trace, longest=1)

        assert with_peaks(20).result == "violated"
        # Straight lines between 52 and 56 are over 54.4 °C for 0.4 min on either side.
        trace = [52 + 4 * (minute in (10, 14)) for minute in range(40)]
        assert judged(self.HOLD, range(40), trace, longest=1).over == ()
        trace = [52 + 4 * (minute in (10, 14, 18)) for minute in range(40)]
        verdict = judged(self.HOLD, range(40), trace, longest=1)
        assert [(round(run.from_min, 1), round(run.to_min, 1)) for run in verdict.over] == [(9.6, 18.4)]

    def test_what_is_shorter_is_told_and_does_not_fail(self):
        trace = [52 + 4 * (minute == 20) for minute in range(40)]
        verdict = judged(self.HOLD, range(40), trace, longest=1)
        assert verdict.result == "proved"
        assert any("for less than 2 min, at minute 19.6, 56.0 °C" in said for said in verdict.sentences)

    def test_alternating_samples_are_over(self):
        hold = asked(low_c=55, high_c=95, minimum_min=10, over_c=95)
        trace = [110.0 if minute % 2 else 85.0 for minute in range(60)]
        assert judged(hold, range(60), trace, longest=1).result == "violated"

    def test_two_probes_at_once_are_each_over(self):
        verdict = judged(self.HOLD, [0, 10, 20, 30], [52, 56, 52, 52], [52, 56, 52, 52])
        assert [run.probe for run in verdict.over] == ["P1", "P2"]

    def test_exactly_at_the_maximum_is_not_over_it(self):
        assert judged(self.HOLD, [0, 10, 20, 30], [54.4] * 4).passed

    def test_overshoot_before_the_lagging_probe_arrives_is_seen(self):
        hold = asked(low_c=55, high_c=65, minimum_min=20, over_c=70)
        verdict = judged(hold, [0, 10, 20, 30, 40, 50], [40, 72, 73, 60, 60, 60], [20, 31, 42, 55, 60, 60])
        assert verdict.proved_min == pytest.approx(20)
        assert verdict.result == "violated"

    def test_a_left_out_part_probe_still_guards_the_maximum_and_the_air_has_one_of_its_own(self):
        hold = asked(low_c=55, high_c=65, minimum_min=10, over_c=70, air_over_c=90)

        def guarded(keel: float, air: float) -> CureVerdict:
            return cure_verdict(
                stages=[hold],
                times_min=[0, 10, 20],
                probes={"root": [60] * 3, "keel": [keel] * 3, "air": [air] * 3},
                required=["root"],
                left_out=["keel"],
                air=["air"],
                longest_interval_min=10,
            )

        assert guarded(70, 90).result == "proved"
        assert guarded(70.1, 90).result == "violated"
        assert guarded(70, 90.1).result == "violated"
        assert any(said.startswith("hold: air was over 90 °C") for said in guarded(70, 90.1).sentences)

    def test_a_limit_of_the_air_that_no_probe_watches_is_not_known(self):
        hold = asked(low_c=55, high_c=65, minimum_min=10, air_over_c=90)
        assert judged(hold, [0, 10, 20], [60] * 3).result == "not known"


class TestDoubt:
    HOLD = asked(low_c=55, high_c=65, minimum_min=20, over_c=70)

    def test_out_and_back_faster_than_a_part_can_is_a_hole_and_asked_about(self):
        trace = [60.0] * 60
        trace[30] = 200.0
        verdict = judged(self.HOLD, range(60), trace, longest=1)
        assert verdict.result == "proved"
        assert verdict.gaps == ((29, 31),)
        assert [(one.probe, one.at_min, one.temperature_c) for one in verdict.suspects] == [("P1", 30, 200)]
        assert "out and back faster than 30 K/min" in verdict.suspects[0].why

    def test_slower_than_that_it_is_a_peak(self):
        # 25 K up and 25 K down within a minute each: over 70 °C for 1.2 min.
        trace = [60.0] * 60
        trace[30] = 85.0
        verdict = judged(self.HOLD, range(60), trace, longest=1)
        assert (verdict.suspects, verdict.gaps) == ((), ())

    def test_noise_is_no_spike(self):
        # Half a kelvin from second to second is 30 K/min and more.
        times = [second / 60 for second in range(1800)]
        trace = [60 + 0.6 * (second % 2) for second in range(1800)]
        verdict = judged(self.HOLD, times, trace, longest=1)
        assert (verdict.result, verdict.suspects) == ("proved", ())

    def test_a_reading_outside_the_range_of_its_sensor_is_a_hole(self):
        times, trace = list(range(60)), [60.0] * 60
        trace[20:25] = [-200.0] * 5
        verdict = cure_verdict(
            stages=[self.HOLD],
            times_min=times,
            probes={"P1": trace},
            required=["P1"],
            longest_interval_min=1,
            sensor_ranges_c={"P1": (-50, 150)},
        ).stages[0]
        assert verdict.gaps == ((19, 25),)
        assert {one.why for one in verdict.suspects} == {"outside the sensor's range of -50 to 150 °C"}

    def test_a_probe_that_jumps_alone_counts_nothing_from_then_on(self):
        root = [60.0] * 90
        fell = [60.0] * 30 + [72.0] * 60
        hold = asked(low_c=55, high_c=75, minimum_min=60)
        verdict = judged(hold, range(90), root, fell, longest=1)
        assert verdict.result == "not known"
        assert verdict.sections == ((0, 28),)
        assert [(one.probe, one.at_min) for one in verdict.suspects] == [("P2", 28)]
        assert "jumped by +12.0 K within 2 min alone" in verdict.suspects[0].why

    def test_where_another_moves_with_it_it_did_not_jump_alone(self):
        one = [60.0] * 30 + [72.0] * 60
        other = [60.0] * 30 + [65.0] * 60
        assert judged(asked(low_c=55, high_c=75, minimum_min=60), range(90), one, other, longest=1).result == "proved"

    def test_a_probe_that_stands_still_while_another_moves_counts_nothing(self):
        still = [60.0] * 120
        moves = [60.0 + minute / 10 for minute in range(120)]
        hold = asked(low_c=55, high_c=75, minimum_min=60)
        verdict = judged(hold, range(120), still, moves, longest=1)
        assert verdict.result == "proved", "12 K in all"
        moves = [60 + min(minute / 4, 15) for minute in range(120)]
        verdict = judged(hold, range(120), still, moves, longest=1)
        assert verdict.result == "not known"
        assert "stood still" in verdict.suspects[0].why

    def test_a_swinging_oven_does_not_make_a_steady_part_suspect(self):
        air = [80 + 10 * math.sin(minute / 3) for minute in range(240)]
        verdict = cure_verdict(
            stages=[asked(low_c=55, high_c=65, minimum_min=200)],
            times_min=range(240),
            probes={"root": [60.0] * 240, "air": air},
            required=["root"],
            air=["air"],
            longest_interval_min=1,
        )
        assert verdict.result == "proved"


class TestWindow:
    """Only what was logged between the parts' own in and out counts."""

    def windowed(self, begin: float | None, end: float | None) -> CureVerdict:
        return cure_verdict(
            stages=[asked(low_c=55, high_c=65, minimum_min=60)],
            times_min=[5 * step for step in range(41)],
            probes={"root": [60.0] * 41},
            required=["root"],
            longest_interval_min=5,
            from_min=begin,
            until_min=end,
        )

    def test_time_outside_of_it_counts_nothing(self):
        assert self.windowed(100, 200).stages[0].proved_min == pytest.approx(100)
        assert self.windowed(150, 200).result == "violated"
        # The samples within it are at minutes 155 to 195.
        assert self.windowed(151, 199).stages[0].proved_min == pytest.approx(40)

    def test_the_log_must_span_both(self):
        assert self.windowed(-5.5, 205.5).result == "proved"
        early, late = self.windowed(-6, 200), self.windowed(0, 206)
        assert early.result == late.result == "not known"
        assert "hold: The log of root begins 6 min after the parts went in." in early.sentences
        assert "hold: The log of root ends 6 min before the parts came out." in late.sentences

    def test_an_end_before_the_beginning_is_refused(self):
        with pytest.raises(OutOfRange, match="until_min"):
            self.windowed(100, 99)


class TestSlopes:
    DRYING = asked("drying", low_c=55, high_c=65, minimum_min=10, heating_limit_k_min=5.6, cooling_limit_k_min=5.6)
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
        brief = asked(low_c=55, high_c=65, minimum_min=5, heating_limit_k_min=3)
        verdict = judged(brief, [0, 3, 6, 9], [60.0] * 4)
        assert verdict.fastest_heating_k_min is None
        assert not verdict.passed

    def test_a_doubted_sample_makes_no_slope(self):
        hold = asked(low_c=55, high_c=65, minimum_min=20, over_c=70, heating_limit_k_min=2)
        trace = [60.0] * 40
        trace[25] = 200.0
        verdict = judged(hold, range(40), trace, longest=1)
        assert verdict.fastest_heating_k_min == pytest.approx(0)
        assert verdict.passed

    def test_a_slope_is_never_taken_across_a_hole(self):
        # 40 K within the hole: over its 30 min they would read as 1.3 K/min.
        hold = asked(low_c=55, high_c=65, minimum_min=20, heating_limit_k_min=2)
        times = [*range(15), *range(44, 84)]
        verdict = judged(hold, times, [20.0] * 15 + [60.0] * 40, longest=1)
        assert verdict.fastest_heating_k_min == pytest.approx(0)
        assert verdict.result == "not known"
        assert any("nothing is known of P1 from minute 14.0 to 44.0" in said for said in verdict.sentences)

    @pytest.mark.parametrize(("rise", "result"), [(20.0, "proved"), (20.1, "not known")])
    def test_a_hole_hides_a_ramp_only_where_its_ends_differ_by_ten_minutes_of_the_limit(self, rise, result):
        hold = asked(low_c=55, high_c=65, minimum_min=20, heating_limit_k_min=2)
        times = [*range(15), *range(44, 84)]
        assert judged(hold, times, [60 - rise] * 15 + [60.0] * 40, longest=1).result == result

    def test_too_steep_a_ramp_is_named_with_probe_and_time(self):
        verdict = judged(self.DRYING, [0, 10, 20, 30], [10, 60, 60, 60], [3, 60, 60, 60])
        assert verdict.result == "violated"
        assert any("5.70 K/min, of P2 from minute 0.0 to 10.0; at most 5.6" in said for said in verdict.sentences)


def in_order(stages: list[Stage], times: Any, probes: Any, longest: float = 10) -> CureVerdict:
    return cure_verdict(
        stages=stages, times_min=times, probes=probes, required=list(probes), longest_interval_min=longest
    )


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


@given(log=logs, band=bands)
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
