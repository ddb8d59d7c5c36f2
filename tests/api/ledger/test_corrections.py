"""A wrong entry is answered by one that names it; nothing is rewritten, and the account is right again."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def can(api: Any) -> str:
    makers.supplier(api)
    api.place = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", opened_life_days=30)
    return makers.cans(api, resin, api.place, "26-1")[0]


def _entry(api: Any, item: str, operation: str) -> Any:
    return api.get(f"/v1/journal?item={item}&operation={operation}", who="quality")[-1]


def test_a_wrong_amount_is_booked_again_and_both_stay_in_the_journal(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    entry = _entry(api, jug, "decant")
    body = {"declaration": "incorrect data", "amounts": [{"movement": entry["movements"][0]["id"], "mass_g": 50}]}
    path = f"/v1/journal/{entry['seq']}/corrections"
    api.refused(path, body, "invalid", status=422, who="lead")
    made = api.post(path, {**body, "why": "a nought too many"}, who="lead")
    assert [(m["before"], m["after"]) for m in made["movements"]] == [(500_000, 50_000)]
    assert api.get(f"/v1/containers/{jug}")["left_g"] == 50
    assert api.get(f"/v1/containers/{can}")["left_g"] == 4950
    assert _entry(api, jug, "correct_entry")["corrects"] == entry["deed"]
    assert [f["kind"] for f in api.get(f"/v1/items/{jug}")["flags"]] == ["corrected"]
    trace = api.get(f"/v1/items/{jug}/trace")
    assert [m["amount_g"] for m in trace["movements"] if m["target"] == jug] == [50]
    api.refused(path, {**body, "why": "again"}, "wrong-state", who="lead")


def test_what_did_not_occur_is_taken_back_unless_it_has_gone_on(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    api.post(f"/v1/containers/{jug}/decants", {"mass_g": 100})
    body = {"declaration": "did not occur", "why": "scanned the wrong can"}
    path = f"/v1/journal/{_entry(api, jug, 'decant')['seq']}/corrections"
    api.refused(f"/v1/journal/{_first(api, jug)}/corrections", body, "cannot-undo", who="lead")
    api.post(path, body, who="lead")
    api.post(f"/v1/journal/{_first(api, jug)}/corrections", body, who="lead")
    assert api.get(f"/v1/containers/{can}")["left_g"] == 5000


def _first(api: Any, item: str) -> int:
    return int(api.get(f"/v1/journal?item={item}&operation=decant", who="quality")[0]["seq"])


def test_an_opening_that_did_not_occur_seals_the_can_again(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/opening")
    path = f"/v1/journal/{_entry(api, can, 'open_container')['seq']}/corrections"
    api.post(path, {"declaration": "did not occur", "why": "the one beside it"}, who="quality")
    view = api.get(f"/v1/containers/{can}")
    assert (view["state"], view["opened_at"]) == ("sealed", None)


def test_a_hold_from_a_time_on_names_only_what_was_taken_since(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})
    since = api.shop.clock.forward(hours=2)
    api.shop.clock.forward(hours=1)
    after = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    further = api.post(f"/v1/containers/{after}/decants", {"mass_g": 50})["code"]
    hold = api.post("/v1/holds", {"item": can, "reason": "left open", "since": since.isoformat()})
    assert set(hold["reaches"]) == {after, further}
    assert api.get("/v1/holds")[0]["reaches"] is None


def test_a_permit_answers_only_what_can_be_permitted(api: Any, can: str) -> None:
    body = {"kind": "deviation permit", "item": can, "reasons": ["on-hold"], "why": "x"}
    problem = api.refused("/v1/permissions", body, "invalid", status=422)
    assert "open-too-long" in problem["detail"]


def test_a_decision_is_answered_by_a_decision(api: Any, can: str) -> None:
    hold = api.post("/v1/holds", {"item": can, "reason": "cloudy"})
    api.post(f"/v1/holds/{hold['id']}/lifting", {"why": "clear"}, who="quality")
    path = f"/v1/journal/{_entry(api, can, 'lift_hold')['seq']}/corrections"
    api.refused(path, {"declaration": "did not occur", "why": "x"}, "wrong-state", who="quality")
    api.refused(
        "/v1/journal/99999/corrections",
        {"declaration": "did not occur", "why": "x"},
        "unknown",
        status=404,
        who="quality",
    )
