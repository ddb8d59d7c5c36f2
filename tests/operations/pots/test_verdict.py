"""The verdict on a pot, the next number at the scale, and whether a pot can be set right (shop rules 16 to 20)."""

import math
from datetime import timedelta
from typing import Any

import pytest

from schemas.words import Component, MovementKind, State
from service.operations.pots.next_number import next_pour
from service.operations.pots.pot import Pot
from service.operations.pots.told import MixCorrection
from service.operations.pots.verdict import correction, judge
from service.operations.pots.view import view_stirring
from service.records.people import Site
from tests.operations.pots.pots import (
    CONTACT,
    FINE_SCALE,
    HARDENER_CAN,
    RESIN_CAN,
    SECOND_HARDENER_CAN,
    moved,
    planned,
    pot,
    poured,
    stirred,
)

RESIN, HARDENER = Component.RESIN, Component.HARDENER
SITE = Site(correction_share_pct=25)


def mixed(hardener_mg: int, resin_mg: int = 500_000, **facts: Any) -> Pot:
    return pot(poured(RESIN, resin_mg), poured(HARDENER, hardener_mg), **facts)


def verdict(of: Pot) -> str | None:
    judged = judge(of)
    return None if judged is None else judged.verdict


@pytest.mark.parametrize(
    ("hardener_mg", "expected"),
    [
        (150_000, "within"),
        (152_500, "within"),
        (147_500, "within"),
        (153_000, "near the limit"),
        (147_000, "near the limit"),
        (153_400, "outside"),
        (146_600, "outside"),
        (75_000, "outside"),
    ],
)
def test_the_ratio_is_judged_with_what_the_scale_can_know_as_a_guard_band(hardener_mg: int, expected: str) -> None:
    """500 g of resin want 150 g of hardener ± 3 g; each reading of 0.1 g makes some 0.1 g of doubt."""
    assert verdict(mixed(hardener_mg)) == expected


def test_a_coarse_doubt_widens_what_is_near_and_never_what_is_within() -> None:
    fine = pot(poured(RESIN, 50_000, on=FINE_SCALE), poured(HARDENER, 15_250, on=FINE_SCALE))
    coarse = pot(poured(RESIN, 50_000), poured(HARDENER, 15_250))
    assert (verdict(fine), verdict(coarse)) == ("within", "near the limit")


def test_a_scale_that_ran_on_knows_less_than_one_that_was_zeroed() -> None:
    zeroed, running = (
        judge(pot(poured(RESIN, 500_000), poured(HARDENER, 150_000, zeroed=zeroed))) for zeroed in (True, False)
    )
    assert zeroed is not None
    assert running is not None
    assert running.uncertainty_pct > zeroed.uncertainty_pct


def test_with_a_component_missing_there_is_no_ratio() -> None:
    assert judge(pot(poured(RESIN, 500_000))) is None
    assert judge(pot(poured(HARDENER, 150_000))) is None


def test_the_sentence_has_the_deviation_the_doubt_and_the_tolerance() -> None:
    judged = judge(mixed(160_000))
    assert judged is not None
    assert judged.deviation_pct == pytest.approx(20 / 3)
    assert judged.sentence.startswith("Ratio outside its tolerance: hardener +6.7 %, known to ± 0.")
    assert judged.sentence.endswith("the tolerance is ± 2 %.")


def test_resin_comes_first_and_hardener_by_the_resin_that_is_in() -> None:
    plans = [planned(RESIN, RESIN_CAN, 500_000), planned(HARDENER, HARDENER_CAN, 150_000)]
    first = next_pour(pot(plans=plans))
    assert first is not None
    assert (first.component, first.container, first.target_mg) == ("resin", "C000018", 500_000)
    assert first.tolerance_from_mg is None, "resin has a target only"
    plans[0].settled_at = CONTACT
    second = next_pour(pot(poured(RESIN, 510_000), plans=plans))
    assert second is not None
    assert (second.component, second.container, second.target_mg) == ("hardener", "C00003Z", 153_000)
    assert second.scale_reading_if_not_zeroed_mg == 663_000


def test_the_accepted_readings_lie_within_the_tolerance_by_what_the_scale_cannot_tell() -> None:
    asked = next_pour(pot(poured(RESIN, 500_000), plans=[planned(HARDENER, HARDENER_CAN, 150_000)]))
    assert asked is not None
    assert (asked.tolerance_from_mg, asked.tolerance_to_mg) == (147_000, 153_000)
    assert asked.accepted_from_mg is not None
    assert asked.accepted_to_mg is not None
    assert 147_000 < asked.accepted_from_mg < 150_000 < asked.accepted_to_mg < 153_000
    for reading_mg in (asked.accepted_from_mg, asked.accepted_to_mg):
        assert reading_mg % 100 == 0, "a reading that this scale can show"
        assert verdict(mixed(reading_mg)) == "within"
    assert verdict(mixed(asked.accepted_from_mg - 100)) != "within"
    assert verdict(mixed(asked.accepted_to_mg + 100)) != "within"


def test_a_target_is_said_as_the_scale_can_show_it() -> None:
    asked = next_pour(pot(poured(RESIN, 500_170), plans=[planned(HARDENER, HARDENER_CAN, 150_000)]))
    assert asked is not None
    assert asked.target_mg == 150_100, "exactly 150.051 g"


