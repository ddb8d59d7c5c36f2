"""The pot planner (shop rules 13, 18 and 26), checked against a mixed-integer solver."""

import math
import time
from typing import ClassVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas._draws import draws_for_equal_pots
from service.formulas.clocks import LifePoint
from service.formulas.planner import Can, largest_workable_pot_g, plan_pots
from service.formulas.ranges import OutOfRange

TABLE = [LifePoint(100, 20, 40), LifePoint(400, 20, 30), LifePoint(100, 30, 20), LifePoint(400, 30, 15)]
PLENTY = [Can("C00101", "R1", 20_000)]
PLENTY_OF_HARDENER = [Can("C00201", "H1", 20_000)]

JOB = {
    "need_g": 900,
    "wet_out_rate_g_min": 20,
    "points": TABLE,
    "temperature_c": 20,
    "largest_pot_g": 400,
    "smallest_honest_pot_g": 55,
    "ratio": 0.30,
    "resin_cans": PLENTY,
    "hardener_cans": PLENTY_OF_HARDENER,
    "working_share": 0.5,
}


class TestPotSize:
    POT: ClassVar = {
        "points": TABLE,
        "temperature_c": 20,
        "wet_out_rate_g_min": 10,
        "working_share": 0.5,
        "largest_pot_g": 400,
    }

    def test_wet_out_takes_exactly_its_share_of_the_life(self):
        # Hand calculation: life of 177.5 g is 40 * 0.75^(ln 1.775/ln 4) = 35.5 min, half of it 17.75 min at 10 g/min.
        assert largest_workable_pot_g(**self.POT) == pytest.approx(177.5, abs=0.1)

    def test_many_hands_are_held_by_the_largest_pot(self):
        assert largest_workable_pot_g(**{**self.POT, "wet_out_rate_g_min": 500, "largest_pot_g": 250}) == 250

    def test_no_pot_is_planned_past_the_heaviest_mass_of_the_table(self):
        assert largest_workable_pot_g(**{**self.POT, "wet_out_rate_g_min": 500, "largest_pot_g": 5000}) == 400

    def test_hotter_than_the_table_there_is_no_pot(self):
        assert largest_workable_pot_g(**{**self.POT, "temperature_c": 31}) == 0

    @given(rate=st.floats(0.5, 500), share=st.floats(0.05, 1), cool=st.floats(15, 29), hotter=st.floats(0, 15))
    @settings(deadline=None, max_examples=50)
    def test_a_hotter_shop_never_allows_a_larger_pot(self, rate, share, cool, hotter):
        pot = {**self.POT, "wet_out_rate_g_min": rate, "working_share": share}
        warm = min(cool + hotter, 30)
        assert largest_workable_pot_g(**{**pot, "temperature_c": warm}) <= largest_workable_pot_g(
            **{**pot, "temperature_c": cool}
        )

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("wet_out_rate_g_min", 0),
            ("working_share", 0),
            ("working_share", 1.01),
            ("largest_pot_g", 0),
            ("largest_pot_g", math.nan),
            ("points", []),
        ],
    )
    def test_nonsense_is_refused_by_name(self, field, value):
        with pytest.raises(OutOfRange, match=field):
            largest_workable_pot_g(**{**self.POT, field: value})


