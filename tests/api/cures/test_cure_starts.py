"""What a cure may start with, and what proves one that no probe was on."""

import re
from datetime import timedelta
from typing import Any

import pytest

from service.operations.ledger.checking import check_account
from tests import makers
from tests.conftest import NOW
from tests.fresh import made_once

OVERNIGHT = {
    "name": "overnight", "low_c": 18, "high_c": 25, "minimum_min": 960, "over_c": None, "air_over_c": None,
}  # fmt: skip
RESET = NOW.isoformat().replace("+00:00", "Z")


@pytest.fixture
@made_once
def shop_floor(api: Any) -> Any:
    api.schedule = makers.schedule(api, start_within_min=120)
    api.part = makers.laid_up_part(api)
    return api


def start(api: Any, **more: Any) -> Any:
    return api.post("/v1/cures", {"schedule": api.schedule["name"], "parts": [api.part], **more})


def test_a_part_that_is_still_being_laid_up_is_not_cured(shop_floor: Any) -> None:
    part = shop_floor.post("/v1/parts", {"part_number": "HY-204"})["code"]
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part, part]}
    problem = shop_floor.refused("/v1/cures", body, "wrong-state")
    assert problem["way_out"] == f"Close the lay-up of {part} first."
    assert shop_floor.get("/v1/cures") == []


def test_a_part_is_in_one_cure_at_a_time(shop_floor: Any) -> None:
    cure = start(shop_floor)["code"]
    problem = shop_floor.refused(
        "/v1/cures", {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part]}, "wrong-state"
    )
    assert problem["cure"] == cure
    shop_floor.post(f"/v1/cures/{cure}/end")
    assert start(shop_floor)["code"] != cure


def test_a_scrapped_part_is_not_cured(shop_floor: Any) -> None:
    shop_floor.post(f"/v1/parts/{shop_floor.part}/scrapping", {"method": "sawn through"}, who="lead")
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part]}
    assert "is scrapped" in shop_floor.refused("/v1/cures", body, "wrong-state")["detail"]


@pytest.mark.parametrize(("waited_min", "flags"), [(119, []), (120, []), (121, ["cure-started-late"])])
def test_a_cure_that_starts_late_is_noted_on_the_part(shop_floor: Any, waited_min: int, flags: list[str]) -> None:
    shop_floor.shop.clock.forward(minutes=waited_min)
    assert start(shop_floor)["state"] == "running"
    seen = shop_floor.get(f"/v1/items/{shop_floor.part}")["flags"]
    assert [f["kind"] for f in seen] == flags
    if flags:
        assert "2 h 1 min after the lay-up was closed, at most 2 h 0 min is allowed" in seen[0]["sentence"]
        assert seen[0]["stops"] is False


def test_a_part_on_hold_is_cured_all_the_same_and_the_journal_says_so(shop_floor: Any) -> None:
    shop_floor.post("/v1/holds", {"item": shop_floor.part, "reason": "ply 3 wrinkled"})
    cure = start(shop_floor)["code"]
    entry = shop_floor.get(f"/v1/journal?item={cure}", who="quality")[0]
    assert {"part": shop_floor.part, "on_hold": ["ply 3 wrinkled"]} in entry["body"]["notes"]


def test_an_oven_on_hold_stops_the_next_cure(shop_floor: Any) -> None:
    oven = makers.place(shop_floor, "Oven 1")
    shop_floor.post("/v1/holds", {"item": oven, "reason": "thermostat sticks"})
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part], "place": oven}
    shop_floor.refused("/v1/cures", body, "on-hold")


def test_the_oven_was_used_and_did_not_go_into_the_part(shop_floor: Any) -> None:
    oven = makers.place(shop_floor, "Oven 1")
    cure = start(shop_floor, place=oven)["code"]
    used = shop_floor.get(f"/v1/items/{cure}")["made_with"]
    assert [(u["role"], u["code"]) for u in used] == [("started by", None), ("oven", oven)]
    assert oven not in {i["code"] for i in shop_floor.get(f"/v1/items/{shop_floor.part}/trace")["items"]}


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"schedule": "Other"}, 422),
        ({"schedule": 99}, 422),
        ({"schedule": True}, 422),
        ({"schedule": 1.5}, 422),
        ({"schedule": ""}, 422),
        ({"parts": []}, 422),
        ({"parts": ["P00099Q"]}, 422),
        ({"place": "S000018"}, 422),
    ],
)
def test_a_start_that_does_not_make_sense_is_refused(shop_floor: Any, change: dict[str, Any], status: int) -> None:
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part], **change}
    assert shop_floor.call("POST", "/v1/cures", body).status_code == status


def test_the_same_part_twice_is_refused(shop_floor: Any) -> None:
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part, shop_floor.part]}
    assert shop_floor.post("/v1/cures", body, expect=422)["errors"][0]["pointer"] == "/parts"


