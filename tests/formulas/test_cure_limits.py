"""Highest temperatures and ramps of a cure (shop rule 35)."""

import pytest

from service.formulas.cure_verdicts import cure_verdict
from service.formulas.stages import CureVerdict, Stage, StageVerdict
from tests.formulas.cure_logs import asked, judged


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

    @pytest.mark.parametrize("every", [1 / 60, 1, 10])
    def test_alternating_90_and_60_never_passes_as_60(self, every):
        hold = asked(low_c=55, high_c=65, minimum_min=60, over_c=70)
        times = [every * place for place in range(round(400 / every))]
        trace = [90.0 if place % 2 else 60.0 for place in range(len(times))]
        assert judged(hold, times, trace, longest=max(every, 1)).result != "proved"

    def test_one_sample_of_120_in_a_coarse_log_is_over(self):
        hold = asked(low_c=55, high_c=65, minimum_min=60, over_c=70)
        trace = [60.0] * 20 + [120.0] + [60.0] * 20
        verdict = judged(hold, [10 * place for place in range(41)], trace)
        assert verdict.result == "violated"
        assert any("P1 was over 70 °C" in said and "120.0 °C at the highest" in said for said in verdict.sentences)

    def test_a_stage_says_its_highest_temperatures_or_says_that_it_has_none(self):
        """150 °C once passed where nobody had stated a maximum."""
        for missing in ("over_c", "air_over_c"):
            said = {"name": "hold", "low_c": 55, "high_c": None, "minimum_min": 10, "over_c": None, "air_over_c": None}
            del said[missing]
            with pytest.raises(TypeError, match=missing):
                Stage(**said)
        assert judged(asked(low_c=55, high_c=None, minimum_min=10, over_c=149), range(60), [150.0] * 60).over

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
