"""Money that is shared loses nothing: shares add up, a later draw changes no earlier one, the last takes the rest."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas._money import Came, Held, Went, drawn, in_words, minor_digits, shared, split, total

_BEGUN = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)
_few = settings(max_examples=60, deadline=None, database=None)
_amounts = st.lists(st.integers(0, 10**7), max_size=8)


def _can(amount: int, cost: int | None) -> list[Came[str]]:
    return [Came(_BEGUN, Held({"lot": amount}, {"lot": cost}))]


def _draws(amounts: list[int]) -> list[Went]:
    return [Went(_BEGUN + timedelta(minutes=n + 1), amount) for n, amount in enumerate(amounts)]


@_few
@given(st.integers(0, 10**12), _amounts)
def test_shares_are_whole_add_up_and_are_within_one_unit_of_what_is_exact(whole: int, weights: list[int]) -> None:
    found = shared(whole, weights)
    if not sum(weights):
        assert sum(found) == 0
        return
    assert sum(found) == whole
    assert all(abs(share * sum(weights) - whole * w) < sum(weights) for share, w in zip(found, weights, strict=True))
    assert [share for share, weight in zip(found, weights, strict=True) if not weight and share] == []


@_few
@given(st.integers(0, 10**9), st.lists(st.integers(1, 10**6), min_size=2, max_size=8), st.integers(0, 10**6))
def test_a_later_draw_changes_no_earlier_one_and_the_last_of_a_can_takes_the_last_of_its_price(
    cost: int, draws: list[int], rest: int
) -> None:
    can = _can(sum(draws) + rest, cost)
    taken, _ = drawn(can, _draws(draws))
    earlier, _ = drawn(can, _draws(draws[:-1]))
    assert [one.money for one in taken[:-1]] == [one.money for one in earlier]
    gone = sum(one.money.get("lot") or 0 for one in taken)
    assert 0 <= gone <= cost
    if rest == 0:
        assert gone == cost


def test_what_has_no_price_stays_without_one_and_what_has_one_keeps_it() -> None:
    both: Held[str] = total([Held({"old": 300}, {"old": 90}), Held({"new": 100}, {"new": None})])
    first, second = split(both, [1, 3])
    assert (first.amounts, first.money) == ({"old": 75, "new": 25}, {"old": 23, "new": None})
    assert (second.amounts, second.money) == ({"old": 225, "new": 75}, {"old": 67, "new": None})


def test_what_is_found_in_a_can_costs_what_the_rest_of_it_did_even_if_the_book_had_it_empty() -> None:
    after = _BEGUN + timedelta(minutes=5)
    came = [*_can(1000, 500), Came(after, None, found=100)]
    taken, found = drawn(came, [Went(_BEGUN + timedelta(minutes=1), 1000), Went(after, 100)])
    assert [one.money for one in taken] == [{"lot": 500}, {"lot": 50}]
    assert [one.money for one in found] == [{"lot": 50}]


def test_a_draw_that_was_told_of_before_its_can_was_filled_takes_from_that_filling() -> None:
    late = [Came(_BEGUN + timedelta(days=1), Held({"lot": 1000}, {"lot": 700}))]
    taken, _ = drawn(late, [Went(_BEGUN, 300)])
    assert taken[0].money == {"lot": 210}


def test_money_is_said_with_the_decimals_of_its_currency() -> None:
    assert [minor_digits(one) for one in ("EUR", "SEK", "ISK", "BHD", "CLF")] == [2, 2, 0, 3, 4]
    assert [in_words(n, "EUR") for n in (0, 9, -1234567)] == ["0.00 EUR", "0.09 EUR", "-12,345.67 EUR"]
    assert in_words(1500, "KWD") == "1.500 KWD"


def test_what_is_put_in_and_taken_out_again_is_counted_once() -> None:
    one: Held[str] = Held({"lot": 3}, {"lot": 9})
    held: Held[str] = Held()
    held.add(one)
    held.add(one)
    assert (held.amounts, held.money) == ({"lot": 6}, {"lot": 18})
    taken = held.take(2)
    assert (taken.amounts, taken.money) == ({"lot": 2}, {"lot": 6})
    assert (held.amounts, held.money) == ({"lot": 4}, {"lot": 12})
