"""The heat of a mix, and advice on a cup that is left over."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.exotherm import adiabatic_rise_k, left_cup_advice
from service.formulas.ranges import OutOfRange


class TestAdiabaticRise:
    def test_of_an_undiluted_epoxy_is_some_two_hundred_kelvin(self):
        # 473.6 kJ/kg: Lee, Loos and Springer 1982 (from memory); by 2.0 J/(g K).
        assert adiabatic_rise_k(heat_of_reaction_j_g=473.6, heat_capacity_j_g_k=2.0) == pytest.approx(236.8)

    def test_without_heat_nothing_rises(self):
        assert adiabatic_rise_k(heat_of_reaction_j_g=0, heat_capacity_j_g_k=2.0) == 0

    @pytest.mark.parametrize(
        ("heat", "capacity", "named"),
        [
            (-1, 2, "heat_of_reaction"),
            (473_600, 2, "heat_of_reaction"),
            (473.6, 0, "heat_capacity"),
            (1, math.nan, "heat_capacity"),
        ],
    )
    def test_other_units_and_nonsense_are_refused(self, heat, capacity, named):
        with pytest.raises(OutOfRange, match=named):
            adiabatic_rise_k(heat_of_reaction_j_g=heat, heat_capacity_j_g_k=capacity)


def advice(mass_g=50, mass_limit_g=200, age_fraction=0.3, cup_state="cool"):
    return left_cup_advice(mass_g=mass_g, mass_limit_g=mass_limit_g, age_fraction=age_fraction, cup_state=cup_state)


class TestLeftCup:
    def test_a_smoking_cup_is_not_moved(self):
        found = advice(cup_state="smoking")
        assert found.level == "keep away"
        assert "Do not move the cup" in found.sentence
        assert "do not lean over it" in found.sentence
        assert "fire procedure" in found.sentence
        assert "tray" not in found.sentence

    def test_a_warm_cup_is_poured_flat_and_taken_outside(self):
        found = advice(cup_state="warm")
        assert found.level == "act now"
        assert "flat metal tray" in found.sentence
        assert "outside" in found.sentence

    @pytest.mark.parametrize(("mass_g", "level"), [(200, "spread out"), (201, "act now")])
    def test_more_than_the_limit_is_not_left_in_a_cup(self, mass_g, level):
        assert advice(mass_g=mass_g).level == level

    @pytest.mark.parametrize(("age", "level"), [(0.74, "spread out"), (0.75, "act now"), (3, "act now")])
    def test_a_cup_late_in_its_life_is_treated_as_a_warm_one(self, age, level):
        assert advice(age_fraction=age).level == level

    def test_the_reason_is_named(self):
        assert advice(mass_g=380).sentence.startswith("380 g are more than the 200 g")
        assert advice(age_fraction=0.8).sentence.startswith("80 % of the pot life is gone")
        assert advice(cup_state="warm", mass_g=380).sentence.startswith("The cup is warm")

    @given(
        mass=st.floats(0, 1e4),
        limit=st.floats(1, 1e4),
        age=st.floats(0, 5),
        state=st.sampled_from(["cool", "warm", "smoking"]),
    )
    @settings(deadline=None, max_examples=50)
    def test_every_advice_defers_to_the_safety_data_sheet_and_local_rules(self, mass, limit, age, state):
        sentence = advice(mass_g=mass, mass_limit_g=limit, age_fraction=age, cup_state=state).sentence
        assert "safety data sheet" in sentence
        assert "local rules" in sentence

    @given(mass=st.floats(0, 1e3), more=st.floats(0, 1e3), age=st.floats(0, 2), older=st.floats(0, 2))
    @settings(deadline=None, max_examples=50)
    def test_more_or_older_resin_never_gets_milder_advice(self, mass, more, age, older):
        levels = ["spread out", "act now", "keep away"]
        milder = levels.index(advice(mass_g=mass, age_fraction=age).level)
        assert levels.index(advice(mass_g=mass + more, age_fraction=age + older).level) >= milder

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"mass_g": -1}, "mass_g"),
            ({"mass_limit_g": 0}, "mass_limit_g"),
            ({"age_fraction": math.nan}, "age_fraction"),
            ({"cup_state": "hot"}, "cup_state"),
        ],
    )
    def test_nonsense_is_refused_by_name(self, change, named):
        with pytest.raises(OutOfRange, match=named):
            advice(**change)
