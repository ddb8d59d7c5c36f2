"""Part, cure, the morning's and the evening's round, and the board: what a walk through the shop opens."""

import re
from typing import Any

import pytest

from service.pages import settling
from tests import makers
from tests.conftest import Api
from tests.journeys import floor
from tests.pages.hand import hand_of
from tests.pages.test_other_ways_to_weigh import words

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_a_part_goes_from_its_pot_to_its_cure_by_taps(api: Api) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    part = yard.part(yard.design(plies=[]))
    hand.open(f"/I/{part}")
    assert "Nothing has gone into it yet" in hand.page
    assert "Put a pot on it" not in hand.page
    mix = yard.bench.mixed(500)
    mix = mix["code"] if isinstance(mix, dict) else mix
    hand.open(f"/I/{part}")
    button = next(line for line in hand.page.splitlines() if mix in line and "<button" in line)
    hand.tap(button.partition(">")[2].partition("</button>")[0])
    assert api.get(f"/v1/mixes/{mix}")["applications"][0]["part"] == part
    hand.open(f"/I/{part}/close")
    hand.tap("The lay-up is closed")
    hand.open(f"/I/{part}")
    assert yard.bench.api.get(f"/v1/parts/{part}")["state"] == "laid up"
    assert "points are open" in hand.page
    hand.open(f"/I/{part}/cure")
    hand.tap("The cure has started", place=yard.oven)
    cure = hand.at.rsplit("/", 1)[1]
    assert "It runs" in hand.page
    hand.open(f"/I/{cure}/thermometer")
    api.shop.clock.forward(hours=10)
    hand.tap("Enter it", low_c="21,5", high_c="61")
    assert "21.5 to 61 °C" in hand.page
    hand.tap("It is over")
    assert "On hold" in hand.page, "without its evidence a cure holds its parts"
    hand.open(f"/I/{part}/demould")
    hand.tap("It is out", temperature_c="24")
    assert api.get(f"/v1/parts/{part}")["state"] == "demoulded"
    hand.open(f"/I/{part}/hold")
    hand.tap("Put on hold", reason="delaminated")
    assert "On hold" in hand.page


def test_each_round_is_one_list_that_gets_shorter(api: Api) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    part = yard.part(yard.design())
    hand.open("/morning")
    assert "Nothing to look at" in hand.page
    closed = [yard.pot(part)["code"], yard.pot(part)["code"]]
    standing = yard.bench.mixed(130)
    standing = standing["code"] if isinstance(standing, dict) else standing
    hand.open("/evening")
    assert standing in words(hand.page).replace(" ", "")
    assert closed[0] not in words(hand.page).replace(" ", "")
    told = api.get("/v1/rounds/evening")
    assert {can["container"] for can in told["cans"]} == {yard.bench.resin_can, yard.bench.slow_can}
    assert [pot["mix"] for pot in told["pots"]] == [standing]
    hand.open(f"/I/{yard.bench.slow_can}/weigh-back?_next=/evening")
    hand.tap("Enter it", gross_g="2050", tare_g="200")
    assert hand.at == "/evening"
    assert [can["container"] for can in api.get("/v1/rounds/evening")["cans"]] == [yard.bench.resin_can]
    api.shop.clock.forward(hours=16)
    hand = hand_of(api)
    hand.open("/morning")
    assert [cup["mix"] for cup in api.get("/v1/rounds/morning")["cups"]] == closed
    hand.tap("Hard")
    assert hand.at == "/morning"
    assert [cup["mix"] for cup in api.get("/v1/rounds/morning")["cups"]] == closed[1:]
    hand.tap("Soft")
    assert "Nothing to look at" in hand.page
    assert api.get(f"/v1/parts/{part}")["holds"] != []
    yard.pot(part)
    api.shop.clock.forward(hours=24)
    assert "1 cup to look at" in api.get("/v1/rounds/morning")["sentence"]
    api.shop.clock.forward(hours=24 * 3)
    assert api.get("/v1/rounds/morning")["cups"] == [], "after a long weekend the cup is in the bin"
    assert ">0 cups to look at<" in hand_of(api).open("/board")
    assert api.get("/v1/rounds/evening")["cans"] == [], "what was not used today is not weighed back tonight"


