"""A failed test that was repeated and passed is a finding that was answered; and a mould's release, coat by coat."""

from typing import Any

import pytest

from schemas.defects import DEFECTS
from tests import makers
from tests.fresh import made_once

BAG = {"least_vacuum_mbar": 850, "drop_limit_mbar": 30, "drop_minutes": 5}
TESTS = {
    "tack-test": ({"kind": "tack test", "result": "lifts"}, {"kind": "tack test", "result": "marks"}),
    "climate": (
        {"kind": "climate", "air_c": 20, "surface_c": 12, "humidity_pct": 70},
        {"kind": "climate", "air_c": 20, "surface_c": 20, "humidity_pct": 50},
    ),
    "drop-test": (
        {"kind": "drop test", "start_mbar": 910, "end_mbar": 800, "minutes": 5, "gauge": "G2"},
        {"kind": "drop test", "start_mbar": 910, "end_mbar": 900, "minutes": 5, "gauge": "G2"},
    ),
}


@pytest.fixture
@made_once
def yard(api: Any) -> Any:
    makers.supplier(api)
    api.place = makers.place(api)
    glass = makers.fabric(api)
    api.roll = makers.roll(api, glass, api.place, "F-1")
    makers.design(api, plies=makers.plies(glass, 0), bag=BAG)
    return api


def _part(yard: Any, **more: Any) -> str:
    return str(yard.post("/v1/parts", {"part_number": "HY-204", **more})["code"])


def _settled(yard: Any, part: str, kind: str) -> list[str | None]:
    return [f["settled"] for f in yard.get(f"/v1/parts/{part}")["flags"] if f["kind"] == kind]


@pytest.mark.parametrize("kind", TESTS)
def test_a_test_that_was_repeated_and_passed_is_answered_and_both_are_shown(yard: Any, kind: str) -> None:
    part = _part(yard)
    failed, passed = TESTS[kind]
    yard.post(f"/v1/parts/{part}/steps", failed)
    assert _settled(yard, part, kind) == [None]
    yard.shop.clock.forward(minutes=25)
    view = yard.post(f"/v1/parts/{part}/steps", passed)
    assert [s["passed"] for s in view["steps"]] == [False, True]
    assert _settled(yard, part, kind) == ["It was repeated 25 min later and passed."]
    said = [r["what"] for r in yard.get(f"/v1/parts/{part}/release")["review"] if r["kind"] == kind]
    assert [one.endswith("It was repeated 25 min later and passed.") for one in said] == [True]
    found = [f for f in yard.get(f"/v1/parts/{part}/record")["standing_out"] if f["kind"] == kind]
    assert [f["rank"] for f in found] == ["to be read"]


def test_what_time_does_not_heal_or_was_built_upon_stays_as_it_was(yard: Any) -> None:
    part = _part(yard)
    steps = f"/v1/parts/{part}/steps"
    yard.post(steps, {"kind": "tack test", "result": "dry"})
    yard.post(steps, {"kind": "vacuum", "least_mbar": 900, "until_gel": False})
    yard.shop.clock.forward(minutes=20)
    yard.post(steps, {"kind": "tack test", "result": "marks"})
    yard.post(steps, {"kind": "vacuum", "least_mbar": 900, "until_gel": True})
    assert (_settled(yard, part, "tack-test"), _settled(yard, part, "vacuum")) == ([None], [None])
    other = _part(yard)
    failed, passed = TESTS["climate"]
    yard.post(f"/v1/parts/{other}/steps", failed)
    yard.shop.clock.forward(minutes=5)
    kit = yard.post("/v1/kits", {"design": 1, "cuts": [{"roll": yard.roll, "length_mm": 500}]})["code"]
    yard.post(f"/v1/parts/{other}/kits", {"kit": kit})
    yard.shop.clock.forward(minutes=5)
    yard.post(f"/v1/parts/{other}/steps", passed)
    assert _settled(yard, other, "climate") == [None], "it was laid in the bad air"