def test_a_name_means_the_newest_approved_revision_and_an_older_number_is_refused(shop_floor: Any) -> None:
    newer = makers.schedule(shop_floor)
    draft = makers.schedule(shop_floor, approved=False)
    old = {"schedule": shop_floor.schedule["id"], "parts": [shop_floor.part]}
    assert shop_floor.refused("/v1/cures", old, "wrong-state")["schedule"] == newer["id"]
    assert draft["revision_number"] == 3
    waits = makers.schedule(shop_floor, "Overnight", approved=False)
    refused = shop_floor.post("/v1/cures", {**old, "schedule": "Overnight"}, expect=422)
    assert (
        refused["detail"] == "There is no approved schedule Overnight here: Revision 1 of Overnight is still a draft."
    )
    assert refused["way_out"] == f"The lead or quality approves schedule {waits['id']} first."
    refused = shop_floor.post("/v1/cures", {**old, "schedule": "Other"}, expect=422)
    assert (refused["detail"], refused["errors"][0]["pointer"]) == ("There is no schedule Other here.", "/schedule")
    cure = start(shop_floor)
    assert (cure["schedule_id"], cure["schedule"], cure["revision_number"]) == (newer["id"], newer["name"], 2)


def test_a_post_cure_leaves_a_demoulded_part_demoulded(shop_floor: Any) -> None:
    first = makers.schedule(shop_floor, "Overnight", stages=[OVERNIGHT], evidence="declared")
    for after, name, post_cure in (("cured", first["name"], False), ("demoulded", first["name"], True)):
        body = {"schedule": name, "parts": [shop_floor.part], "post_cure": post_cure}
        cure = shop_floor.post("/v1/cures", body)["code"]
        shop_floor.post(f"/v1/cures/{cure}/declaration", {"remark": "on the bench, heating on"})
        shop_floor.shop.clock.forward(minutes=960)
        assert shop_floor.post(f"/v1/cures/{cure}/end")["passed"] is True
        assert shop_floor.get(f"/v1/items/{shop_floor.part}")["state"] == after
        if after == "cured":
            shop_floor.post(f"/v1/parts/{shop_floor.part}/demoulding", {"temperature_c": 21})


def test_a_cure_cannot_end_before_it_started(shop_floor: Any) -> None:
    cure = start(shop_floor)["code"]
    problem = shop_floor.post(f"/v1/cures/{cure}/end", {"occurred_at": "2026-11-03T08:00:00Z"}, expect=422)
    assert problem["errors"][0]["pointer"] == "/occurred_at"


def test_a_declared_cure_says_so_everywhere(shop_floor: Any) -> None:
    shop_floor.schedule = makers.schedule(shop_floor, "Overnight", stages=[OVERNIGHT], evidence="declared")
    cure = start(shop_floor)["code"]
    shop_floor.post(f"/v1/cures/{cure}/declaration", {"remark": "on the bench, heating on"})
    shop_floor.shop.clock.forward(minutes=960)
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["evidence"], view["needed"]) == (True, "declared", "declared")
    assert view["verdict"]["sentences"] == [
        "Declared, not measured.",
        "overnight: Declared, not measured: 16 h 0 min, 16 h 0 min needed.",
    ]
    assert (view["statements"][0]["person_name"], view["statements"][0]["low_c"]) == ("Laminator", None)
    assert [(f["kind"], f["stops"]) for f in view["flags"]] == [("cure-declared", False)]
    read = [r["what"] for r in shop_floor.get(f"/v1/parts/{shop_floor.part}/release")["review"]]
    assert f"{cure} was declared; nothing was measured." in read, "and nobody says that later evidence proved it"
    assert shop_floor.get("/v1/cures")[0]["evidence"] == "declared"
    shop_floor.client.post("/enter", data={"key": shop_floor.shop.keys["laminator"]})
    for code in (cure, shop_floor.part):
        page = shop_floor.client.get(f"/I/{code}").get_data(as_text=True)
        assert "eclared, not measured</" in page, "in the place of the verdict"
        assert not re.search(r">(passed|Proved)<", page)


def test_nothing_is_told_of_a_cure_before_it_began(shop_floor: Any) -> None:
    """Its part was there ten minutes earlier."""
    clock = shop_floor.shop.clock
    shop_floor.schedule = makers.schedule(shop_floor, "Overnight", stages=[OVERNIGHT], evidence="declared")
    clock.forward(minutes=10)
    cure = start(shop_floor)["code"]
    early = (clock.now - timedelta(minutes=5)).isoformat()
    clock.forward(minutes=960)
    reading = {"low_c": 19, "high_c": 22, "reset_at": (clock.now - timedelta(days=1)).isoformat()}
    for what, body in (("declaration", {"remark": "heating on"}), ("thermometer", reading), ("end", {})):
        problem = shop_floor.post(f"/v1/cures/{cure}/{what}", {**body, "occurred_at": early}, expect=422)
        assert [error["pointer"] for error in problem["errors"]] == ["/occurred_at"], problem
        assert problem["detail"] == f"{cure} was started on 3 Nov 2026 10:10; this cannot have happened before."
    shop_floor.post(f"/v1/cures/{cure}/end")


