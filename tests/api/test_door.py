"""The door: keys for repeating are one's own, no clock runs back, an administrator is always there."""

from datetime import timedelta
from typing import Any

from service.database import connected
from service.operations.door import people
from service.operations.ledger.checking import check_account
from tests import makers


def test_what_was_said_of_the_time_belongs_to_the_request_that_is_repeated(api: Any) -> None:
    """The same key with another time is another request; the same time again is the same."""
    makers.supplier(api)
    can = makers.cans(api, makers.material(api, "Alder 10", "resin"), makers.place(api), "26-1")[0]
    told = {"occurred_at": (api.shop.clock.now - timedelta(minutes=5)).isoformat()}
    first = api.post(f"/v1/containers/{can}/opening", told, Idempotency_Key="open")
    assert api.post(f"/v1/containers/{can}/opening", told, Idempotency_Key="open") == first
    other = {"occurred_at": (api.shop.clock.now - timedelta(minutes=4)).isoformat()}
    problem = api.post(f"/v1/containers/{can}/opening", other, expect=422, Idempotency_Key="open")
    assert problem["type"] == "/problems/idempotency-key-reused"


def test_a_key_for_repeating_belongs_to_the_person_and_not_to_the_access_key(api: Any) -> None:
    """A tablet that was given a new access key meanwhile sends its tap again: it is answered, not done twice."""
    body = {"name": "Shelf B2"}
    first = api.post("/v1/places", body, who="lead", Idempotency_Key="shelf")
    lead = api.shop.people["lead"]
    api.shop.keys["lead"] = api.post("/v1/keys", {"person": lead}, who="administrator")["secret"]
    again = api.call("POST", "/v1/places", body, who="lead", Idempotency_Key="shelf")
    assert (again.get_json(), again.headers["Idempotency-Replayed"]) == (first, "true")
    # Somebody else's key of the same text is somebody else's.
    other = api.post("/v1/places", {"name": "Shelf B3"}, who="second lead", Idempotency_Key="shelf")
    assert other["code"] != first["code"]


def test_a_clock_that_was_set_back_stops_writing_and_says_so(api: Any) -> None:
    api.post("/v1/places", {"name": "Shelf B2"}, who="lead")
    before = api.shop.clock.now
    api.shop.clock.now = before - timedelta(hours=1)
    problem = api.post("/v1/places", {"name": "Shelf B3"}, expect=503, who="lead")
    assert problem["type"] == "/problems/clock-set-back"
    assert "clock says 3 Nov 2026 09:00" in problem["detail"], "by the shop's own clock"
    assert "3 Nov 2026 10:00" in problem["detail"]
    assert len(api.get("/v1/places")) == 1
    entries = len(api.get("/v1/journal", who="lead"))
    api.shop.clock.now = before - timedelta(seconds=90)
    api.post("/v1/places", {"name": "Shelf B3"}, who="lead")
    assert len(api.get("/v1/journal", who="lead")) == entries + 1
    assert check_account().agrees


def test_the_last_administrator_can_neither_drop_the_role_nor_be_closed(api: Any) -> None:
    ada = api.shop.people["administrator"]
    for change in ({"roles": ["lead"]}, {"active": False}):
        answer = api.call("PATCH", f"/v1/people/{ada}", change, who="administrator", If_Match='"1"')
        assert answer.status_code == 409, answer.get_json()
        assert "last administrator" in answer.get_json()["detail"]
    lead = api.shop.people["lead"]
    api.call("PATCH", f"/v1/people/{lead}", {"roles": ["lead", "administrator"]}, who="administrator", If_Match='"1"')
    answer = api.call("PATCH", f"/v1/people/{ada}", {"active": False}, who="administrator", If_Match='"1"')
    assert answer.status_code == 200
    answer = api.call("PATCH", f"/v1/people/{lead}", {"roles": ["lead"]}, who="lead", If_Match='"2"')
    assert answer.status_code == 409


def test_an_administrator_is_recovered_on_the_machine_and_the_journal_says_so(api: Any) -> None:
    act = api.shop.act("administrator")
    lead = api.shop.people["lead"]
    with connected():
        made = people.recover_administrator(act, person=lead)
    opened = api.client.get("/v1/keys", headers={"Authorization": f"Bearer {made.secret}"})
    assert opened.status_code == 200
    entry = api.get("/v1/journal?operation=recover_administrator", who="lead")[0]
    assert entry["body"]["notes"][0]["recovered"] is True