class TestPlan:
    def test_fewest_equal_pots_one_after_the_other(self):
        # Hand calculation: 400 g need 20 min, more than half of 30; 317 g is the largest, so three pots of 300 g.
        plan = plan_pots(**JOB)
        assert plan.possible
        assert [pot.total_g for pot in plan.pots] == [300.0] * 3
        assert [pot.start_after_min for pot in plan.pots] == [0.0, 15.0, 30.0]
        assert plan.pots[0].resin_g == pytest.approx(230.769)
        assert plan.pots[0].hardener_g == pytest.approx(69.231)
        assert plan.leftover_g == 0
        assert plan.sentences[0] == "3 pots of 300.0 g: 230.8 g of resin and 69.2 g of hardener each."
        assert any("do not mix several at once" in sentence for sentence in plan.sentences)

    def test_a_need_below_the_smallest_honest_pot_leaves_some_over(self):
        # 100:30 at ± 2 % on a 0.1 g scale: about 55 g in total is the smallest honest pot, shop rule 18.
        plan = plan_pots(**{**JOB, "need_g": 30})
        assert [pot.total_g for pot in plan.pots] == [55.0]
        assert plan.leftover_g == pytest.approx(25)
        assert any("left over" in sentence for sentence in plan.sentences)

    def test_fewest_lots_come_before_the_first_expired(self):
        cans = [Can("C1", "R1", 300), Can("C2", "R2", 500), Can("C3", "R3", 700)]
        plan = plan_pots(**{**JOB, "resin_cans": cans})
        assert plan.lots_touched == ("R3", "H1")

    def test_among_equally_few_lots_the_first_in_the_list_wins(self):
        cans = [Can("C1", "R1", 300), Can("C2", "R2", 700), Can("C3", "R3", 700)]
        assert plan_pots(**{**JOB, "resin_cans": cans}).lots_touched == ("R2", "H1")

    def test_cans_of_one_lot_are_emptied_in_the_order_of_the_list(self):
        cans = [Can("C1", "R1", 300), Can("C2", "R1", 700)]
        plan = plan_pots(**{**JOB, "resin_cans": cans})
        assert plan.pots[0].draws == (("C1", 230.769), ("C00201", 69.231))
        assert plan.pots[1].draws == (("C1", 69.231), ("C2", 161.538), ("C00201", 69.231))
        assert plan.lots_touched == ("R1", "H1")

    def test_less_than_a_tenth_of_a_pot_stays_in_its_can(self):
        cans = [Can("C1", "R1", 250), Can("C2", "R1", 700)]
        plan = plan_pots(**{**JOB, "resin_cans": cans})
        assert [draws[0] for pot in plan.pots[1:] for draws in pot.draws[:-1]] == ["C2", "C2"]

    def test_a_remnant_that_is_needed_is_spread_over_two_pots(self):
        # Two pots of 100 g resin from 105 g and 95 g: neither can alone fills what the other leaves.
        plan = plan_pots(
            **{
                **JOB,
                "need_g": 260,
                "largest_pot_g": 150,
                "resin_cans": [Can("C1", "R1", 105), Can("C2", "R1", 95)],
            }
        )
        assert plan.possible
        assert len(plan.pots) == 2
        assert min(grams for pot in plan.pots for code, grams in pot.draws if code in ("C1", "C2")) >= 10
        assert not any("would be enough" in sentence for sentence in plan.sentences), "no fewer would be"

    def test_a_smaller_pot_is_tried_where_a_small_split_would_be_needed(self):
        cans = [Can("C1", "R1", 95), Can("C2", "R1", 5)]
        job = {**JOB, "need_g": 130, "largest_pot_g": 150, "smallest_honest_pot_g": 20, "resin_cans": cans}
        plan = plan_pots(**job)
        assert len(plan.pots) == 2
        assert any("1 would be enough" in sentence for sentence in plan.sentences)

    def test_what_is_short_is_said_in_grams(self):
        plan = plan_pots(**{**JOB, "resin_cans": [Can("C1", "R1", 600)], "hardener_cans": [Can("C2", "H1", 200)]})
        assert not plan.possible
        # Hand calculation: 900/1.3 = 692.3 g resin and 207.7 g hardener.
        assert plan.short_resin_g == pytest.approx(92.3, abs=0.05)
        assert plan.short_hardener_g == pytest.approx(7.7, abs=0.05)
        assert plan.sentences == ("The shelf is short of 92.3 g of resin and 7.7 g of hardener.",)

    def test_an_empty_shelf_is_short_of_everything(self):
        plan = plan_pots(**{**JOB, "resin_cans": [], "hardener_cans": [Can("C2", "H1", -3)]})
        assert plan.short_resin_g + plan.short_hardener_g == pytest.approx(900, abs=0.01)

    def test_hotter_than_the_table_there_is_no_plan(self):
        plan = plan_pots(**{**JOB, "temperature_c": 35})
        assert not plan.possible
        assert "no pot life" in plan.sentences[0]

    def test_a_scale_too_coarse_for_the_pot_life_leaves_no_plan(self):
        # 100:30 at ± 2 % on a 1 g scale: about 555 g in total, shop rule 18.
        plan = plan_pots(**{**JOB, "smallest_honest_pot_g": 555})
        assert not plan.possible
        assert "finer scale" in plan.sentences[0]

    @given(
        need=st.floats(10, 3000),
        rate=st.floats(2, 60),
        ratio=st.floats(0.1, 1),
        lefts=st.lists(st.tuples(st.sampled_from(["R1", "R2", "R3"]), st.floats(0, 900)), max_size=8),
    )
    @settings(deadline=None, max_examples=60)
    def test_every_plan_keeps_its_promises(self, need, rate, ratio, lefts):
        cans = [Can(f"C{index}", lot, left) for index, (lot, left) in enumerate(lefts)]
        job = {**JOB, "need_g": need, "wet_out_rate_g_min": rate, "ratio": ratio, "resin_cans": cans}
        job["smallest_honest_pot_g"] = 20
        plan = plan_pots(**job)
        if not plan.possible:
            assert plan.short_resin_g > 0 or "cans hold enough" in plan.sentences[0]
            return
        assert sum(pot.total_g for pot in plan.pots) == pytest.approx(need + plan.leftover_g, abs=0.001)
        left = {can.code: can.left_g for can in [*cans, *PLENTY_OF_HARDENER]}
        for pot in plan.pots:
            assert pot.resin_g + pot.hardener_g == pytest.approx(pot.total_g, abs=1e-6)
            assert pot.hardener_g / pot.resin_g == pytest.approx(ratio, abs=2e-3)
            assert sum(grams for _, grams in pot.draws) == pytest.approx(pot.total_g, abs=1e-6)
            for code, grams in pot.draws:
                left[code] -= grams
                assert grams >= (pot.hardener_g if code == "C00201" else pot.resin_g) / 10 - 1e-6
        assert min(left.values()) > -1e-6

    def test_the_same_question_has_the_same_answer(self):
        assert plan_pots(**JOB) == plan_pots(**JOB)

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("need_g", 0),
            ("need_g", "900"),
            ("ratio", 0),
            ("smallest_honest_pot_g", -1),
            ("need_g", 1e6),
            ("resin_cans", [Can("C1", "R1", 10)] * 2),
            ("hardener_cans", [Can(f"C{index}", "R1", 10) for index in range(41)]),
        ],
    )
    def test_nonsense_is_refused_by_name(self, field, value):
        with pytest.raises(OutOfRange, match=field):
            plan_pots(**{**JOB, field: value})

    def test_two_hundred_pots_are_planned_and_one_more_is_another_job(self):
        job = {**JOB, "largest_pot_g": 100}
        assert len(plan_pots(**{**job, "need_g": 20_000}).pots) == 200
        with pytest.raises(OutOfRange, match=r"\(201 pots\); it must be a need that takes at most 200 pots"):
            plan_pots(**{**job, "need_g": 20_001})


