"""Many small acts in one: all of it or nothing, each part under its own rules and rights."""

from typing import Any

import pytest

from tests import makers


def test_registers_are_added_together_or_not_at_all(api: Any) -> None:
    body = {
        "suppliers": [{"name": "Fenwick Resins", "approved": True}],
        "materials": [{"name": "Alder 10", "kind": "resin"}, {"name": "Twill", "kind": "fabric"}],
    }
    problem = api.post("/v1/registers", body, expect=422, who="lead")
    assert problem["errors"][0]["pointer"].startswith("/materials/1")
    assert api.get("/v1/suppliers") == []
    body["materials"].pop()
    made = api.post("/v1/registers", body, who="lead")
    assert [m["name"] for m in made["materials"]] == ["Alder 10"]
    twice = api.post("/v1/registers", {"suppliers": body["suppliers"]}, expect=409, who="lead")
    assert twice["type"] == "/problems/already-there"
    assert api.post("/v1/registers", {}, expect=422, who="lead")


def test_approvals_ask_of_each_what_it_is_asked_alone(api: Any) -> None:
    schedule = makers.schedule(api, approved=False)["id"]
    design = makers.design(api, approved=False)["id"]
    problem = api.post("/v1/approvals", {"schedules": [schedule], "designs": [design, 99]}, expect=422, who="quality")
    assert problem["errors"][0]["pointer"] == "/designs/1"
    assert api.get(f"/v1/designs/{design}")["approved_at"] is None
    made = api.post("/v1/approvals", {"schedules": [schedule], "designs": [design]}, who="quality")
    assert all(row["approved_at"] for row in (*made["schedules"], *made["designs"]))


def test_a_person_comes_with_a_key_that_is_shown_once(api: Any) -> None:
    body = {"name": "Ida Holm", "roles": ["laminator"], "with_key": True}
    api.refused("/v1/people", body, "invalid", status=422, who="administrator", Idempotency_Key="twice")
    made = api.post("/v1/people", body, who="administrator")
    opened = api.client.get("/v1/people", headers={"Authorization": f"Bearer {made['secret']}"})
    assert opened.status_code == 200
    assert api.get(f"/v1/people/{made['id']}")["secret"] is None


def test_a_cure_is_declared_and_ended_in_one_act(api: Any) -> None:
    part = makers.laid_up_part(api)
    makers.schedule(api, "Room overnight", evidence="declared")
    cure = api.post("/v1/cures", {"schedule": "Room overnight", "parts": [part]})["code"]
    api.shop.clock.forward(hours=16)
    made = api.post(f"/v1/cures/{cure}/declaration", {"remark": "21 °C in the morning", "ended": True})
    assert made["state"] == "passed"
    assert len(api.get(f"/v1/journal?item={cure}", who="lead")) == 2


def test_a_pot_is_applied_and_closed_in_one_act(api: Any) -> None:
    bench = makers.mixing(api)
    part = makers.started_part(api)
    mix = bench.mixed()["code"]
    made = api.post(f"/v1/mixes/{mix}/closing", {"parts": [{"part": part}], "all_used": True})
    assert (made["state"], made["left_g"]) == ("closed", 0)
    assert [a["part"] for a in made["applications"]] == [part]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_thousand_rows_are_added_in_one_act_and_each_is_answered_in_its_place(api: Any) -> None:
    rows = [{"name": f"Maker {number}", "approved": True} for number in range(1000)]
    problem = api.post("/v1/registers", {"suppliers": rows, "places": [{"name": "Rack"}]}, expect=422, who="lead")
    assert problem["errors"][0]["pointer"] == "/suppliers"
    assert "1,000 rows" in problem["detail"]
    made = api.post("/v1/registers", {"suppliers": rows}, who="lead")["suppliers"]
    assert [row["name"] for row in made] == [row["name"] for row in rows]
    assert len({row["id"] for row in made}) == 1000
    assert len(api.get("/v1/journal?operation=add_registers", who="lead")) == 1
