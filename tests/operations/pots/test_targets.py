"""What to pour next, and how large a pot is: the numbers that a scale is read against (shop rules 14 to 20)."""

from typing import Any

import pytest

from schemas.words import Component, MovementKind, State
from service.operations.door.refusals import PotTooLarge, Unprocessable
from service.operations.ledger.amounts import grams
from service.operations.pots.next_number import reading_if_not_zeroed, target_mg
from service.operations.pots.size import pot_size
from service.operations.pots.verdict import percent
from service.records.materials import ResinSystem
from tests.operations.pots.pots import (
    BENCH_SCALE,
    FINE_SCALE,
    HARDENER_CAN,
    RESIN_CAN,
    SECOND_HARDENER_CAN,
    SECOND_RESIN_CAN,
    moved,
    planned,
    pot,
    poured,
    scale,
)

RESIN, HARDENER = Component.RESIN, Component.HARDENER
SYSTEM = ResinSystem(name="Alder 10", largest_pot_mg=1_000_000)


def target(of: Any, component: Component, container: int, *, correction: bool = False) -> int | None:
    return target_mg(of, component, container, correction=correction)


def test_resin_is_poured_as_planned_from_its_own_can() -> None:
    plans = [planned(RESIN, RESIN_CAN, 300_000), planned(RESIN, SECOND_RESIN_CAN, 200_000)]
    assert target(pot(plans=plans), RESIN, RESIN_CAN) == 300_000
    assert target(pot(plans=plans), RESIN, SECOND_RESIN_CAN) == 200_000


def test_resin_out_of_a_can_that_was_not_planned_is_what_is_still_missing() -> None:
    assert target(pot(poured(RESIN, 450_000)), RESIN, SECOND_RESIN_CAN) == 50_000
    assert target(pot(poured(RESIN, 500_000)), RESIN, SECOND_RESIN_CAN) is None
    assert target(pot(poured(RESIN, 510_000)), RESIN, SECOND_RESIN_CAN) is None


def test_a_plan_that_is_settled_asks_for_nothing_more() -> None:
    done = pot(poured(RESIN, 500_000), plans=[planned(RESIN, RESIN_CAN, 500_000, settled=True)])
    assert target(done, RESIN, RESIN_CAN) is None


def test_hardener_follows_the_resin_that_was_really_poured_and_not_the_plan() -> None:
    plans = [planned(HARDENER, HARDENER_CAN, 150_000)]
    assert target(pot(poured(RESIN, 510_000), plans=plans), HARDENER, HARDENER_CAN) == 153_000


def test_hardener_before_any_resin_goes_by_the_plan_whatever_can_it_comes_from() -> None:
    empty = pot(plans=[planned(HARDENER, HARDENER_CAN, 150_000)])
    assert target(empty, HARDENER, HARDENER_CAN) == 150_000
    assert target(empty, HARDENER, SECOND_HARDENER_CAN) == 150_000


def test_hardener_that_is_in_already_counts() -> None:
    begun = pot(poured(RESIN, 500_000), poured(HARDENER, 140_000))
    assert target(begun, HARDENER, HARDENER_CAN) == 10_000
    for enough in (150_000, 160_000):
        assert target(pot(poured(RESIN, 500_000), poured(HARDENER, enough)), HARDENER, HARDENER_CAN) is None


def test_of_two_hardener_cans_each_gives_its_share_and_never_more_than_is_missing() -> None:
    plans = [planned(HARDENER, HARDENER_CAN, 100_000), planned(HARDENER, SECOND_HARDENER_CAN, 50_000)]
    assert target(pot(poured(RESIN, 500_000), plans=plans), HARDENER, HARDENER_CAN) == 100_000
    short = pot(poured(RESIN, 250_000), plans=plans)
    assert target(short, HARDENER, HARDENER_CAN) == 75_000
    last = pot(poured(RESIN, 510_000), poured(HARDENER, 100_000), plans=plans[1:])
    assert target(last, HARDENER, SECOND_HARDENER_CAN) == 53_000, "the last can gives all that is missing"