def test_a_demoulding_told_of_a_time_at_which_the_cure_went_on_is_flagged(shop_floor: Any) -> None:
    clock, part = shop_floor.shop.clock, shop_floor.part
    clock.forward(minutes=10)
    makers.cured(shop_floor, part, "Room overnight")
    told = {"temperature_c": 20, "occurred_at": (clock.now - timedelta(hours=1)).isoformat()}
    view = shop_floor.post(f"/v1/parts/{part}/demoulding", told)
    (flag,) = [flag for flag in view["flags"] if flag["kind"] == "not-cured"]
    assert flag["sentence"] == "Demoulded at 01:10, as was told later: its cure ended at 02:10."
    assert (flag["stops"], len(view["holds"])) == (True, 1)


def test_a_declared_cure_that_was_too_short_fails(shop_floor: Any) -> None:
    shop_floor.schedule = makers.schedule(shop_floor, "Overnight", stages=[OVERNIGHT], evidence="declared")
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=900)
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert view["passed"] is False
    view = shop_floor.post(f"/v1/cures/{cure}/declaration", {"remark": "on the bench"})
    assert (view["passed"], view["state"]) == (False, "failed")
    assert "15 h 0 min, 16 h 0 min needed" in view["verdict"]["sentences"][1]


def test_a_declaration_is_refused_where_the_schedule_needs_better(shop_floor: Any) -> None:
    cure = start(shop_floor)["code"]
    problem = shop_floor.refused(f"/v1/cures/{cure}/declaration", {"remark": "warm all night"}, "wrong-state")
    assert problem["evidence"] == "part probe"


@pytest.mark.parametrize(
    ("low", "high", "read_after_min", "passed"),
    [(18.5, 22, 970, True), (17.5, 22, 970, False), (18.5, 26, 970, False), (18.5, 22, 900, False)],
)
def test_a_thermometer_proves_all_of_its_time_or_none(
    shop_floor: Any, low: float, high: float, read_after_min: int, passed: bool
) -> None:
    shop_floor.schedule = makers.schedule(
        shop_floor, "Overnight", stages=[OVERNIGHT], evidence="minimum-maximum thermometer"
    )
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=read_after_min)
    shop_floor.post(f"/v1/cures/{cure}/thermometer", {"low_c": low, "high_c": high, "reset_at": RESET})
    shop_floor.shop.clock.forward(minutes=980 - read_after_min)
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["evidence"]) == (passed, "minimum-maximum thermometer")


def test_a_thermometer_is_not_enough_where_a_log_is_asked_for(shop_floor: Any) -> None:
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=500)
    shop_floor.post(f"/v1/cures/{cure}/thermometer", {"low_c": 54, "high_c": 62, "reset_at": RESET})
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert view["passed"] is False
    assert view["verdict"]["sentences"][1].endswith("there is a minimum-maximum thermometer only.")
    problem = shop_floor.post(
        f"/v1/cures/{cure}/thermometer", {"low_c": 62, "high_c": 58, "reset_at": RESET}, expect=422
    )
    assert problem["errors"][0]["pointer"] == "/low_c"
    later = {"low_c": 58, "high_c": 62, "reset_at": "2026-11-04T10:00:00Z"}
    problem = shop_floor.post(f"/v1/cures/{cure}/thermometer", later, expect=422)
    assert problem["errors"][0]["pointer"] == "/reset_at"


def test_a_thermometer_in_the_band_all_the_time_is_worth_a_log_of_the_air(shop_floor: Any) -> None:
    shop_floor.schedule = makers.schedule(shop_floor, "By the air", evidence="air log")
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=500)
    reading = {"low_c": 58, "high_c": 62, "reset_at": RESET}
    shop_floor.post(f"/v1/cures/{cure}/thermometer", reading)
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["evidence"]) == (True, "minimum-maximum thermometer")
    assert view["statements"][0]["reset_at"] == RESET


def test_a_thermometer_reset_late_has_not_seen_the_rest(shop_floor: Any) -> None:
    shop_floor.schedule = makers.schedule(
        shop_floor, "Overnight", stages=[OVERNIGHT], evidence="minimum-maximum thermometer"
    )
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=1000)
    reading = {"low_c": 18.5, "high_c": 22, "reset_at": "2026-11-03T10:00:00Z"}
    shop_floor.post(f"/v1/cures/{cure}/thermometer", reading)
    view = shop_floor.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["verdict"]["result"]) == (False, "not known")
    assert "15 h 40 min between 18.5 and 22 °C" in " ".join(view["verdict"]["sentences"])


def test_the_account_still_agrees_with_its_history(shop_floor: Any) -> None:
    cure = start(shop_floor)["code"]
    shop_floor.shop.clock.forward(minutes=500)
    shop_floor.post(f"/v1/cures/{cure}/end")
    assert check_account().first == ()


def test_a_start_sent_twice_is_one_cure(shop_floor: Any) -> None:
    body = {"schedule": shop_floor.schedule["name"], "parts": [shop_floor.part]}
    one = shop_floor.call("POST", "/v1/cures", body, Idempotency_Key="c1")
    two = shop_floor.call("POST", "/v1/cures", body, Idempotency_Key="c1")
    assert one.get_json() == two.get_json()
    assert len(shop_floor.get("/v1/cures")) == 1