def test_windows_say_until_when_and_by_which_temperature(api: Api) -> None:
    yard = floor.founded(api)
    assert api.get("/v1/windows") == []
    part = yard.part(yard.design())
    mix = yard.bench.mixed(130)
    mix = mix["code"] if isinstance(mix, dict) else mix
    yard.bench.apply(mix, part)
    told = api.get("/v1/windows")
    film = next(w for w in told if w["code"] == part)
    assert (film["state"], film["mix"]) == ("open", mix)
    assert "mix at 20 °C" in film["sentence"]
    colder = film["until"]
    climate = {"kind": "climate", "air_c": 24, "humidity_pct": 40, "surface_c": 28}
    api.post(f"/v1/parts/{part}/steps", climate)
    api.post(f"/v1/parts/{part}/steps", {"kind": "tack test", "result": "marks"})
    film = next(w for w in api.get("/v1/windows") if w["code"] == part)
    assert film["sentence"].startswith("tacky at ")
    assert "mould at 28 °C" in film["sentence"]
    assert film["until"] < colder
    coat = {"kind": "release coat", "container": yard.mould["agent"], "coats": 1}
    api.post(f"/v1/moulds/{yard.mould['code']}/treatments", coat)
    assert {w["state"] for w in api.get("/v1/windows")} == {"open", "wait"}
    page = hand_of(api).open("/board")
    assert "wait until" in page
    api.shop.clock.forward(hours=5)
    assert [w["state"] for w in api.get("/v1/windows")] == ["over"]


def test_a_cup_left_standing_raises_the_alarm(api: Api) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    mix = yard.bench.mixed(650)
    mix = mix["code"] if isinstance(mix, dict) else mix
    assert 'data-alarm="' not in hand.open("/board")
    api.shop.clock.forward(minutes=60)
    for page in ("/board", f"/I/{mix}"):
        assert f'data-alarm="{mix}"' in hand.open(page)
        assert "act now" in hand.page


def test_what_the_board_leaves_out_is_a_tap_away_and_is_no_more_than_is_said(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    cans = makers.cans(api, yard.bench.resin, yard.bench.place, "R-7", count=14)
    for can in cans[:11]:
        api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="quality")
    assert '<a class="soft" href="/decide">and 7 more</a>' in hand.open("/board")
    for can in cans[11:]:
        api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="quality")
    api.post("/v1/holds", {"person": api.shop.people["lead"], "reason": "no training yet"}, who="quality")
    assert '<a class="soft" href="/decide">and more than 8 others</a>' in hand.open("/board")
    page = hand.open("/decide")
    assert [can for can in cans if f'href="/I/{can}/settle"' not in page] == []
    assert "no training yet" in page
    monkeypatch.setattr(settling, "_ROWS", 6)
    found: list[str] = []
    path: str | None = "/decide"
    while path:
        page = hand.open(path)
        found += re.findall(r'href="/I/(\w+)/settle"', page)
        after = re.search(r'href="(/decide\?held=\d+)">Those after them', page)
        path = after[1] if after else None
    assert found == cans
    assert hand.open("/decide?held=x").count("/settle") == 6


@pytest.mark.parametrize("what", ["empty", "busy"])
def test_what_is_served_stays_within_its_statements(api: Api, what: str) -> None:
    from tests.statements import statements

    yard, hand = floor.founded(api), hand_of(api)
    part = yard.part(yard.design())
    mix = yard.bench.start(130, parts=[part])["code"]
    pages: dict[str, Any] = {"/board": 25, "/morning": 25, "/evening": 25, f"/I/{part}": 25, f"/I/{mix}": 25}
    pages |= {f"/I/{yard.bench.slow_can}": 25, f"/I/{yard.bench.slow_can}/weigh": 25, f"/I/{mix}/can": 25}
    if what == "busy":
        for _ in range(4):
            yard.pot(part)
            yard.bench.mixed(130)
        api.post(f"/v1/parts/{part}/closing")
        cure = api.post("/v1/cures", {"schedule": floor.SCHEDULE, "parts": [part], "place": yard.oven})
        pages[f"/I/{cure['code']}"] = 25
        pages[f"/I/{mix}/can?container={yard.bench.fast_can}"] = 25
    taken = {}
    for path in pages:
        with statements() as said:
            hand.open(path)
        assert hand.status == 200, path
        taken[path] = len(said)
    assert {path: count for path, count in taken.items() if count > pages[path]} == {}, taken
