"""The weigh page where it is not two cans on one scale: several pots, more cans, cups apart, peroxide, pump."""

import re
from typing import Any

import pytest

from tests import makers, polyester
from tests.pages.hand import hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u202f", " ")


def test_a_job_is_planned_in_pots_and_each_of_them_knows_its_number(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    hand.open(f"/I/{mixing.resin_can}/weigh")
    hand.open(f"/I/{mixing.resin_can}/plan")
    hand.tap("How many pots?", need_g="1 500", wet_out_rate_g_min="30", temperature_c="20,5")
    link = re.search(r'href="(/I/[^"]+/weigh\?[^"]+)"', hand.page)
    assert link is not None, words(hand.page)
    planned = api.post(
        "/v1/mix-plans",
        {"system": mixing.system, "hardener": mixing.slow, "need_g": 1500, "wet_out_rate_g_min": 30,
         "temperature_c": 20.5, "scale": mixing.scale},
        expect=200,
    )  # fmt: skip
    assert f">{len(planned['pots'])}</span> pots" in hand.page
    hand.open(link[1].replace("&amp;", "&"))
    assert f"Weigh pot 1 of {len(planned['pots'])}" in hand.page
    hand.tap("Start the pot", containers=[mixing.resin_can, mixing.slow_can])
    pot = hand.at.rsplit("/", 1)[1]
    kept = api.get(f"/v1/mixes/{pot}")
    assert (kept["job_plan"]["number"], kept["job_plan"]["agrees"]) == (1, True)
    assert f"Pot 1 of {len(planned['pots'])}" in words(hand.page)
    for amount in (kept["next"]["target_g"], round(kept["next"]["target_g"] * 0.3, 1)):
        hand.tap("Enter the reading", reading_g=amount)
    assert f"Weigh pot 2 of {len(planned['pots'])}" in hand.page


def test_a_plan_that_cannot_be_is_told_in_a_sentence(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    hand.open(f"/I/{mixing.resin_can}/plan?need_g=abc&system={mixing.system}")
    assert 'role="alert"' in hand.page
    asked = {"wet_out_rate_g_min": 30, "temperature_c": 20, "scale": mixing.scale}
    hand.tap("How many pots?", need_g=900_000, **asked)
    assert "at most 200 pots" in hand.page
    hand.tap("How many pots?", need_g=60_000, **asked)
    assert "cannot be mixed" in hand.page
    assert "Weigh pot" not in hand.page


def test_a_second_can_is_looked_at_before_it_is_poured_from(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    second = makers.cans(api, mixing.resin, mixing.place, "26-2222")[0]
    held = makers.cans(api, mixing.resin, mixing.place, "26-3333")[0]
    api.post("/v1/holds", {"item": held, "reason": "cloudy"}, who="quality")
    # A start with the held can is refused, and what to take instead is a tap away.
    hand.open(f"/I/{held}/weigh?with={mixing.slow_can}")
    hand.tap("Start the pot", containers=[held, mixing.slow_can, ""], total_g="260")
    assert f'<a class="button" href="/I/{second}">Look at' in hand.page
    pot = mixing.start(260)["code"]
    hand.open(f"/I/{pot}")
    hand.tap("Enter the reading", reading_g="150")
    hand.tap("Enter it", read_back_g="150")
    hand.open(f"/I/{pot}/can?container={held}")
    assert "Leave it" in hand.page
    assert "Take instead" in hand.page
    hand.open(f"/I/{pot}/can?container={mixing.fast_can}")
    assert "this pot is" in words(hand.page)
    hand.tap("May I pour from it?", container=second)
    assert "Use it" in hand.page
    assert "50.0 g" in words(hand.page)
    hand.tap("Enter the reading", reading_g="50")
    assert [p["container"] for p in api.get(f"/v1/mixes/{pot}")["pours"]] == [mixing.resin_can, second]
    assert ">60.0<" in hand.page


def test_two_cans_of_one_component_are_scanned_at_the_start(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    second = makers.cans(api, mixing.slow, mixing.place, "26-2222", net_g=40)[0]
    hand.open(f"/I/{mixing.resin_can}/weigh")
    cans = [mixing.resin_can, second, mixing.slow_can]
    hand.tap("Start the pot", containers=cans, total_g="260", purpose="bonding")
    pot = api.get(f"/v1/mixes/{hand.at.rsplit('/', 1)[1]}")
    assert [p["container"] for p in pot["plan"]] == cans
    assert pot["purpose"] == "bonding"


def test_cups_apart_meet_when_one_is_emptied_into_the_other(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    hand.open(f"/I/{mixing.resin_can}/weigh")
    cans = [mixing.resin_can, mixing.slow_can]
    hand.tap("Start the pot", containers=cans, total_g="650", separate_cups="true", temperature_c="20")
    pot = hand.at.rsplit("/", 1)[1]
    hand.tap("Enter the reading", reading_g="500")
    assert "emptied cup then shows" in hand.page
    hand.tap("Enter the reading", reading_g="151,5", emptied_cup_g="1,5")
    told = api.get(f"/v1/mixes/{pot}")
    assert [p["net_g"] for p in told["pours"]] == [500, 150]
    assert told["clock"]["contact_at"] is not None
    assert "Ratio is right" in hand.page


def test_peroxide_comes_by_its_table_and_after_its_promoter(api: Any) -> None:
    shop, hand = polyester.polyester(api), hand_of(api)
    hand.open(f"/I/{shop.plain_can}/weigh")
    assert "1.5 % at 20 to 25 °C" in words(hand.page)
    assert "stays away until it is stirred in" in words(hand.page)
    asked = {"total_g": "1015", "temperature_c": "22", "scale": shop.scale, "promoter_scale": shop.fine}
    hand.tap("Start the pot", containers=[shop.plain_can, shop.promoter_can], **asked)
    pot = hand.at.rsplit("/", 1)[1]
    hand.tap("Enter the reading", reading_g=api.get(f"/v1/mixes/{pot}")["next"]["target_g"])
    hand.tap("Enter the reading", reading_g=api.get(f"/v1/mixes/{pot}")["next"]["target_g"])
    assert "Stir the promoter in" in hand.page
    api.shop.clock.forward(minutes=4)
    hand.open(f"/I/{pot}/stir")
    hand.tap("It is stirred", minutes="3", scraped="true")
    hand.open(f"/I/{pot}")
    hand.tap("This is it", container=shop.other_bottle)
    assert "takes" in hand.page
    hand.tap("This is it", container=shop.bottle)
    assert "put away" in words(hand.page).lower()
    hand.tap("This is it", container=shop.bottle, promoter_away="true")
    hand.tap("Enter the reading", reading_g=api.get(f"/v1/mixes/{pot}")["next"]["target_g"])
    told = api.get(f"/v1/mixes/{pot}")
    assert told["judgement"]["verdict"] == "within"
    assert told["flags"] == []


def test_a_measure_is_read_in_millilitres_and_a_pump_in_strokes(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    body = {"name": "Measure 250 ml", "step_ml": 1, "capacity_ml": 250}
    measure = api.post("/v1/measures", body, who="lead")["code"]
    pump = api.post("/v1/pumps", {"name": "Resin pump 1"}, who="lead")["code"]
    shots = {"system": mixing.system, "hardener": mixing.slow, "pairs": [{"resin_g": 20, "hardener_g": 6}] * 6}
    api.post(f"/v1/scales/{pump}/shots", shots)
    cans = [mixing.resin_can, mixing.slow_can]
    hand.open(f"/I/{mixing.resin_can}/weigh")
    hand.tap("Start the pot", containers=cans, total_g="260", scale=pump, temperature_c="20")
    assert "10</span> of resin" in hand.page
    hand.tap("Enter the strokes", resin_strokes="10", hardener_strokes="10")
    pumped = api.get(f"/v1/mixes/{hand.at.rsplit('/', 1)[1]}")
    assert [p["strokes"] for p in pumped["pours"]] == [10, 10]
    assert pumped["state"] == "running"
    hand.open(f"/I/{mixing.resin_can}/weigh")
    assert measure in hand.page
