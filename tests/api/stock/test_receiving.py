"""Goods in over HTTP: what arrives is on the book at once, and waits until someone releases it."""

from typing import Any

import pytest


@pytest.fixture
def stocked(api: Any) -> Any:
    api.post("/v1/suppliers", {"name": "Fenwick Resins", "approved": True}, who="lead")
    place = api.post("/v1/places", {"name": "Shelf B2"}, who="lead")["code"]
    hardener = api.post(
        "/v1/materials",
        {
            "name": "Alder 32 slow hardener",
            "kind": "hardener",
            "opened_life_days": 180,
            "shelf_life_days": 730,
            "h_codes": ["H314", "H317"],
            "tare_g": 250,
        },
        who="lead",
    )
    api.place, api.hardener = place, hardener["id"]
    return api


def _deliver(api: Any, **more: Any) -> Any:
    body = {
        "material": api.hardener,
        "supplier": 1,
        "delivery_note": "LN 4471",
        "place": api.place,
        "makers_lot": "26-0914",
        "expires_on": "2027-09-30",
        "containers": [{"net_g": 5000, "count": 4}],
        **more,
    }
    return api.post("/v1/deliveries", body)


def test_a_delivery_waits_in_quarantine_until_it_is_released(stocked: Any) -> None:
    lot = _deliver(stocked)
    assert lot["state"] == "quarantine"
    can = stocked.get(f"/v1/containers/{lot['containers'][1]}")
    assert (can["left_g"], can["number"], can["of"]) == (5000, 2, 4)
    assert can["fitness"]["answer"] == "leave"
    assert [r["kind"] for r in can["fitness"]["reasons"]] == ["not-released"]
    jug = {"mass_g": 100, "tare_g": 60}
    refused = stocked.refused(f"/v1/containers/{can['code']}/decants", jug, "not-fit")
    assert refused["way_out"] == f"The lead or quality releases lot {lot['code']} first."
    stocked.post(f"/v1/lots/{lot['code']}/release", who="laminator", expect=403)
    stocked.post(f"/v1/lots/{lot['code']}/release", who="lead")
    assert stocked.get(f"/v1/containers/{lot['containers'][1]}")["fitness"]["answer"] == "fit"


def test_a_second_delivery_of_a_lot_is_a_second_receipt_and_waits_on_its_own(stocked: Any) -> None:
    first = _deliver(stocked)
    stocked.post(f"/v1/lots/{first['code']}/release", who="lead")
    second = _deliver(stocked, delivery_note="LN 4502")
    assert second["code"] == first["code"]
    assert [r["delivery_note"] for r in second["receipts"]] == ["LN 4471", "LN 4502"]
    old, new = second["containers"][0], second["containers"][-1]
    assert stocked.get(f"/v1/containers/{old}")["fitness"]["answer"] == "fit"
    assert stocked.get(f"/v1/containers/{new}")["fitness"]["answer"] == "leave"


def test_opened_life_and_refusals_in_words(stocked: Any) -> None:
    lot = _deliver(stocked)
    stocked.post(f"/v1/lots/{lot['code']}/release", who="lead")
    can = lot["containers"][0]
    opened = stocked.post(f"/v1/containers/{can}/opening")
    assert opened["good_until"] == "2027-05-02"
    # The last good day ends at midnight in Copenhagen, which is 22:00 UTC in summer (shop rule 9).
    assert opened["good_until_at"] == "2027-05-02T22:00:00Z"
    stocked.shop.clock.forward(days=215)
    view = stocked.get(f"/v1/containers/{can}")
    assert view["fitness"]["reasons"][0]["sentence"] == "It has been open for 215 days and may be open for 180."
    assert view["instead"]
    problem = stocked.refused(f"/v1/containers/{can}/decants", {"mass_g": 100}, "not-fit")
    assert "instead" in problem["way_out"]


def test_the_same_request_twice_is_done_once(stocked: Any) -> None:
    body = {
        "material": stocked.hardener,
        "supplier": 1,
        "delivery_note": "LN 1",
        "place": stocked.place,
        "makers_lot": "26-0914",
        "expires_on": "2027-09-30",
        "containers": [{"net_g": 5000}],
    }
    one = stocked.call("POST", "/v1/deliveries", body, Idempotency_Key="a1")
    two = stocked.call("POST", "/v1/deliveries", body, Idempotency_Key="a1")
    assert one.get_json() == two.get_json()
    assert two.headers["Idempotency-Replayed"] == "true"
    stocked.refused(
        "/v1/deliveries", {**body, "delivery_note": "LN 2"}, "idempotency-key-reused", status=422, Idempotency_Key="a1"
    )
    assert len(stocked.get("/v1/lots")[0]["receipts"]) == 1


def test_the_journal_tells_it_all_and_holds(stocked: Any) -> None:
    lot = _deliver(stocked)
    stocked.post(f"/v1/lots/{lot['code']}/release", who="laminator", expect=403)
    entries = stocked.get(f"/v1/journal?item={lot['code']}", who="quality")
    assert [e["operation"] for e in entries] == ["receive_delivery"]
    assert stocked.get("/v1/journal/chain", who="quality")["unbroken"] is True
    last = stocked.get("/v1/journal/chain", who="quality")["entries"]
    stocked.post("/v1/places", {"name": "Shelf B3"}, who="lead")
    assert [e["seq"] for e in stocked.get(f"/v1/journal?since={last}", who="quality")] == [last + 1]


def test_a_lot_names_its_newest_containers_and_the_list_of_them_has_all(stocked: Any) -> None:
    _deliver(stocked, containers=[{"net_g": 1000, "count": 200}])
    lot = _deliver(stocked, delivery_note="LN 4502", containers=[{"net_g": 500, "count": 3}])
    listed, path = [], f"/v1/containers?lot={lot['code']}&limit=200"
    while path:
        page = stocked.call("GET", path)
        listed += [row["code"] for row in page.get_json()]
        path = page.headers.get("Link", "").partition(">")[0].removeprefix("<")
    assert len(listed) == 203
    assert stocked.get(f"/v1/lots/{lot['code']}")["containers"] == listed[-200:]


def test_a_hazard_code_that_is_none_is_named_where_it_stands(stocked: Any) -> None:
    mistyped = {"name": "Alder 33 fast hardener", "kind": "hardener", "h_codes": ["H314", "H3I7"]}
    for path, body, pointer in (
        ("/v1/materials", mistyped, "/h_codes/1"),
        ("/v1/registers", {"materials": [mistyped]}, "/materials/0/h_codes/1"),
    ):
        problem = stocked.refused(path, body, "invalid", status=422, who="lead")
        assert problem["errors"][0]["pointer"] == pointer
        assert problem["detail"].startswith("“H3I7” is not a hazard code that the table knows")
    changed = stocked.call(
        "PATCH", f"/v1/materials/{stocked.hardener}", {"h_codes": ["P280"], "why": "x"}, who="lead", If_Match='"1"'
    )
    assert (changed.status_code, changed.get_json()["errors"][0]["pointer"]) == (422, "/h_codes/0")
