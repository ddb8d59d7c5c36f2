"""Life tables, and how temperature moves a clock (shop rules 20 and 24 to 27)."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.arrhenius import (
    activation_energy_kj_mol,
    equivalent_age_min,
    rate_factor,
    rule_of_thumb_factor,
)
from service.formulas.clocks import LifePoint, corrected_deadline_min, life_min, rule_of_thumb_life, tray_deadline_min
from service.formulas.ranges import OutOfRange

GRID = [LifePoint(100, 20, 40), LifePoint(100, 30, 20), LifePoint(400, 20, 30), LifePoint(400, 30, 15)]
ONE_MASS = [LifePoint(100, 20, 40), LifePoint(100, 25, 28), LifePoint(100, 30, 20)]
ONE_TEMPERATURE = [LifePoint(100, 20, 40), LifePoint(400, 20, 30)]
HEAVIER_MASS_ONLY_COOL = [LifePoint(100, 20, 40), LifePoint(100, 30, 20), LifePoint(400, 20, 30)]


class TestLifeTable:
    @pytest.mark.parametrize("point", GRID)
    def test_every_point_gives_its_own_life(self, point):
        life = life_min(points=GRID, mass_g=point.mass_g, temperature_c=point.temperature_c)
        assert life.minutes == pytest.approx(point.life_min)
        assert life.bound == "exact"

    def test_half_way_in_temperature_is_the_geometric_mean(self):
        # Hand calculation: sqrt(40 * 20) = 28.28.
        assert life_min(points=GRID, mass_g=100, temperature_c=25).minutes == pytest.approx(28.28, abs=0.005)

    def test_half_way_in_the_logarithm_of_mass_is_the_geometric_mean(self):
        # Hand calculation: 200 g lies half way between 100 and 400 g; sqrt(40 * 30) = 34.64.
        assert life_min(points=GRID, mass_g=200, temperature_c=20).minutes == pytest.approx(34.64, abs=0.005)

    def test_half_way_in_both(self):
        # Hand calculation: (40 * 20 * 30 * 15)^(1/4) = 24.49.
        assert life_min(points=GRID, mass_g=200, temperature_c=25).minutes == pytest.approx(24.49, abs=0.005)

    def test_hotter_than_the_table_has_no_figure(self):
        life = life_min(points=GRID, mass_g=100, temperature_c=30.1)
        assert life.minutes is None
        assert life.bound == "shorter than"
        assert life.shorter_than_min == pytest.approx(20)
        assert "hotter than the table (30 °C)" in life.sentence

    def test_heavier_than_the_table_has_no_figure(self):
        life = life_min(points=GRID, mass_g=401, temperature_c=20)
        assert life.minutes is None
        assert life.shorter_than_min == pytest.approx(30)
        assert "heavier than the table (400 g)" in life.sentence

    def test_heavier_and_cooler_has_no_figure_either(self):
        life = life_min(points=GRID, mass_g=401, temperature_c=10)
        assert life.minutes is None
        assert life.shorter_than_min == pytest.approx(30)

    @pytest.mark.parametrize(("mass_g", "temperature_c"), [(100, 10), (50, 20), (10, -5)])
    def test_cooler_or_lighter_is_held_at_the_edge(self, mass_g, temperature_c):
        life = life_min(points=GRID, mass_g=mass_g, temperature_c=temperature_c)
        assert life.minutes == pytest.approx(40)
        assert life.bound == "at least, held at the edge"

    def test_a_single_mass_with_several_temperatures(self):
        assert life_min(points=ONE_MASS, mass_g=100, temperature_c=25).bound == "exact"
        assert life_min(points=ONE_MASS, mass_g=80, temperature_c=25).minutes == pytest.approx(28)
        assert life_min(points=ONE_MASS, mass_g=120, temperature_c=25).minutes is None

    def test_a_single_temperature_with_several_masses(self):
        assert life_min(points=ONE_TEMPERATURE, mass_g=200, temperature_c=20).bound == "exact"
        assert life_min(points=ONE_TEMPERATURE, mass_g=200, temperature_c=21).minutes is None
        assert life_min(points=ONE_TEMPERATURE, mass_g=200, temperature_c=19).minutes == pytest.approx(34.64, abs=0.005)

    def test_a_heavier_mass_known_only_cool_gives_no_figure_warm(self):
        life = life_min(points=HEAVIER_MASS_ONLY_COOL, mass_g=200, temperature_c=25)
        assert life.minutes is None
        # Hand calculation: no longer than the 100 g at the same temperature, sqrt(40 * 20).
        assert life.shorter_than_min == pytest.approx(28.28, abs=0.005)

    def test_one_point_holds_at_its_own_mass_and_temperature_and_says_so(self):
        point = [LifePoint(100, 20, 70)]
        life = life_min(points=point, mass_g=100, temperature_c=20)
        assert life.bound == "exact"
        assert "one point only" in life.sentence
        assert life_min(points=point, mass_g=100, temperature_c=20.1).minutes is None
        assert life_min(points=point, mass_g=99, temperature_c=20).bound == "at least, held at the edge"

    def test_the_order_of_the_points_does_not_matter(self):
        assert life_min(points=GRID[::-1], mass_g=222, temperature_c=23) == life_min(
            points=GRID, mass_g=222, temperature_c=23
        )

    @given(mass=st.floats(1, 2000), temperature=st.floats(-10, 50), heavier=st.floats(1, 3), hotter=st.floats(0, 10))
    @settings(deadline=None, max_examples=100)
    def test_heavier_or_hotter_is_never_said_to_live_longer(self, mass, temperature, heavier, hotter):
        here = life_min(points=GRID, mass_g=mass, temperature_c=temperature)
        there = life_min(points=GRID, mass_g=mass * heavier, temperature_c=temperature + hotter)
        if here.minutes is None:
            assert there.minutes is None
        elif there.minutes is not None:
            assert there.minutes <= here.minutes * (1 + 1e-12)

    @given(mass=st.floats(1, 2000), temperature=st.floats(-10, 50))
    @settings(deadline=None, max_examples=50)
    def test_no_figure_leaves_the_table_s_own_lives(self, mass, temperature):
        life = life_min(points=GRID, mass_g=mass, temperature_c=temperature)
        figure = life.minutes if life.minutes is not None else life.shorter_than_min
        assert 15 - 1e-9 <= figure <= 40 + 1e-9

    @pytest.mark.parametrize(
        ("points", "said"),
        [
            ([], "a list of 0"),
            ([LifePoint(100, 20, 40), LifePoint(100, 20, 40)], "twice"),
            ([LifePoint(100, 20, 40), LifePoint(100, 30, 41)], "longer for 100 g at 30 °C"),
            ([LifePoint(100, 20, 40), LifePoint(200, 20, 41)], "longer for 200 g at 20 °C"),
        ],
    )
    def test_a_table_that_contradicts_itself_is_refused(self, points, said):
        with pytest.raises(OutOfRange, match=said):
            life_min(points=points, mass_g=100, temperature_c=20)

    @pytest.mark.parametrize("mass_g", [0, -1, math.nan, math.inf, True, "100", 1.1e6])
    def test_nonsense_masses_are_refused(self, mass_g):
        with pytest.raises(OutOfRange, match="mass_g"):
            life_min(points=GRID, mass_g=mass_g, temperature_c=20)

    @pytest.mark.parametrize("field", ["mass_g", "life_min"])
    def test_a_point_of_nothing_is_refused(self, field):
        with pytest.raises(OutOfRange, match=field):
            LifePoint(**{"mass_g": 100, "temperature_c": 20, "life_min": 40, field: 0})


class TestCorrectedDeadline:
    def test_a_larger_pot_has_an_earlier_deadline(self):
        # Hand calculation on the table: 40 * (30/40)^(ln 1.1 / ln 4) = 39.22.
        life = corrected_deadline_min(points=GRID, mass_before_g=100, mass_after_g=110, temperature_c=20)
        assert life.minutes == pytest.approx(39.22, abs=0.005)

    def test_past_the_table_there_is_no_figure(self):
        life = corrected_deadline_min(points=GRID, mass_before_g=400, mass_after_g=410, temperature_c=20)
        assert life.minutes is None

    def test_a_pot_does_not_shrink_by_a_correction(self):
        with pytest.raises(OutOfRange, match="mass_after_g"):
            corrected_deadline_min(points=GRID, mass_before_g=110, mass_after_g=100, temperature_c=20)


class TestRuleOfThumb:
    def test_halves_for_every_ten_kelvin(self):
        # A published support note of a resin maker on gel times: half for every 18 °F.
        assert rule_of_thumb_life(point=LifePoint(100, 20, 70), temperature_c=30).minutes == pytest.approx(35)

    def test_cooler_it_never_promises_more_than_its_slow_end(self):
        # Resins lie between 1.5 and 2.5 for 10 K; cooler by 10 K the life may be no more than 1.5 times as long.
        life = rule_of_thumb_life(point=LifePoint(100, 25, 40), temperature_c=15)
        assert life.minutes == pytest.approx(60)
        assert "1.5 times for 10 K cooler" in life.sentence

    def test_a_hot_shop_takes_more_than_half_off(self):
        # Above 90 °F (32.2 °C) take 50 % off: US Army TM 1-1500-204-23-11. 70 min at 20 °C become 30 min.
        life = rule_of_thumb_life(point=LifePoint(100, 20, 70), temperature_c=32.2)
        assert life.minutes == pytest.approx(30, abs=0.1)

    def test_is_marked_as_what_it_is(self):
        life = rule_of_thumb_life(point=LifePoint(100, 20, 70), temperature_c=25)
        assert life.bound == "rule of thumb"
        assert "rule of thumb" in life.sentence

    @pytest.mark.parametrize("temperature_c", [-0.1, 40.1])
    def test_is_refused_far_from_its_point(self, temperature_c):
        with pytest.raises(OutOfRange, match="temperature_c"):
            rule_of_thumb_life(point=LifePoint(100, 20, 70), temperature_c=temperature_c)

    @pytest.mark.parametrize(
        ("temperature_c", "factor"),
        [
            (10, 0.4061),
            (15, 0.5743),
            (20, 0.8123),
            (25, 1.1487),
            (30, 1.6245),
            (35, 2.2974),
            (40, 3.2490),
            (60, 12.996),
        ],
    )
    def test_factors_from_23_degrees(self, temperature_c, factor):
        # Computed: 2^((T - 23)/10).
        assert rule_of_thumb_factor(temperature_c=temperature_c, reference_c=23) == pytest.approx(factor, abs=0.0005)

    def test_factor_is_refused_over_40_kelvin(self):
        with pytest.raises(OutOfRange, match="temperature_c"):
            rule_of_thumb_factor(temperature_c=64, reference_c=23)


class TestArrhenius:
    @pytest.mark.parametrize(
        ("cool", "hot", "energy"), [(20, 30, 51.22), (23, 33, 52.25), (25, 35, 52.95), (15, 25, 49.51)]
    )
    def test_energy_that_doubles_the_rate(self, cool, hot, energy):
        # Computed from the Arrhenius equation with R = 8.314462618 J/(mol K).
        found = activation_energy_kj_mol(temperature_1_c=cool, life_1_min=60, temperature_2_c=hot, life_2_min=30)
        assert found == pytest.approx(energy, abs=0.005)

    @pytest.mark.parametrize(
        ("temperature_c", "at_50", "at_60"),
        [
            (10, 0.3937, 0.3267),
            (15, 0.5691, 0.5084),
            (20, 0.8124, 0.7793),
            (25, 1.1459, 1.1776),
            (30, 1.5982, 1.7553),
            (35, 2.2051, 2.5829),
            (40, 3.0112, 3.7540),
            (60, 9.537, 14.973),
        ],
    )
    def test_factors_from_23_degrees(self, temperature_c, at_50, at_60):
        # Computed from the Arrhenius equation.
        def factor(energy):
            return rate_factor(temperature_c=temperature_c, reference_c=23, activation_energy_kj_mol=energy)

        assert factor(50) == pytest.approx(at_50, abs=0.0005)
        assert factor(60) == pytest.approx(at_60, abs=0.0005)

    @pytest.mark.parametrize(("energy", "lives"), [(60, 7.27), (70, 3.79), (80, 1.97)])
    def test_a_year_in_the_freezer_in_days_at_23(self, energy, lives):
        # Illustration only; freezer life and out-life are two budgets.
        factor = rate_factor(temperature_c=-18, reference_c=23, activation_energy_kj_mol=energy)
        assert 365 * factor == pytest.approx(lives, abs=0.01)

    @given(cool=st.floats(-20, 100), step=st.floats(2, 60), life=st.floats(1, 1e4), faster=st.floats(1.01, 100))
    @settings(deadline=None, max_examples=50)
    def test_the_energy_from_two_lives_gives_back_their_ratio(self, cool, step, life, faster):
        energy = activation_energy_kj_mol(
            temperature_1_c=cool, life_1_min=life, temperature_2_c=cool + step, life_2_min=life / faster
        )
        if energy <= 500:
            factor = rate_factor(temperature_c=cool + step, reference_c=cool, activation_energy_kj_mol=energy)
            assert factor == pytest.approx(faster, rel=1e-9)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"temperature_2_c": 20.5}, "temperature_2_c"),
            ({"life_2_min": 61}, "life_2_min"),
            ({"life_2_min": 0}, "life_2_min"),
            ({"life_1_min": math.nan}, "life_1_min"),
            ({"temperature_1_c": -300}, "temperature_1_c"),
        ],
    )
    def test_two_lives_that_give_no_energy_are_refused(self, change, named):
        good = {"temperature_1_c": 20, "life_1_min": 60, "temperature_2_c": 30, "life_2_min": 30}
        with pytest.raises(OutOfRange, match=named):
            activation_energy_kj_mol(**{**good, **change})


class TestEquivalentAge:
    HISTORY_H = (0, 48, 48, 58, 58, 82, 82, 154)
    HISTORY_C = (23, 23, 30, 30, 18, 18, 4, 4)
    """48 h at 23, 10 h at 30, 24 h at 18 and 72 h at 4 °C."""

    @pytest.mark.parametrize(("energy", "hours"), [(50, 98.81), (60, 94.89)])
    def test_a_week_in_steps_as_hours_at_23(self, energy, hours):
        # Computed: Arrhenius sum.
        age = equivalent_age_min(
            times_min=[60 * hour for hour in self.HISTORY_H],
            temperatures_c=self.HISTORY_C,
            reference_c=23,
            activation_energy_kj_mol=energy,
        )
        assert age / 60 == pytest.approx(hours, abs=0.005)

    @pytest.mark.long
    def test_a_straight_ramp_agrees_with_quadrature(self):
        from scipy.integrate import quad

        def factor(minute):
            return rate_factor(temperature_c=20 + minute, reference_c=20, activation_energy_kj_mol=80)

        age = equivalent_age_min(
            times_min=[0, 100], temperatures_c=[20, 120], reference_c=20, activation_energy_kj_mol=80
        )
        assert age == pytest.approx(quad(factor, 0, 100, epsabs=0, epsrel=1e-10)[0], rel=1e-5)

    @pytest.mark.parametrize(
        ("cold_c", "hot_c", "energy", "error"),
        [
            (-60, -55, 200, 1e-7),
            (20, 25, 200, 1e-7),
            (-18, 180, 200, 1e-7),
            (-60, -55, 500, 1e-4),
            (20, 180, 500, 1e-7),
        ],
    )
    def test_a_steep_step_is_integrated_as_well_as_is_said(self, cold_c, hot_c, energy, error):
        from scipy.integrate import quad

        def factor(share):
            at = cold_c + (hot_c - cold_c) * share
            return rate_factor(temperature_c=at, reference_c=23, activation_energy_kj_mol=energy)

        age = equivalent_age_min(
            times_min=[0, 100], temperatures_c=[cold_c, hot_c], reference_c=23, activation_energy_kj_mol=energy
        )
        assert age == pytest.approx(100 * quad(factor, 0, 1, epsabs=0, epsrel=1e-12, limit=500)[0], rel=error)

    @given(temperature=st.floats(-20, 100), minutes=st.floats(1, 1e5), energy=st.floats(0, 150))
    @settings(deadline=None, max_examples=50)
    def test_at_the_reference_the_age_is_the_time(self, temperature, minutes, energy):
        age = equivalent_age_min(
            times_min=[0, minutes / 3, minutes],
            temperatures_c=[temperature] * 3,
            reference_c=temperature,
            activation_energy_kj_mol=energy,
        )
        assert age == pytest.approx(minutes)

    @given(
        samples=st.lists(st.tuples(st.floats(0, 60), st.floats(0, 150)), min_size=3, max_size=20),
        cut=st.integers(1, 18),
    )
    @settings(deadline=None, max_examples=50)
    def test_two_parts_of_a_history_add_up(self, samples, cut):
        times, now = [], 0.0
        for step, _ in samples:
            now += step
            times.append(now)
        temperatures = [temperature for _, temperature in samples]
        cut = min(cut, len(samples) - 2)

        def age(part):
            return equivalent_age_min(
                times_min=times[part], temperatures_c=temperatures[part], reference_c=23, activation_energy_kj_mol=55
            )

        whole = age(slice(None))
        assert age(slice(0, cut + 1)) + age(slice(cut, None)) == pytest.approx(whole, rel=1e-9, abs=1e-9)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"times_min": [10, 0]}, r"times_min\[1\]"),
            ({"times_min": [0]}, "times_min"),
            ({"temperatures_c": [20]}, "temperatures_c"),
            ({"temperatures_c": [20, math.nan]}, r"temperatures_c\[1\]"),
            ({"temperatures_c": [None, 20]}, r"temperatures_c\[0\]"),
            ({"activation_energy_kj_mol": -1}, "activation_energy_kj_mol"),
            ({"reference_c": 401}, "reference_c"),
        ],
    )
    def test_a_history_that_is_not_in_order_is_refused_by_name(self, change, named):
        good = {"times_min": [0, 10], "temperatures_c": [20, 20], "reference_c": 23, "activation_energy_kj_mol": 50}
        with pytest.raises(OutOfRange, match=named):
            equivalent_age_min(**{**good, **change})


minutes = st.floats(1, 1e4)


def test_moved_at_once_it_has_the_tray_s_life_moved_late_the_cup_s() -> None:
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=0) == 60
    # Half of the cup's life gone leaves half of the tray's: 15 + 30.
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=15) == 45
    assert tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=30) == 30


@settings(deadline=None, max_examples=50)
@given(cup=minutes, longer=st.floats(1, 5), share=st.floats(0, 1.5))
def test_it_lies_between_the_cup_s_and_the_tray_s_life(cup: float, longer: float, share: float) -> None:
    found = tray_deadline_min(cup_life_min=cup, tray_life_min=cup * longer, moved_after_min=cup * share)
    assert cup - 1e-6 <= found <= cup * longer + 1e-6


def test_a_tray_without_a_life_is_refused() -> None:
    with pytest.raises(OutOfRange, match="tray_life_min"):
        tray_deadline_min(cup_life_min=30, tray_life_min=0, moved_after_min=3)
