"""Which component comes next, by what is in the cup (shop rules 13 and 22)."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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


def test_the_number_is_where_the_scale_will_stand_only_where_nobody_is_to_zero_it() -> None:
    said = []
    for zeroed in (True, False):
        found = next_pour(pot(poured(RESIN, 500_000), plans=PLANS[1:], plan={"zeroed": zeroed}))
        assert found is not None
        said.append(found.sentence.split(". ")[0])
    assert said == [
        "Add 150 g of hardener from C00003Z",
        "Add hardener from C00003Z until the scale reads 650 g: 150 g more",
    ]
    first = next_pour(pot(plans=PLANS, plan={"zeroed": False}))
    assert first is not None
    assert first.sentence == "Add 500 g of resin from C000018."


@pytest.mark.parametrize(("resin_mg", "ratio", "limited"), [(1, 0.6, False), (2, 0.5, True)])
def test_below_a_milligram_there_is_nothing_to_limit(resin_mg: int, ratio: float, limited: bool) -> None:
    found = next_pour(pot(poured(RESIN, resin_mg), plans=PLANS[1:], ratio=ratio))
    assert found is not None
    assert (found.tolerance_from_mg is not None) is limited


def _corrected(**facts: Any) -> Any:
    short = pot(poured(RESIN, 500_000), poured(HARDENER, 135_000), contact_at=CONTACT, **facts)
    return correction(short, at=CONTACT, site=Site(correction_share_pct=25))


def test_pigment_forbids_no_correction_and_filler_does() -> None:
    assert _corrected(movements=[moved(MovementKind.ADDITION, 5000, out_of=PIGMENT_CAN)]).possible == "yes"
    assert _corrected(movements=[moved(MovementKind.ADDITION, 5000)]).why_not == ("Filler is in.",)


_FROM = {RESIN: [RESIN_CAN, SECOND_RESIN_CAN], HARDENER: [HARDENER_CAN, SECOND_HARDENER_CAN]}


def _settle(plans: Any) -> None:
    for plan in list(plans):
        plan.settled_at = CONTACT


def _settled(of: Any) -> bool:
    """What the account does after each pour: give back what is not needed any more; whether all is in."""
    _settle(p for p in of.plans if p.container_id == of.pours[-1].container_id)
    judged = judge(of)
    near = judged is not None and abs(judged.deviation_pct) <= judged.tolerance_pct + judged.uncertainty_pct
    done = of.both_in and (near or to_come(of) is None)
    needless = not_needed(of)
    _settle(p for p in of.plans if done or p.component == needless)
    return done


@settings(deadline=None, max_examples=200)
@given(
    strays=st.lists(st.tuples(st.sampled_from([RESIN, HARDENER]), st.booleans(), st.integers(50, 4000)), max_size=3),
    split=st.tuples(st.integers(0, 4), st.integers(0, 4)),
)
def test_whoever_follows_the_numbers_ends_within_the_tolerance_or_with_a_correction(
    strays: list[tuple[Component, bool, int]], split: tuple[int, int]
) -> None:
    """However it began, with whatever cans: the pot is never left with a number that cannot be poured."""
    plans = []
    for component, total, share in ((RESIN, 500_000, split[0]), (HARDENER, 150_000, split[1])):
        first = total * (5 - share) // 5
        amounts = [first, total - first] if share else [total]
        plans += [planned(component, can, mg) for can, mg in zip(_FROM[component], amounts, strict=False)]
    begun = pot(plans=plans)
    done = False
    for component, second, tenths in strays:
        if not done:
            begun.weighed.append(poured(component, tenths * 100, out_of=_FROM[component][second]))
            done = _settled(begun)
    for _ in range(6):
        asked = None if done else next_pour(begun)
        if asked is None:
            break
        assert asked.target_mg >= 100
        can = next(number for number, named in begun.named.items() if named.code == asked.container)
        begun.weighed.append(poured(asked.component, asked.target_mg, out_of=can))
        done = _settled(begun)
    assert done
    judged = judge(begun)
    assert judged is not None
    # What is in by the ratio, and too little for the scale to prove it, wants nothing more.
    if judged.verdict != "within" and abs(judged.deviation_pct) > 1e-3:
        offered = correction(begun, at=CONTACT, site=Site(correction_share_pct=25))
        assert offered is not None
        assert offered.add_mg > 0
