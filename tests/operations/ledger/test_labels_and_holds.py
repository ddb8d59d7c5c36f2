"""How the ledger speaks of what it keeps: amounts on labels, holds by the thing that they lie on."""

import pytest

from schemas.words import Unit
from service.operations.ledger.graph import StandingHold, hold_views
from service.operations.ledger.label_facts import amount_text


@pytest.mark.parametrize(
    ("amount", "unit", "said"),
    [
        (5_000_000, Unit.MILLIGRAM, "5 kg"),
        (1_000_000, Unit.MILLIGRAM, "1 kg"),
        (999_999, Unit.MILLIGRAM, "999.999 g"),
        (1_500, Unit.MILLIGRAM, "1.5 g"),
        (50_000, Unit.MILLIMETRE, "50 m"),
        (12_340, Unit.MILLIMETRE, "12.34 m"),
        (6, Unit.PIECE, "6 pcs"),
    ],
)
def test_an_amount_is_said_in_the_unit_that_a_person_reads(amount: int, unit: Unit, said: str) -> None:
    assert amount_text(amount, unit) == said


def test_a_hold_is_shown_on_what_it_lies_and_not_on_what_it_reaches() -> None:
    (shown,) = hold_views([StandingHold(id=3, on="L000016", reason="a letter from the maker", own=False)])
    assert (shown.id, shown.on, shown.reason) == (3, "L000016", "a letter from the maker")
