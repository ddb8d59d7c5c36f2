"""Scales over HTTP: checks fall due, and a failed one reaches back to the pots weighed since the last good one."""

from typing import Any

import pytest

from tests import makers
from tests.statements import statements

CHECK = {"weight": "W-500-1", "nominal_g": 500, "reading_g": 500.1, "limit_g": 0.2}


def test_a_scale_is_due_on_its_day_and_overdue_the_day_after(api: Any) -> None:
    code = makers.scale(api, check_every_days=7)
    assert api.get(f"/v1/scales/{code}")["check_sentence"] == "It has not been checked yet."
    checked = api.post(f"/v1/scales/{code}/checks", CHECK)
    assert (checked["check_state"], checked["check_due_on"], checked["usable"]) == ("in order", "2026-11-10", True)
    assert checked["last_check"]["passed"] is True
    api.shop.clock.forward(days=7)
    assert api.get(f"/v1/scales/{code}")["check_state"] == "in order"
    api.shop.clock.forward(days=1)
    late = api.get(f"/v1/scales/{code}")
    assert (late["check_state"], late["usable"]) == ("overdue", False)


def test_the_limit_decides_and_a_failed_check_stops_the_scale(api: Any) -> None:
    code = makers.scale(api)
    assert api.post(f"/v1/scales/{code}/checks", {**CHECK, "reading_g": 499.8})["last_check"]["passed"] is True
    failed = api.post(f"/v1/scales/{code}/checks", {**CHECK, "reading_g": 499.7})
    assert (failed["check_state"], failed["usable"]) == ("failed", False)
    assert [c["reading_g"] for c in api.get(f"/v1/scales/{code}/checks")] == [499.7, 499.8]


def test_an_overdue_or_failed_scale_starts_no_pot(api: Any) -> None:
    shop = makers.mixing(api)
    overdue = makers.scale(api, "Old scale", check_every_days=1)
    problem = shop.refused("scale-overdue", scale=overdue)
    assert "check weight" in problem["way_out"]
    api.post(f"/v1/scales/{shop.scale}/checks", {**CHECK, "reading_g": 505})
    assert shop.refused("scale-overdue")["check_state"] == "failed"
    api.post(f"/v1/scales/{shop.scale}/checks", CHECK)
    shop.start()


def test_a_pot_weighed_on_an_overdue_scale_is_recorded_and_stopped(api: Any) -> None:
    shop = makers.mixing(api)
    overdue = makers.scale(api, "Old scale", check_every_days=1)
    mix = shop.start()["code"]
    poured = shop.pour(mix, shop.resin_can, 384.6, scale=overdue)
    assert poured["resin_g"] == 384.6
    assert [(f["kind"], f["stops"]) for f in poured["flags"]] == [("scale-overdue", True)]


def test_a_failed_check_holds_the_pots_since_the_last_passed_one_and_their_parts(api: Any) -> None:
    # Everything between two verifications is affected: FDA, Questions and Answers on CGMP, Laboratory Controls, Q1.
    shop = makers.mixing(api)
    early = shop.mixed(200)["code"]
    api.shop.clock.forward(hours=1)
    api.post(f"/v1/scales/{shop.scale}/checks", CHECK)
    api.shop.clock.forward(hours=1)
    late = shop.mixed(200)["code"]
    part = makers.started_part(api)
    shop.apply(late, (part, 150))
    failed = api.post(f"/v1/scales/{shop.scale}/checks", {**CHECK, "reading_g": 499.4})
    assert failed["affected"] == [late]
    assert api.get(f"/v1/mixes/{early}")["flags"] == []
    seen = api.get(f"/v1/mixes/{late}")
    flag = next(f for f in seen["flags"] if f["kind"] == "scale-check-failed")
    # 153.8 g and 46.1 g, each out by up to 0.6 g: 0.6/153.8 + 0.6/46.1 = 1.7 %.
    assert "up to 1.7 %" in flag["sentence"]
    assert flag["stops"] is True
    assert seen["holds"][0]["on"] == late
    assert [h["on"] for h in api.get(f"/v1/parts/{part}")["holds"]] == [late]


def test_a_failed_check_takes_as_many_statements_for_many_pots_as_for_one(api: Any) -> None:
    shop = makers.mixing(api)
    taken, stopped = [], []
    for pots in (1, 4):
        api.post(f"/v1/scales/{shop.scale}/checks", CHECK)
        api.shop.clock.forward(hours=1)
        made = [shop.mixed(200)["code"] for _ in range(pots)]
        with statements() as said:
            failed = api.post(f"/v1/scales/{shop.scale}/checks", {**CHECK, "reading_g": 499.4})
        assert failed["affected"] == made
        taken.append(len(said))
        stopped += made
    assert taken[0] == taken[1]
    for mix in stopped:
        seen = api.get(f"/v1/mixes/{mix}")
        flag = next(f for f in seen["flags"] if f["kind"] == "scale-check-failed")
        assert ([h["on"] for h in seen["holds"]], flag["stops"], "1.7 %" in flag["sentence"]) == ([mix], True, True)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [({"nominal_g": 9000}, "/nominal_g"), ({"limit_g": 500}, "/limit_g"), ({"reading_g": -1}, "/reading_g")],
)
def test_a_check_that_makes_no_sense_is_refused(api: Any, body: dict[str, Any], pointer: str) -> None:
    code = makers.scale(api)
    problem = api.post(f"/v1/scales/{code}/checks", {**CHECK, **body}, expect=422)
    assert problem["errors"][0]["pointer"] == pointer


def test_a_scale_of_that_name_is_there_already(api: Any) -> None:
    makers.scale(api)
    body = {"name": "Bench scale", "interval_g": 1, "repeatability_g": 0, "maximum_g": 100}
    api.refused("/v1/scales", body, "already-there", who="lead")
