"""What a cup with mixed resin in it asks for (shop rule 34)."""

from datetime import timedelta
from typing import Any

import pytest

from schemas.words import Component, State
from service.operations.pots.clock import clock_of
from service.operations.pots.cups import WatchView, watch_of
from tests.operations.pots.pots import CONTACT, pot, poured

CONSTANTS = {"heat_of_reaction_j_g": 400, "heat_capacity_j_g_k": 2, "source": "data sheet 4"}


def watched(*, after_min: float = 1, **facts: Any) -> WatchView | None:
    """A pot of 65 g that lives about 70 min."""
    one = pot(poured(Component.RESIN, 50_000), poured(Component.HARDENER, 15_000), **{"contact_at": CONTACT, **facts})
    return watch_of(one, clock_of(one), at=CONTACT + timedelta(minutes=after_min))


@pytest.mark.parametrize(
    "facts", [{"contact_at": None}, {"state": State.CLOSED}, {"state": State.DISCARDED}, {"balance_mg": 0}]
)
def test_what_has_not_met_or_is_gone_asks_for_nothing(facts: dict[str, Any]) -> None:
    assert watched(**facts) is None


@pytest.mark.parametrize(
    ("facts", "level"),
    [
        ({}, None),
        ({"after_min": 45}, "spread out"),
        ({"after_min": 69}, "act now"),
        ({"balance_mg": 1_000_001}, "act now"),
        ({"balance_mg": 1_000_000, "after_min": 45}, "spread out"),
        ({"in_tray_at": CONTACT}, "in a tray"),
        ({"in_tray_at": CONTACT, "after_min": 600}, "in a tray"),
    ],
)
def test_a_late_or_heavy_cup_calls_for_an_act_and_a_tray_is_spread_out_already(facts: Any, level: str | None) -> None:
    found = watched(**facts)
    assert found is not None
    assert found.level == level


def test_an_age_of_unknown_temperature_counts_against_the_shortest_life_of_the_table() -> None:
    found = watched(temperature_c=None, after_min=10)
    assert found is not None
    assert (found.age_share, found.age_of_shortest) == (0.5, True)
    assert found.sentence.endswith("its age is counted against the table's shortest life.")


def test_hotter_than_the_table_the_age_counts_against_the_time_from_which_it_is_over() -> None:
    found = watched(temperature_c=40, after_min=17.5)
    assert found is not None
    assert found.age_share == pytest.approx(0.5, abs=0.001)
    assert not found.age_of_shortest


@pytest.mark.parametrize("lacking", ["heat_of_reaction_j_g", "heat_capacity_j_g_k", "source"])
def test_the_heat_is_bounded_only_by_the_system_s_own_constants_and_their_source(lacking: str) -> None:
    whole = watched(system={"constants": CONSTANTS})
    assert whole is not None
    assert whole.heat is not None
    assert whole.heat.rise_k == pytest.approx(200)
    part = watched(system={"constants": {k: v for k, v in CONSTANTS.items() if k != lacking}})
    assert part is not None
    assert part.heat is None
