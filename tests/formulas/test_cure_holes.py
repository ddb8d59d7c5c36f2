"""What a cure log leaves open, and which of its readings are doubted (shop rule 35)."""

import math

import pytest

from service.formulas.cure_log import hole_limit_min
from service.formulas.cure_verdicts import cure_verdict
from tests.formulas.cure_logs import asked, judged


class TestHoles:
    HOLD = asked(low_c=55, high_c=65, minimum_min=20)

    def test_a_hole_is_longer_than_the_schedule_allows_by_a_tenth(self):
        assert hole_limit_min(longest_interval_min=10) == pytest.approx(11)
        assert judged(self.HOLD, [0, 11, 22], [60.0] * 3).gaps == ()
        assert judged(self.HOLD, [0, 11.1, 22.1], [60.0] * 3).gaps == ((0, 11.1),)

    def test_the_limit_never_follows_from_the_log_itself(self):
        """Two readings, at minutes 0 and 640, prove nothing between them."""
        verdict = judged(asked(low_c=55, high_c=65, minimum_min=480), [0, 640], [60, 60])
        assert verdict.sentences[0].startswith("0 min proved between 55 and 65 °C, 8 h 0 min needed.")
        assert (verdict.proved_min, verdict.result) == (0, "not known")

    @pytest.mark.parametrize("edge", [55.0, 65.0])
    def test_a_part_that_stands_at_the_edge_of_the_band_is_in_it(self, edge):
        assert judged(self.HOLD, range(31), [edge] * 31, longest=1).proved_min == pytest.approx(30)

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

    def test_time_that_was_broken_names_the_probe_that_left_the_band_and_how_far(self):
        hold, times = asked(low_c=55, high_c=65, minimum_min=40), list(range(61))
        cold = [60.0 + minute % 2 for minute in times]
        cold[24:27] = [54.0, 51.0, 54.0]
        said = judged(hold, times, cold, longest=1).sentences[0]
        assert said.endswith("It is 6.2 min short: P1 left the band, 51.0 °C at minute 25.0.")
        cold[45] = 50.0
        said = judged(hold, times, cold, longest=1).sentences[0]
        assert said.endswith("P1 left the band, 51.0 °C at minute 25.0, and once more.")

    def test_of_two_probes_that_left_the_band_alike_the_first_is_named_and_its_edge_belongs_to_it(self):
        hold, times = asked(low_c=55, high_c=65, minimum_min=40), list(range(61))
        cold = [60.0 + minute % 2 for minute in times]
        edge = [*cold[:24], 55.0, 55.0, 55.0, *cold[27:]]
        cold[24:27] = [54.0, 51.0, 54.0]
        for traces, named in (((cold, cold), "P1"), ((edge, cold), "P2"), ((cold, edge), "P1")):
            said = judged(hold, times, *traces, longest=1).sentences[0]
            assert said.endswith(f"It is 6.2 min short: {named} left the band, 51.0 °C at minute 25.0.")

    def test_a_probe_that_is_doubted_from_the_start_was_not_out_of_the_band(self):
        """The time is too short by what another read; it is not said of the dead one that it was never in the band."""
        root = [60.0 + max(0.0, 20.0 - abs(60 - minute)) for minute in range(120)]
        hold = asked(low_c=55, high_c=65, minimum_min=100)
        said = judged(hold, range(120), root, [60.0] * 120, longest=1).sentences[0]
        assert "P2 is doubted from minute 0.0 on and counts nothing" in said

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
        assert "then jumped by +12.0 K within 2 min alone" in verdict.suspects[0].why
        assert verdict.suspects[0].temperature_c == 60, "what it read at that minute, not after the jump"

    def test_what_a_doubted_probe_reads_is_not_told_as_its_nearest(self):
        fell = [40.0] * 30 + [52.0] * 60
        verdict = judged(asked(low_c=55, high_c=75, minimum_min=80), range(90), [60.0] * 90, fell, longest=1)
        assert [(one.probe, one.at_min) for one in verdict.suspects] == [("P2", 28)]
        assert verdict.sentences[0].endswith("P2 was never in the band, 40.0 °C at the highest, at minute 0.0.")

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
