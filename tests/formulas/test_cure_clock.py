"""The clock of a cure runs while all required probes are in the band (shop rule 35)."""

import pytest

from service.formulas.cure_verdicts import cure_verdict, stage_verdict
from service.formulas.ranges import OutOfRange
from service.formulas.stages import CureVerdict, StageVerdict
from tests.formulas.cure_logs import asked, judged

FIFTEEN_HOURS_AT_60 = asked("post-cure", low_c=55, high_c=65, minimum_min=900)
"""60 ± 5 °C for 15 h: a published aircraft maintenance manual, Rev 21, 51-00-00 p. 12."""


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
