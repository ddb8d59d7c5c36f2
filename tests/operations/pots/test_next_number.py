"""Which component comes next, by what is in the cup (shop rules 13 and 22)."""

from typing import Any

import pytest

from schemas.words import Component, MovementKind
from service.operations.pots.next_number import next_pour, not_needed, to_come
from service.operations.pots.verdict import correction, judge
from service.records.people import Site
from tests.operations.pots.pots import (
    CONTACT,
    FAST_CAN,
    HARDENER_CAN,
    PIGMENT_CAN,
    RESIN_CAN,
    SECOND_HARDENER_CAN,
    SECOND_RESIN_CAN,
    moved,
    planned,
    pot,
    poured,
)

RESIN, HARDENER = Component.RESIN, Component.HARDENER
PLANS = [planned(RESIN, RESIN_CAN, 500_000), planned(HARDENER, HARDENER_CAN, 150_000)]


@pytest.mark.parametrize(
    ("resin_mg", "hardener_mg", "expected"),
    [
        (0, 0, RESIN),
        (350_000, 0, RESIN),
        (440_000, 0, RESIN),
        # Less than a tenth of the pot's resin is not fetched from another can (shop rule 13).
        (460_000, 0, HARDENER),
        (500_000, 0, HARDENER),
        (700_000, 0, HARDENER),
        (0, 60_000, HARDENER),
        (0, 150_000, RESIN),
        (500_000, 60_000, HARDENER),
        (100_000, 150_000, RESIN),
        (500_000, 150_000, None),
    ],
)
def test_what_is_missing_by_the_cup_comes_next(resin_mg: int, hardener_mg: int, expected: Component | None) -> None:
    """With the planned cans untouched: all of it came out of others."""
    pours = [poured(c, mg, out_of=o) for c, mg, o in (
        (RESIN, resin_mg, SECOND_RESIN_CAN), (HARDENER, hardener_mg, SECOND_HARDENER_CAN)) if mg]  # fmt: skip
    assert to_come(pot(*pours, plans=PLANS)) == expected


def test_a_can_that_was_planned_for_little_is_still_asked_for_it() -> None:
    plans = [planned(RESIN, SECOND_RESIN_CAN, 40_000), *PLANS[1:]]
    assert to_come(pot(poured(RESIN, 460_000), plans=plans)) == RESIN
    assert to_come(pot(poured(RESIN, 485_000), plans=plans)) == HARDENER
    assert not_needed(pot(poured(RESIN, 485_000), plans=plans)) == RESIN


def test_after_another_material_nothing_comes_next_and_nothing_is_judged() -> None:
    for first in (poured(HARDENER, 150_000, out_of=FAST_CAN), poured(RESIN, 500_000, out_of=FAST_CAN)):
        spoiled = pot(first, plans=PLANS)
        assert (to_come(spoiled), next_pour(spoiled), not_needed(spoiled)) == (None, None, None)
    both = pot(poured(RESIN, 500_000), poured(HARDENER, 150_000, out_of=FAST_CAN))
    assert judge(both) is None


def _corrected(**facts: Any) -> Any:
    short = pot(poured(RESIN, 500_000), poured(HARDENER, 135_000), contact_at=CONTACT, **facts)
    return correction(short, at=CONTACT, site=Site(correction_share_pct=25))


def test_pigment_forbids_no_correction_and_filler_does() -> None:
    assert _corrected(movements=[moved(MovementKind.ADDITION, 5000, out_of=PIGMENT_CAN)]).possible == "yes"
    assert _corrected(movements=[moved(MovementKind.ADDITION, 5000)]).why_not == ("Filler is in.",)
