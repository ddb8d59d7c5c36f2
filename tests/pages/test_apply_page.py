"""What speaks against putting a pot on a part is told before, and asked about once; then it is recorded, and marked."""

from typing import Any

import pytest

from tests import makers
from tests.pages.hand import hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_a_pot_out_of_its_ratio_and_not_stirred_is_asked_about_before_it_goes_on(api: Any) -> None:
    mixing, hand, part = makers.mixing(api), hand_of(api), makers.started_part(api)
    pot = mixing.start(260)["code"]
    mixing.pour(pot, mixing.resin_can, 200)
    mixing.pour(pot, mixing.slow_can, 40)
    seen = hand.open(f"/I/{pot}/apply")
    assert "Ratio outside its tolerance: hardener -33.3 %" in seen
    assert "the tolerance is ± 2 %" in seen
    assert "No stirring was recorded" in seen
    hand.tap("It went on this part", parts=part)
    assert "Did it go on all the same?" in hand.page
    assert api.get(f"/v1/mixes/{pot}")["applications"] == []
    hand.tap("Yes, record it so")
    told = api.get(f"/v1/mixes/{pot}")
    assert [a["part"] for a in told["applications"]] == [part]
    assert {"ratio-outside", "not-stirred"} <= {f["kind"] for f in told["flags"]}


def test_a_pot_past_its_life_is_asked_about_and_a_good_one_is_not(api: Any) -> None:
    mixing, hand, part = makers.mixing(api), hand_of(api), makers.started_part(api)
    pot = mixing.mixed(130)["code"]
    assert 'role="alert"' not in hand.open(f"/I/{pot}/apply")
    hand.tap("It went on this part", parts=part)
    assert len(api.get(f"/v1/mixes/{pot}")["applications"]) == 1
    api.shop.clock.forward(hours=3)
    assert "Its pot life was over" in hand.open(f"/I/{pot}/apply")
    hand.tap("It went on this part", parts=part)
    assert "Its pot life was over" in hand.page
    assert len(api.get(f"/v1/mixes/{pot}")["applications"]) == 1
    assert '<div class="verdict fit">' in hand.open(f"/I/{pot}")
    hand.open(f"/I/{pot}/apply")
    hand.tap("It went on this part", parts=part)
    hand.tap("Yes, record it so")
    # A right ratio is no green pot where a fault stands below it.
    seen = hand.open(f"/I/{pot}")
    assert '<div class="verdict leave">' in seen
    assert "Ratio is right, but it is on hold" in seen


def test_a_tap_on_the_page_of_a_part_whose_lay_up_is_closed_is_asked_about(api: Any) -> None:
    mixing, hand, part = makers.mixing(api), hand_of(api), makers.started_part(api)
    first = mixing.mixed(130)["code"]
    mixing.apply(first, part)
    api.post(f"/v1/parts/{part}/closing")
    pot = mixing.mixed(130)["code"]
    assert f"{part} is laid up: its lay-up was closed." in hand.open(f"/I/{pot}/apply?parts={part}")
    hand.open(f"/I/{part}")
    button = next(line for line in hand.page.splitlines() if pot in line and "<button" in line)
    hand.tap(button.partition(">")[2].partition("</button>")[0])
    assert f"{part} is laid up: its lay-up was closed." in hand.page
    assert api.get(f"/v1/mixes/{pot}")["applications"] == []
    hand.tap("Yes, record it so")
    assert [a["part"] for a in api.get(f"/v1/mixes/{pot}")["applications"]] == [part]