@pytest.mark.parametrize(
    ("resin_mg", "hardener_mg", "resin_asked", "hardener_asked"),
    [(400_000, 150_000, 100_000, None), (500_000, 120_000, None, 30_000), (500_000, 150_000, None, None)],
)
def test_a_correction_adds_what_is_short_of_the_other(
    resin_mg: int, hardener_mg: int, resin_asked: int | None, hardener_asked: int | None
) -> None:
    mixed = pot(poured(RESIN, resin_mg), poured(HARDENER, hardener_mg))
    assert target(mixed, RESIN, RESIN_CAN, correction=True) == resin_asked
    assert target(mixed, HARDENER, HARDENER_CAN, correction=True) == hardener_asked


def test_a_scale_that_was_not_zeroed_reads_on_from_where_it_stood() -> None:
    bench, fine = scale(BENCH_SCALE), scale(FINE_SCALE)
    begun = pot(poured(RESIN, 500_000, reading_mg=512_300))
    assert reading_if_not_zeroed(begun, bench, HARDENER, 150_000) == 662_300
    assert reading_if_not_zeroed(begun, fine, HARDENER, 150_000) == 150_000, "nothing was weighed on it"
    apart = pot(poured(RESIN, 500_000), separate_cups=True)
    assert reading_if_not_zeroed(apart, bench, HARDENER, 150_000) is None, "its cup stands on the scale alone"


def test_in_cups_apart_the_last_reading_is_that_of_the_same_cup() -> None:
    resin, hardener = poured(RESIN, 500_000), poured(HARDENER, 150_000)
    assert pot(resin, hardener).last_on(BENCH_SCALE, RESIN) is hardener
    assert pot(resin, hardener, separate_cups=True).last_on(BENCH_SCALE, RESIN) is resin
    assert pot(resin, hardener).last_on(FINE_SCALE, RESIN) is None


def size(**asked: int) -> dict[Component, int]:
    return pot_size(SYSTEM, 0.3, **{"total_mg": None, "resin_mg": None, "hardener_mg": None, **asked})


def test_a_pot_is_asked_for_by_its_total_its_resin_or_the_hardener_that_is_left() -> None:
    wanted = {RESIN: 500_000, HARDENER: 150_000}
    assert size(total_mg=650_000) == wanted
    assert size(resin_mg=500_000) == wanted
    assert size(hardener_mg=150_000) == wanted


@pytest.mark.parametrize("total_mg", [100_001, 333_333, 999_999])
def test_the_two_are_the_total_to_the_milligram(total_mg: int) -> None:
    assert sum(size(total_mg=total_mg).values()) == total_mg


@pytest.mark.parametrize("asked", [{}, {"total_mg": 650_000, "resin_mg": 500_000}])
def test_one_of_the_three_and_only_one(asked: dict[str, int]) -> None:
    with pytest.raises(Unprocessable, match="in one way"):
        size(**asked)


def test_a_component_of_less_than_a_milligram_is_not_weighed() -> None:
    assert size(total_mg=4) == {RESIN: 3, HARDENER: 1}
    with pytest.raises(Unprocessable, match="under a milligram"):
        size(total_mg=1)


def test_over_the_largest_pot_the_way_out_is_equal_pots_that_are_small_enough() -> None:
    assert size(total_mg=1_000_000)
    with pytest.raises(PotTooLarge) as refused:
        size(total_mg=2_500_000)
    assert refused.value.way_out == "Mix 3 pots of 833.334 g, one after the other."


def test_masses_and_deviations_are_said_without_false_digits() -> None:
    assert [grams(mg) for mg in (500_000, 1_500, 1, 0)] == ["500 g", "1.5 g", "0.001 g", "0 g"]
    assert [percent(value) for value in (2.04, -1.96, 0.04, -0.04)] == ["+2.0 %", "-2.0 %", "0.0 %", "0.0 %"]


def test_what_is_in_a_pot_is_counted_by_component_and_fillers_apart() -> None:
    filled = pot(
        poured(RESIN, 400_000),
        poured(RESIN, 100_000),
        poured(HARDENER, 150_000),
        movements=[moved(MovementKind.ADDITION, 30_000)],
    )
    assert (filled.resin_mg, filled.hardener_mg, filled.total_mg) == (500_000, 150_000, 650_000)
    assert filled.both_in
    assert not pot(poured(RESIN, 1), state=State.RUNNING).both_in