def fewest_lots_by_solver(pot: int, pots: int, lots: list[str], left: list[int]) -> int | None:
    """The same question as a mixed-integer programme, solved by HiGHS."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    cans, names = len(left), sorted(set(lots))
    draws = pots * cans
    size = 2 * draws + len(names)
    rows, low, high = [], [], []

    def row(entries: dict[int, float], least: float, most: float) -> None:
        line = np.zeros(size)
        for index, value in entries.items():
            line[index] = value
        rows.append(line)
        low.append(least)
        high.append(most)

    for one in range(pots):
        row({one * cans + can: 1 for can in range(cans)}, 1, 1)
    for can in range(cans):
        row({one * cans + can: 1 for one in range(pots)}, 0, left[can] / pot)
        for one in range(pots):
            at = one * cans + can
            row({at: 1, draws + at: -0.1}, 0, np.inf)
            row({at: 1, draws + at: -1}, -np.inf, 0)
            row({draws + at: 1, 2 * draws + names.index(lots[can]): -1}, -np.inf, 0)
    cost = np.concatenate((np.zeros(2 * draws), np.ones(len(names))))
    integral = np.concatenate((np.zeros(draws), np.ones(draws + len(names))))
    found = milp(
        cost, constraints=LinearConstraint(np.array(rows), low, high), integrality=integral, bounds=Bounds(0, 1)
    )
    return round(found.fun) if found.success else None


# Masses in hundredths of a pot stay clear of the solver's own rounding.
shelves = st.lists(
    st.tuples(st.sampled_from("ABCD"), st.one_of(st.integers(5, 260), st.sampled_from([95, 99, 101, 105, 15, 20]))),
    min_size=1,
    max_size=5,
)


@pytest.mark.long
@given(shelf=shelves, pots=st.integers(1, 3))
@settings(deadline=None, max_examples=150)
def test_no_plan_touches_fewer_lots_than_the_planner_s(shelf, pots):
    lots, left = [lot for lot, _ in shelf], [1000 * hundredths for _, hundredths in shelf]
    expected = fewest_lots_by_solver(100_000, pots, lots, left)
    draws = draws_for_equal_pots(pot_mg=100_000, pots=pots, lots=lots, left_mg=left)
    found = None if draws is None else len({lots[can] for pot in draws for can, _ in pot})
    assert found == expected


def test_a_small_can_is_emptied_so_that_a_large_one_keeps_no_useless_rest():
    # A whole pot out of the first would leave 5 g in it, which no pot takes, and 95 g in the others.
    left = [105_000, *[19_000] * 5]
    draws = draws_for_equal_pots(pot_mg=100_000, pots=2, lots=["L1"] * 6, left_mg=left)
    assert draws == [[(0, 81_000), (1, 19_000)], [(0, 24_000), *[(can, 19_000) for can in range(2, 6)]]]


def test_a_can_that_holds_the_least_share_of_a_pot_and_no_more_is_emptied_into_one():
    # In order the first pot would leave 9 g in the first can: 95 g in the others for a pot of 100 g.
    draws = draws_for_equal_pots(pot_mg=100_000, pots=2, lots=["L1"] * 4, left_mg=[109_000, 10_000, 76_000, 10_000])
    assert draws == [[(0, 90_000), (1, 10_000)], [(0, 19_000), (2, 71_000), (3, 10_000)]]


@pytest.mark.parametrize("left", [15_000, 96_000, 104_000, 155_000])
def test_a_full_shelf_is_planned_quickly(left):
    start = time.perf_counter()
    draws_for_equal_pots(pot_mg=100_000, pots=20, lots=[f"L{index // 2}" for index in range(40)], left_mg=[left] * 40)
    assert time.perf_counter() - start < 3