def test_of_two_cans_of_hardener_none_has_limits_of_its_own() -> None:
    plans = [planned(HARDENER, HARDENER_CAN, 100_000), planned(HARDENER, SECOND_HARDENER_CAN, 50_000)]
    asked = next_pour(pot(poured(RESIN, 500_000), plans=plans))
    assert asked is not None
    assert (asked.target_mg, asked.tolerance_from_mg, asked.accepted_from_mg) == (100_000, None, None)


@pytest.mark.parametrize("state", [State.RUNNING, State.CLOSED, State.DISCARDED, State.ABANDONED])
def test_only_a_pot_that_is_being_weighed_has_a_next_number(state: State) -> None:
    assert next_pour(pot(plans=[planned(RESIN, RESIN_CAN, 500_000)], state=state)) is None


def corrected(of: Pot, *, after_min: float = 1) -> MixCorrection | None:
    return correction(of, at=CONTACT + timedelta(minutes=after_min), site=SITE)


def test_what_is_within_or_closed_is_not_corrected() -> None:
    assert corrected(mixed(150_000, contact_at=CONTACT)) is None
    assert corrected(mixed(160_000, contact_at=CONTACT, state=State.CLOSED)) is None
    assert corrected(pot(poured(RESIN, 500_000))) is None


@pytest.mark.parametrize(
    ("resin_mg", "hardener_mg", "add", "add_mg", "total_mg"),
    [
        (500_000, 165_000, "resin", 50_000, 715_000),
        (500_000, 135_000, "hardener", 15_000, 650_000),
        # 50.333 g, of which the scale shows tenths.
        (500_000, 165_100, "resin", 50_300, 715_400),
    ],
)
def test_the_component_that_is_short_is_added(
    resin_mg: int, hardener_mg: int, add: str, add_mg: int, total_mg: int
) -> None:
    found = corrected(mixed(hardener_mg, resin_mg, contact_at=CONTACT))
    assert found is not None
    assert (found.add, found.add_mg, found.total_mg, found.possible) == (add, add_mg, total_mg, "yes")
    after = {"resin": resin_mg, "hardener": hardener_mg}
    after[add] += add_mg
    assert verdict(mixed(after["hardener"], after["resin"])) == "within"


AGAINST: dict[str, tuple[dict[str, Any], float, str]] = {
    "applied": ({"movements": [moved(MovementKind.APPLICATION, None)]}, 1, "Some of it has been applied."),
    "filled": ({"movements": [moved(MovementKind.ADDITION, 5000)]}, 1, "Filler is in."),
    "too large": (
        {"system": {"largest_pot_mg": 700_000}},
        1,
        "It would weigh 715 g, the largest pot is 700 g.",
    ),
    "late": ({}, 14, "14 of its 44 min are gone, more than 25 %."),
    "long past": ({}, 32_564, "44 of its 44 min are gone, more than 25 %."),
    "over": ({"temperature_c": 35}, 60, "Its pot life is over."),
}


@pytest.mark.parametrize("why", AGAINST)
def test_what_forbids_it(why: str) -> None:
    facts, after_min, sentence = AGAINST[why]
    found = corrected(mixed(165_000, contact_at=CONTACT, **facts), after_min=after_min)
    assert found is not None
    assert (found.possible, found.why_not) == ("no", (sentence,))
    assert found.sentence == f"It cannot be corrected any more. {sentence}"


def test_a_corrected_pot_may_be_just_as_large_as_the_largest() -> None:
    found = corrected(mixed(165_000, contact_at=CONTACT, system={"largest_pot_mg": 715_000}))
    assert found is not None
    assert found.possible == "yes"


def test_a_quarter_of_its_life_is_not_yet_more_than_a_quarter() -> None:
    # Between 70 min of 100 g and 40 min of 1000 g, by the logarithm of the mass.
    life_min = 70 * (40 / 70) ** math.log10(6.65)
    quarter = life_min / 4
    early, late = (corrected(mixed(165_000, contact_at=CONTACT), after_min=quarter + d) for d in (-0.01, 0.01))
    assert early is not None
    assert late is not None
    assert (early.possible, late.possible) == ("yes", "no")


def test_before_first_contact_no_time_is_gone() -> None:
    found = corrected(mixed(165_000), after_min=600)
    assert found is not None
    assert found.possible == "yes"


@pytest.mark.parametrize("temperature_c", [None, 35])
def test_where_it_is_not_known_how_much_of_its_life_is_gone_it_is_asked(temperature_c: float | None) -> None:
    found = corrected(mixed(165_000, contact_at=CONTACT, temperature_c=temperature_c))
    assert found is not None
    assert found.possible == "ask"
    assert found.why_not == ("How much of its pot life is gone is not known.",)
    assert found.sentence.startswith("Ask before you correct. ")


def test_stirring_counts_since_the_last_pour_and_only_scraped_and_long_enough_is_enough() -> None:
    once = [stirred(5)]
    assert view_stirring(mixed(150_000, stirrings=once)).enough is True
    assert view_stirring(mixed(150_000, stirrings=[stirred(5, 1), stirred(7, 1)])).enough is True, "they add up"
    assert view_stirring(mixed(150_000, stirrings=[stirred(5, 1.9)])).enough is False
    assert view_stirring(mixed(150_000, stirrings=[stirred(5, scraped=False)])).enough is False
    assert view_stirring(mixed(150_000)).enough is False
    again = pot(poured(RESIN, 500_000), poured(HARDENER, 150_000, after_min=10), stirrings=once)
    assert (view_stirring(again).times, view_stirring(again).enough) == (0, False)
    assert view_stirring(pot(poured(RESIN, 500_000), stirrings=once)).enough is None, "there is nothing to mix yet"
