"""Days that are tried in their order, against small shops that are worked out by hand."""

from collections.abc import Sequence

from service.formulas._earliest import Planned, as_many_as_can, most_before, plans
from service.formulas._stock import Need, Stock

ONE_A_DAY = 1


def one_mould(earliest: Sequence[int]) -> list[Planned]:
    """Parts one after the other, one each day, each ready on the day after it is begun."""
    days, free = [], 0
    for wished in earliest:
        free = max(free, wished)
        days.append(Planned(free, free + 1))
        free += ONE_A_DAY
    return days


class Shelf:
    """Stock for so many parts from each of these days on, and none for parts begun on days that are barred."""

    def __init__(self, comes: dict[int, int], barred: Sequence[int] = ()) -> None:
        self.comes, self.barred = comes, barred

    def fits(self, begun: Sequence[tuple[int, int]]) -> bool:
        return all(
            sum(many for came, many in self.comes.items() if came <= day) >= place
            for place, (_, day) in enumerate(sorted(begun, key=lambda one: one[1]), 1)
        ) and not any(day in self.barred for _, day in begun)

    def arrival(self, number: int, day: int) -> int | None:
        return min((came for came in self.comes if came > day), default=None)


def ready(shelf: Shelf, parts: int, *, horizon: int = 30, shift: bool = False, groups: Sequence[int] = ()) -> list[int]:
    found = plans(groups or [0] * parts, one_mould, shelf.fits, shelf.arrival, horizon=horizon, shift=shift)
    return [max(one.ready for one in plan) for plan in found]


def test_what_is_there_is_made_at_once_and_the_rest_waits_for_what_comes():
    assert ready(Shelf({0: 3}), 3) == [3]
    # Two today and tomorrow; the third and fourth on the fifth and sixth day.
    assert ready(Shelf({0: 2, 5: 2}), 4) == [7]
    (plan,) = plans([0] * 3, one_mould, Shelf({0: 2, 5: 2}).fits, Shelf({0: 2, 5: 2}).arrival, horizon=30, shift=False)
    assert plan == (Planned(0, 1), Planned(1, 2), Planned(5, 6))


def test_the_last_day_of_the_horizon_is_within_it():
    late = Shelf({0: 2, 5: 2})
    assert ready(late, 4, horizon=7) == [7]
    assert ready(late, 4, horizon=6) == []
    assert ready(Shelf({0: 4}), 4, horizon=4) == [4]
    assert ready(Shelf({0: 4}), 4, horizon=3) == []
    assert ready(Shelf({0: 1}), 2) == [], "nothing more comes"


def test_a_later_beginning_is_tried_where_waiting_may_be_the_only_way():
    # On the first two days nothing may be opened.
    shelf = Shelf({0: 2}, barred=(0, 1))
    assert ready(shelf, 2) == []
    assert ready(shelf, 2, shift=True) == [4]


class Fickle(Shelf):
    """Enough on these days alone."""

    def __init__(self, *enough: list[int]) -> None:
        super().__init__({0: 2, 9: 1})
        self.enough = enough

    def fits(self, begun: Sequence[tuple[int, int]]) -> bool:
        return not begun or [day for _, day in begun] in self.enough


def test_each_plan_is_sooner_than_the_one_before_it():
    # From today the second part waits until the ninth day; begun tomorrow, both go in.
    assert ready(Fickle([0], [1], [0, 9], [1, 2]), 2, shift=True) == [10, 3]
    # Begun tomorrow the second waits as long.
    assert ready(Fickle([0], [1], [0, 9], [1, 9]), 2, shift=True) == [10]


def test_a_shop_that_does_not_open_again_makes_nothing():
    none = plans([0], lambda earliest: None, Shelf({0: 9}).fits, Shelf({}).arrival, horizon=9, shift=True)
    assert list(none) == []


def test_only_those_that_take_the_same_wait_with_it():
    class OfTwoKinds(Shelf):
        def fits(self, begun: Sequence[tuple[int, int]]) -> bool:
            return all(number != 0 or day >= 4 for number, day in begun)

    (plan,) = plans([0, 1], lambda wished: [Planned(day, day + 1) for day in wished], OfTwoKinds({4: 1}).fits,
                    OfTwoKinds({4: 1}).arrival, horizon=9, shift=False)  # fmt: skip
    assert plan == (Planned(4, 5), Planned(0, 1))


def test_others_get_what_there_is_in_their_order_and_the_rest_is_left_out():
    shelf = Shelf({0: 1, 3: 1})
    assert as_many_as_can([0] * 3, one_mould, shelf.fits, shelf.arrival, horizon=9) == {0: 0, 1: 3}
    assert as_many_as_can([0] * 3, one_mould, shelf.fits, shelf.arrival, horizon=2) == {0: 0}


class TestMostBefore:
    def test_no_more_are_begun_than_moulds_have_days(self):
        plenty = [Stock(1000)]
        assert most_before(3, [0, 1, 2, 3], [10] * 4, (), plenty, known_lot=False) == 3
        assert most_before(4, [0, 1, 2, 3], [10] * 4, (), plenty, known_lot=False) == 4

    def test_no_more_than_there_is_beside_what_others_get(self):
        begins, sizes = [0, 0, 0], [10, 20, 30]
        assert most_before(5, begins, sizes, (), [Stock(30)], known_lot=False) == 2, "the small ones first"
        assert most_before(5, begins, sizes, (), [Stock(60)], known_lot=False) == 3
        kept = [Need(2, 1)]
        assert most_before(5, begins, sizes, kept, [Stock(60)], known_lot=False) == 2
        assert most_before(2, begins, sizes, kept, [Stock(60)], known_lot=False) == 3, "they get it later"

    def test_what_others_get_on_the_first_day_counts_and_on_the_day_itself_does_not(self):
        begins, sizes = [0, 0, 0], [10, 20, 30]
        assert most_before(5, begins, sizes, [Need(0, 1)], [Stock(60)], known_lot=False) == 2
        assert most_before(5, begins, sizes, [Need(5, 1)], [Stock(60)], known_lot=False) == 3

    def test_what_comes_on_the_day_is_not_there_before_it(self):
        assert most_before(5, [0], [10], (), [Stock(10, first=5)], known_lot=False) == 0
        assert most_before(6, [0], [10], (), [Stock(10, first=5)], known_lot=False) == 1

    def test_who_cannot_begin_before_it_is_past_its_date_takes_none_of_it(self):
        # It keeps until the first day; of two parts the second cannot be begun before the second.
        assert most_before(5, [0, 2], [10, 10], (), [Stock(20, last=1)], known_lot=False) == 1
        assert most_before(5, [0, 1], [10, 10], (), [Stock(20, last=1)], known_lot=False) == 2

    def test_a_lot_that_nobody_knows_is_none_where_lots_are_to_be_known(self):
        unknown = [Stock(10, known_lot=False)]
        assert most_before(5, [0], [10], (), unknown, known_lot=True) == 0
        assert most_before(5, [0], [10], (), unknown, known_lot=False) == 1
