"""Which reserved orders a draw makes impossible: against trying everything, and the cases that shortcuts get wrong."""

from dataclasses import replace

from service.formulas._promises import Reserved, broken, kept, outstanding
from service.formulas._stock import Need, Stock
from tests.formulas.reserved_cases import compare


def test_no_answer_is_wrong_where_everything_can_be_tried() -> None:
    assert [said for said in map(compare, range(40)) if said is not None] == []


def test_who_reserved_first_is_kept_first_and_one_that_cannot_be_kept_takes_nothing() -> None:
    cans = [Stock(free=100)]
    orders = [Reserved(1, (Need(0, 60),)), Reserved(2, (Need(0, 70),)), Reserved(3, (Need(0, 40),))]
    assert kept(orders, cans, whole=False) == (1, 3)
    assert broken(orders, cans, {0: 1}, whole=False) == (3,)
    assert broken(orders, cans, {0: 41}, whole=False) == (1,), "of 59 g the first cannot be kept, and the third can"
    assert broken(orders[1:2], cans, {0: 30}, whole=False) == ()
    assert broken(orders[1:2], cans, {0: 31}, whole=False) == (2,)


def test_amounts_are_reserved_and_not_cans_unless_the_other_can_is_past_its_date_by_then() -> None:
    order = [Reserved(1, (Need(10, 50),))]
    cans = [Stock(free=50, last=99), Stock(free=50, last=99)]
    assert broken(order, cans, {0: 50}, whole=False) == ()
    cans[1] = replace(cans[1], last=9)
    assert broken(order, cans, {0: 1}, whole=False) == (1,)
    assert broken(order, cans, {1: 50}, whole=False) == ()


def test_a_piece_is_kept_on_one_roll_and_not_on_the_sum_of_two() -> None:
    order = [Reserved(1, (Need(0, 900),))]
    rolls = [Stock(free=1000), Stock(free=600)]
    assert broken(order, rolls, {0: 100}, whole=True) == ()
    assert broken(order, rolls, {0: 101}, whole=True) == (1,), "1499 mm are left, on no roll 900"


def test_what_rests_on_a_delivery_is_broken_only_where_it_is_too_little_with_it() -> None:
    order = [Reserved(1, (Need(5, 150),))]
    cans = [Stock(free=100), Stock(free=100, first=4, needs=("delivery/1",))]
    assert broken(order, cans, {0: 50}, whole=False) == ()
    assert broken(order, cans, {0: 51}, whole=False) == (1,)


def test_what_a_reserved_part_takes_is_no_loss_to_its_order_but_may_be_to_another() -> None:
    orders = [Reserved(1, (Need(0, 60),)), Reserved(2, (Need(9, 40),))]
    after = [Reserved(1, ()), orders[1]]
    cans = [Stock(free=60, last=5), Stock(free=40, last=20)]
    assert broken(orders, cans, {0: 60}, after=after, whole=False) == ()
    assert broken(orders, cans, {1: 40}, after=after, whole=False) == (2,), "the can that was good long enough"


def test_what_a_part_has_taken_is_reserved_no_more_and_never_less_than_nothing() -> None:
    assert outstanding([100], 0) == [100]
    assert outstanding([100], 250) == [0]
    assert outstanding([30, 30, 40], 45) == [25, 30, 0]
