"""Who gets how much of what went in unmeasured, and how far a pot may fail to close (shop rules 32 and 33)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.words import Component, MovementKind
from service.operations.pots.applying import closing_limit
from service.operations.pots.closing import need_mg, shares
from service.records.parts import Design
from tests.operations.pots.pots import moved, pot, poured


@pytest.mark.parametrize(
    ("total", "needs", "expected"),
    [
        (300, [100.0, 200.0], [100, 200]),
        (300, [100.0, 100.0, 100.0], [100, 100, 100]),
        (100, [1.0, 1.0, 1.0], [34, 33, 33]),
        (2, [1.0, 1.0, 1.0], [1, 1, 0]),
        (0, [1.0, 2.0], [0, 0]),
        (7, [5.0], [7]),
    ],
)
def test_whole_milligrams_in_proportion_to_the_needs(total: int, needs: list[float], expected: list[int]) -> None:
    assert shares(total, needs) == expected


def test_who_states_no_need_counts_as_the_mean_of_the_others() -> None:
    assert shares(600, [100.0, None, 300.0]) == [100, 200, 300]


def test_where_nobody_states_a_need_all_get_the_same() -> None:
    assert shares(90, [None, None, None]) == [30, 30, 30]


@given(
    st.integers(0, 5_000_000),
    st.lists(st.one_of(st.none(), st.floats(1, 5_000_000)), min_size=1, max_size=12),
)
def test_nothing_is_lost_or_made_and_each_is_within_a_milligram_of_its_due(
    total: int, needs: list[float | None]
) -> None:
    found = shares(total, needs)
    known = [need for need in needs if need]
    weights = [need or (sum(known) / len(known) if known else 1.0) for need in needs]
    assert sum(found) == total
    assert all(abs(got - total * weight / sum(weights)) < 1.001 for got, weight in zip(found, weights, strict=True))


def test_a_small_pot_may_miss_two_grams_and_a_large_one_two_per_cent_of_all_that_is_in() -> None:
    assert closing_limit(pot(poured(Component.RESIN, 50_000))) == 2000
    assert closing_limit(pot(poured(Component.RESIN, 400_000), poured(Component.HARDENER, 100_000))) == 10_000
    assert (
        closing_limit(pot(poured(Component.RESIN, 400_000), movements=[moved(MovementKind.ADDITION, 200_000)]))
        == 12_000
    )


NEEDS = [
    {"purpose": "wet-out", "system": "Alder 10", "mass_g": 280},
    {"purpose": "wet-out", "system": "Alder 11", "mass_g": 50},
    {"purpose": "wet-out", "mass_g": 20},
    {"purpose": "bonding", "system": "Alder 10", "mass_g": None},
]


@pytest.mark.parametrize(
    ("system", "purpose", "needed"),
    [("Alder 10", "wet-out", 300_000), ("Alder 12", "wet-out", 20_000), ("Alder 10", "bonding", None),
     ("Alder 10", "gel coat", None), ("Alder 10", None, None)],
)  # fmt: skip
def test_a_need_is_that_of_the_purpose_for_this_system_or_for_any(
    system: str, purpose: str | None, needed: float | None
) -> None:
    assert need_mg(system, Design(resin_need=NEEDS), purpose) == needed
