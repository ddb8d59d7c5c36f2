"""How long a pot may be worked: from first contact, by mass and temperature, and never set back (rules 24 to 27)."""

from datetime import timedelta
from typing import Any

import pytest

from schemas.words import Component
from service.formulas.clocks import LifePoint
from service.operations.pots.clock import Clock, clock_of, corrected_clock, table_life
from service.operations.pots.pot import Pot
from tests.operations.pots.pots import CONTACT, pot, poured

RESIN, HARDENER = Component.RESIN, Component.HARDENER
ONE_POINT = [{"mass_g": 100, "temperature_c": 20, "life_min": 60}]


def met(*, resin_g: float = 77, hardener_g: float = 23, **facts: Any) -> Pot:
    pours = poured(RESIN, round(resin_g * 1000)), poured(HARDENER, round(hardener_g * 1000))
    return pot(*pours, contact_at=CONTACT, **{"ratio": 23 / 77, **facts})


def test_before_first_contact_there_is_no_clock() -> None:
    assert clock_of(pot(poured(RESIN, 77_000))) == Clock(None, None, None, None)


def test_a_point_of_the_table_gives_its_own_life_from_first_contact() -> None:
    clock = clock_of(met())
    assert clock.life_min == pytest.approx(70)
    assert clock.use_before == CONTACT + timedelta(minutes=70)
    assert clock.over_after is None


def test_a_heavier_or_warmer_pot_has_less_time() -> None:
    lives = [clock_of(one).life_min for one in (met(), met(resin_g=770, hardener_g=230), met(temperature_c=30))]
    assert lives == pytest.approx([70, 40, 35])


def test_hardener_that_is_still_to_come_counts_already() -> None:
    """The deadline does not shrink while the hardener is being poured."""
    begun = clock_of(met(resin_g=770, hardener_g=1))
    assert begun.life_min == pytest.approx(clock_of(met(resin_g=770, hardener_g=230)).life_min)


def test_of_an_unknown_temperature_nothing_is_said_but_why() -> None:
    clock = clock_of(met(temperature_c=None))
    assert (clock.life_min, clock.use_before, clock.over_after) == (None, None, None)
    assert clock.note == "The temperature of the mix is not known, so neither is its pot life."


def test_hotter_than_the_table_there_is_only_a_time_from_which_it_is_surely_over() -> None:
    clock = clock_of(met(temperature_c=35))
    assert clock.life_min is None
    assert clock.over_after is not None
    assert timedelta(0) <= CONTACT + timedelta(minutes=35) - clock.over_after <= timedelta(seconds=1), "whole seconds"
    assert not clock.over(clock.over_after)
    assert clock.over(clock.over_after + timedelta(seconds=1))


def test_a_clock_without_a_limit_is_never_over() -> None:
    assert not Clock(None, None, None, None).over(CONTACT + timedelta(days=300))


def test_the_temperature_of_the_air_is_marked() -> None:
    marked = clock_of(met(temperature_of_air=True)).note or ""
    assert marked.endswith("Reckoned with the temperature of the air; the mix may be warmer.")


def test_a_tray_without_a_table_keeps_the_time_of_the_cup() -> None:
    clock = clock_of(met(in_tray_at=CONTACT + timedelta(minutes=5)))
    assert clock.life_min == pytest.approx(70)
    assert "the cup's time is kept" in (clock.note or "")


def test_what_was_spent_in_the_cup_stays_spent_in_the_tray() -> None:
    tray = [{"mass_g": 1000, "temperature_c": 20, "life_min": 140}]
    half_gone = clock_of(met(in_tray_at=CONTACT + timedelta(minutes=35), tray_life=tray))
    assert half_gone.life_min == pytest.approx(35 + 70), "half of the cup's life is gone: half of the tray's is left"
    at_once = clock_of(met(in_tray_at=CONTACT, tray_life=tray))
    assert at_once.life_min == pytest.approx(140)


def test_a_correction_shortens_the_life_and_counts_from_the_same_contact() -> None:
    clock = corrected_clock(met(), total_mg=1_000_000)
    assert clock is not None
    assert clock.life_min == pytest.approx(40)
    assert clock.use_before == CONTACT + timedelta(minutes=40)


@pytest.mark.parametrize("facts", [{"contact_at": None}, {"temperature_c": None}, {"in_tray_at": CONTACT}])
def test_what_a_correction_leaves_is_not_guessed(facts: dict[str, Any]) -> None:
    known = {"contact_at": CONTACT, **facts}
    assert corrected_clock(pot(poured(RESIN, 77_000), **known), total_mg=1_000_000) is None


def test_one_point_is_moved_by_the_rule_of_thumb_and_no_further_than_twenty_kelvin() -> None:
    points = [LifePoint(100, 20, 60)]
    ten_hotter = table_life(points=points, mass_g=100, temperature_c=30)
    assert (ten_hotter.minutes, ten_hotter.bound) == (pytest.approx(30), "rule of thumb")
    assert table_life(points=points, mass_g=100, temperature_c=40).minutes == pytest.approx(15)
    assert table_life(points=points, mass_g=100, temperature_c=40.1).minutes is None
    assert table_life(points=points, mass_g=101, temperature_c=30).minutes is None
    assert table_life(points=points, mass_g=100, temperature_c=15).minutes == pytest.approx(60)


def test_the_clock_says_that_it_goes_by_the_rule_of_thumb() -> None:
    assert clock_of(met(cup_life=ONE_POINT, temperature_c=30)).bound == "rule of thumb"
