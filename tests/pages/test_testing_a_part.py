"""What is tested on a part, used on it and fitted into it, told at the tablet and off a sheet of paper."""

import re
from typing import Any

import pytest

from service.pages.testing import TESTS
from tests import makers
from tests.journeys import floor
from tests.pages.hand import hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
BAG = {"least_vacuum_mbar": 850, "drop_limit_mbar": 20, "drop_minutes": 10}


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u202f", " ")


def test_all_that_is_tested_on_a_part_is_told_at_the_tablet_and_judged_as_over_the_api(api: Any) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    part = yard.part(yard.design("HY-301", bag=BAG))
    assert f'href="/I/{part}/tests"' in hand.open(f"/I/{part}")
    assert "Nothing was tested" in hand.open(f"/I/{part}/tests")
    told = {
        "tack-test": {"result": "marks", "temperature_c": "21,5"},
        "gel-coat-thickness": {"thickness_mm": "0,6", "zone": "tip"},
        "climate": {"air_c": "20", "humidity_pct": "55", "surface_c": "19,5"},
        "backers": {"counted": "2"},
        "bag": {},
        "drop-test": {"start_mbar": "900", "end_mbar": "870", "gauge": "P4"},
        "vacuum": {"least_mbar": "860", "until_gel": "true"},
        "mass": {"mass_g": "1180,5"},
        "note": {"remark": "a dry spot at the tip, wetted again"},
    }
    assert set(told) == {step for step, _, _ in TESTS.values()}
    for step, asked in told.items():
        assert f'href="/I/{part}/{step}"' in hand.open(f"/I/{part}/tests")
        hand.open(f"/I/{part}/{step}")
        hand.tap("Enter it", **asked)
        assert (hand.status, hand.at) == (200, f"/I/{part}/tests"), (step, words(hand.page))
    seen = {step["kind"]: step for step in api.get(f"/v1/parts/{part}")["steps"]}
    assert seen["tack test"]["facts"] == {"result": "marks", "temperature_c": 21.5}
    assert seen["gel coat thickness"]["facts"] == {"thickness_mm": 0.6, "zone": "tip"}
    # The design has three plies: as many films were asked for without being typed.
    assert (seen["backers"]["facts"]["expected"], seen["backers"]["passed"]) == (3, False)
    assert (seen["drop test"]["facts"]["minutes"], seen["drop test"]["passed"]) == (10, False)
    assert (seen["vacuum"]["passed"], seen["mass"]["facts"]["mass_g"]) == (True, 1180.5)
    text = words(hand.page)
    assert "from 900 mbar, to 870 mbar, in 10 min, gauge P4" in text
    assert "a dry spot at the tip" in text
    hand.open(f"/I/{part}/drop-test")
    assert "at least 850 mbar" in words(hand.page)
    refused = hand.tap("Enter it", start_mbar="9oo", end_mbar="890", gauge="P4")
    assert hand.status == 422
    wrong = re.search(r'<p class="hint wrong" id="([^"]+)"', refused)
    assert wrong is not None, "what is wrong stands at its field"
    assert wrong[1] == "start_mbar-wrong"
    assert 'value="890"' in refused, "what was typed stays"


def test_a_material_and_a_finished_part_go_in_by_their_labels(api: Any) -> None:
    yard, hand = floor.founded(api), hand_of(api)
    whole, piece = yard.part(yard.design("HY-302")), yard.part(yard.design("HY-303", plies=[]))
    film = makers.material(api, "Bag film", "consumable")
    can = makers.cans(api, film, yard.bench.place, "F-1")[0]
    hand.open(f"/I/{whole}/use")
    assert "goes in through a mix" in hand.tap("It was used", container=yard.bench.slow_can, purpose="bag")
    hand.tap("It was used", container=can, purpose="bag", mass_g="40,5")
    assert hand.at == f"/I/{whole}"
    assert "40.5 g" in words(hand.page)
    hand.open(f"/I/{whole}/fit")
    assert "only a cured part" in hand.tap("It is fitted", component=piece)
    yard.pot(piece)
    yard.close_lay_up(piece)
    yard.cure(piece)
    hand.tap("It is fitted", component=piece)
    assert hand.at == f"/I/{whole}"
    assert api.get(f"/v1/parts/{piece}")["state"] == "fitted"
