"""The search of the stock against trying everything, and the cases that simpler searches get wrong."""

import random

from service.formulas._stock import Crowd, Need, Outcome, Stock, agrees
from service.formulas._stock_search import search
from tests.formulas.stock_cases import compare, rank


def _found(needs: list[Need], stocks: list[Stock], *, whole: bool = False, limit_s: float = 10) -> object:
    found = search(needs, stocks, whole=whole, limit_s=limit_s, rank=rank)
    if found.outcome in (Outcome.YES, Outcome.YES_IF):
        assert agrees(needs, stocks, found, whole=whole)
    return found


def test_no_answer_is_wrong_where_everything_can_be_tried() -> None:
    assert [said for said in map(compare, range(160)) if said is not None] == []


def test_a_sealed_can_is_not_opened_for_a_drop_where_its_opened_life_is_needed_later() -> None:
    """First expired first out opens the older can on day 0, and on day 20 neither has enough in date."""
    needs = [Need(0, 50), Need(20, 100)]
    cans = [Stock(free=100, last=40, life=14), Stock(free=60, last=60, life=14)]
    found = search(needs, cans, whole=False, limit_s=10, rank=rank)
    assert found.outcome == Outcome.YES
    assert [(draw.need, draw.stock, draw.amount) for draw in found.draws] == [(0, 1, 50), (1, 0, 100)]


def test_what_expires_first_is_used_first_and_no_pot_takes_a_drop_from_a_can() -> None:
    found = search([Need(0, 100), Need(1, 100)], [Stock(free=105, last=5), Stock(free=500, last=50)],
                   whole=False, limit_s=10, rank=rank)  # fmt: skip
    assert [(draw.need, draw.stock, draw.amount) for draw in found.draws] == [(0, 0, 100), (1, 1, 100)]
    # Where nothing else is there, the drop is taken rather than the job given up.
    found = search([Need(0, 100), Need(1, 100)], [Stock(free=105, last=5), Stock(free=95, last=50)],
                   whole=False, limit_s=10, rank=rank)  # fmt: skip
    assert found.outcome == Outcome.YES
    assert {draw.amount for draw in found.draws} == {100, 5, 95}


def test_a_no_says_in_which_days_too_much_is_needed_and_what_is_missing_by_when() -> None:
    needs = [Need(0, 40), Need(3, 80), Need(9, 10)]
    found = search(needs, [Stock(free=100, last=4), Stock(free=50, first=6)], whole=False, limit_s=10, rank=rank)
    assert found.outcome == Outcome.NO
    assert found.crowd == Crowd(first=0, last=3, needed=120, free=100)
    assert found.missing == ((1, 20),)


def test_a_no_names_the_least_that_can_be_missing() -> None:
    """First come, first served, 50 g would be missing on day 5; the larger pot made whole, the 40 g of day 1."""
    cans = [Stock(free=50, last=6, life=2), Stock(free=10, last=5, life=2)]
    for whole, missing in ((False, ((0, 40),)), (True, ((1, 40),))):
        found = search([Need(5, 50), Need(1, 40)], cans, whole=whole, limit_s=10, rank=rank)
        assert (found.outcome, found.missing) == (Outcome.NO, missing)


def test_pieces_that_fit_in_all_but_not_roll_by_roll_are_a_no() -> None:
    found = search([Need(0, 600)] * 3, [Stock(free=1000), Stock(free=1000)], whole=True, limit_s=10, rank=rank)
    assert found.outcome == Outcome.NO
    assert found.missing == ((2, 600),)
    assert found.crowd is None


def test_of_equally_many_conditions_the_release_comes_before_the_delivery_and_the_permit() -> None:
    cans = [
        Stock(free=100, last=2, beyond="permit C1"),
        Stock(free=100, needs=("delivery 1",)),
        Stock(free=100, needs=("release L1",)),
    ]
    found = search([Need(5, 90)], cans, whole=False, limit_s=10, rank=rank)
    assert (found.outcome, found.conditions, found.smallest) == (Outcome.YES_IF, ("release L1",), True)
    found = search([Need(5, 190)], cans, whole=False, limit_s=10, rank=rank)
    assert sorted(found.conditions) == ["delivery 1", "release L1"]


def test_where_the_time_ends_nothing_is_claimed() -> None:
    """Hard to pack: as long as no roll has a millimetre to spare, best fit fails and the solver has to look."""
    rng = random.Random(4)
    sizes = [rng.randint(300, 3200) for _ in range(60)]
    total = sum(sizes)
    rolls = [Stock(free=total // 8 + (1 if number < total % 8 else 0)) for number in range(8)]
    needs = [Need(0, size) for size in sizes]
    assert search(needs, rolls, whole=True, limit_s=0.0, rank=rank).outcome == Outcome.NOT_SHOWN


def test_masses_of_a_drum_are_met_to_the_milligram_and_one_more_is_a_no() -> None:
    cans = [Stock(free=900_000_001, last=30, life=10), Stock(free=99_999_999, last=60, life=10)]
    needs = [Need(5, 400_000_000), Need(12, 500_000_001), Need(20, 99_999_999)]
    found = search(needs, cans, whole=False, limit_s=10, rank=rank)
    assert found.outcome == Outcome.YES
    more = [*needs[:2], Need(20, 100_000_000)]
    assert search(more, cans, whole=False, limit_s=10, rank=rank).outcome == Outcome.NO