def test_a_test_of_another_zone_answers_nothing(yard: Any) -> None:
    part = _part(yard)
    failed, passed = TESTS["tack-test"]
    yard.post(f"/v1/parts/{part}/steps", {**failed, "zone": "root"})
    yard.post(f"/v1/parts/{part}/steps", {**passed, "zone": "tip"})
    assert _settled(yard, part, "tack-test") == [None]


@made_once
def _mould(yard: Any, **release: Any) -> tuple[str, str]:
    agent = makers.material(yard, "Semi 44", "release agent", **release)
    can = makers.cans(yard, agent, yard.place, "S-1", net_g=500, no_expiry=True)[0]
    return yard.post("/v1/moulds", {"name": "Rudder half mould"}, who="lead")["code"], can


def _pulled(yard: Any, part: str) -> None:
    yard.post(f"/v1/parts/{part}/closing")
    makers.cured(yard, part)
    yard.post(f"/v1/parts/{part}/steps", TESTS["drop-test"][1])
    yard.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})


def test_one_coat_of_two_and_waxing_an_occupied_mould_are_asked_about(yard: Any) -> None:
    mould, can = _mould(yard, release_coats=2)
    treat = {"kind": "release coat", "container": can, "coats": 1}
    one = yard.post(f"/v1/moulds/{mould}/treatments", treat)
    assert (one["ready"], one["not_ready"]) == (False, [f"1 of 2 release coats is on {mould}."])
    start = {"part_number": "HY-204", "mould": mould}
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["release-coats"]
    assert yard.post(f"/v1/moulds/{mould}/treatments", treat)["ready"] is True
    part = _part(yard, mould=mould)
    asked = yard.refused(f"/v1/moulds/{mould}/treatments", treat, "wrong-state")
    assert f"{part} still lies in {mould}." in asked["detail"]
    assert yard.get(f"/v1/moulds/{mould}")["treatments"][-1]["coats"] == 1
    yard.post(f"/v1/moulds/{mould}/treatments", {**treat, "confirmed": True})


def test_a_semi_permanent_release_lasts_for_its_pulls_and_the_mould_says_when_it_is_due(yard: Any) -> None:
    mould, can = _mould(yard, release_pulls=2)
    yard.post(f"/v1/moulds/{mould}/treatments", {"kind": "release coat", "container": can})
    assert yard.get(f"/v1/moulds/{mould}")["release_pulls_left"] == 2
    _pulled(yard, _part(yard, mould=mould))
    after = yard.get(f"/v1/moulds/{mould}")
    assert (after["ready"], after["release_pulls_left"], after["pulls"]) == (True, 1, 1)
    second = _part(yard, mould=mould)
    assert [m["code"] for m in yard.get(f"/v1/parts/{second}")["materials"]] == [can], "it lies on that release too"
    _pulled(yard, second)
    due = yard.get(f"/v1/moulds/{mould}")
    assert (due["ready"], due["release_pulls_left"]) == (False, None)
    assert due["not_ready"] == [f"The release on {mould} has had the pulls that it lasts for; lay it on again."]
    start = {"part_number": "HY-204", "mould": mould}
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["no-release"]


def test_the_words_of_the_trade_are_there_each_with_its_meaning_and_a_hardness_is_said_once(yard: Any) -> None:
    part = _part(yard)
    _pulled(yard, part)
    found = [{"kind": kind, "zone": "root", "accepted": True} for kind in DEFECTS]
    barcol = {"name": "Barcol", "value": 22, "unit": "Barcol", "low": 30}
    view = yard.post(f"/v1/parts/{part}/inspections", {"accepted": True, "defects": found, "measurements": [barcol]})
    assert {d["kind"] for d in view["defects"]} == {str(kind) for kind in DEFECTS}
    said = [f["sentence"] for f in view["flags"] if f["kind"] == "out-of-limit"]
    assert said == ["Barcol is 22; at least 30 is asked for."]
    api_says = yard.get("/openapi.json")
    described = api_says["components"]["schemas"]["FoundDefectIn"]["properties"]["kind"]["description"]
    assert "kissing bond: a bond that touches and carries nothing" in described
