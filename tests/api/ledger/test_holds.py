"""Holds reach what was made of a thing; permits and concessions need a second person."""

from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def can(api: Any) -> str:
    makers.supplier(api)
    api.place = makers.place(api)
    api.resin = makers.material(api, "Alder 10 resin", "resin", opened_life_days=30)
    return makers.cans(api, api.resin, api.place, "26-1")[0]


def test_a_hold_on_a_lot_covers_its_cans_and_their_decants(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    lot = api.get(f"/v1/containers/{can}")["lot"]
    hold = api.post("/v1/holds", {"item": lot, "reason": "recalled by the maker"})
    assert makers.reached(api, hold) == {can, jug}
    for code in (can, jug):
        view = api.get(f"/v1/containers/{code}")
        assert view["fitness"]["answer"] == "leave"
        assert view["holds"][0]["on"] == lot
    problem = api.refused(f"/v1/containers/{jug}/decants", {"mass_g": 1}, "not-fit")
    assert "recalled by the maker" in problem["detail"]


def test_lifting_one_hold_leaves_the_others(api: Any, can: str) -> None:
    one = api.post("/v1/holds", {"item": can, "reason": "cloudy"})
    api.post("/v1/holds", {"item": can, "reason": "dented"})
    api.post(f"/v1/holds/{one['id']}/lifting", {"why": "clear again at 40 °C"}, who="laminator", expect=403)
    api.refused(f"/v1/holds/{one['id']}/lifting", {}, "invalid", status=422, who="quality")
    api.post(f"/v1/holds/{one['id']}/lifting", {"why": "clear again at 40 °C"}, who="quality")
    assert [h["reason"] for h in api.get(f"/v1/containers/{can}")["holds"]] == ["dented"]
    api.refused(f"/v1/holds/{one['id']}/lifting", {"why": "x"}, "wrong-state", who="quality")


def test_whoever_placed_a_hold_does_not_lift_it(api: Any, can: str) -> None:
    hold = api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="quality")
    api.refused(f"/v1/holds/{hold['id']}/lifting", {"why": "fine now"}, "second-person-required", who="quality")


def test_a_hold_from_a_time_on_leaves_what_was_taken_before(api: Any, can: str) -> None:
    before = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    since = api.shop.clock.forward(hours=2)
    api.post("/v1/holds", {"item": can, "reason": "left open", "since": since.isoformat()})
    api.shop.clock.forward(hours=1)
    assert api.get(f"/v1/containers/{before}")["fitness"]["answer"] == "fit"
    assert api.get(f"/v1/containers/{can}")["fitness"]["answer"] == "leave"


def test_an_expired_can_is_permitted_by_a_second_person_only(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/opening")
    api.shop.clock.forward(days=40)
    asked = {"kind": "deviation permit", "item": can, "reasons": ["open-too-long"]}
    api.refused("/v1/permissions", asked, "invalid", status=422)
    permit = api.post("/v1/permissions", {**asked, "why": "test pot gelled in time"}, who="lead")
    assert api.get(f"/v1/containers/{can}")["fitness"]["answer"] == "ask"
    sign = f"/v1/permissions/{permit['id']}/signature"
    api.refused(sign, {"permitted": True}, "second-person-required", who="lead")
    api.post(sign, {"permitted": True}, who="integrator", expect=403)
    api.post(sign, {"permitted": True}, who="quality")
    view = api.get(f"/v1/containers/{can}")["fitness"]
    assert view["answer"] == "fit"
    assert view["reasons"][0]["decision"] == "permitted"
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 10})


def test_a_person_on_hold_starts_nothing(api: Any, can: str) -> None:
    api.post("/v1/holds", {"person": api.shop.people["laminator"], "reason": "training runs out"}, who="quality")
    api.refused(f"/v1/containers/{can}/decants", {"mass_g": 10}, "on-hold")
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 10}, who="second laminator")


def test_a_list_shows_what_a_hold_reaches_or_what_is_free(api: Any) -> None:
    bench = makers.mixing(api)
    cloth = makers.fabric(api)
    roll = makers.roll(api, cloth, bench.place, "F-1")
    design = makers.design(api, revision="B", plies=makers.plies(cloth, 0, 45))["id"]
    kit = api.post("/v1/kits", {"design": design, "cuts": [{"roll": roll, "length_mm": 1500}]})["code"]
    mould, other = (api.post("/v1/moulds", {"name": f"Mould {n}"}, who="lead")["code"] for n in (1, 2))
    schedule = makers.schedule(api, "Alder 10 overnight")["name"]
    cure = api.post("/v1/cures", {"schedule": schedule, "parts": [makers.laid_up_part(api)]})["code"]
    mix, lot = bench.mixed()["code"], api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    for thing in (lot, roll, mould, cure):
        api.post("/v1/holds", {"item": thing, "reason": "doubtful"}, who="quality")
    reached = {"containers": bench.resin_can, "kits": kit, "mixes": mix, "moulds": mould, "cures": cure}
    free = {"containers": bench.slow_can, "moulds": other}
    for what, code in reached.items():
        held, not_held, every = (
            {row["code"] for row in api.get(f"/v1/{what}?limit=200{asked}")}
            for asked in ("&on_hold=true", "&on_hold=false", "")
        )
        assert (code in held, held | not_held, held & not_held) == (True, every, set()), what
        assert free.get(what, code) in (not_held if what in free else held), what
