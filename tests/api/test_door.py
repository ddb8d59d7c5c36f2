"""The door: keys for repeating are one's own, no clock runs back, an administrator is always there."""

import threading
from datetime import timedelta
from typing import Any

from service.database import connected, database, on_postgresql, writing
from service.operations.door import people
from service.operations.door.act import Act
from service.operations.ledger.checking import check_account
from service.records.journal import Answer
from tests import makers


def test_what_was_said_of_the_time_belongs_to_the_request_that_is_repeated(api: Any) -> None:
    """The same key with another time is another request; the same time again is the same."""
    makers.supplier(api)
    can = makers.cans(api, makers.material(api, "Alder 10", "resin"), makers.place(api), "26-1")[0]
    api.shop.clock.forward(minutes=10)
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


def test_a_key_is_remembered_for_a_week_and_then_it_is_a_new_one(api: Any) -> None:
    first = api.call("POST", "/v1/places", {"name": "Shelf B2"}, who="lead", Idempotency_Key="shelf")
    other = api.call("POST", "/v1/places", {"name": "Shelf B3"}, who="lead", Idempotency_Key="other")
    api.shop.clock.forward(days=6, hours=23)
    again = api.call("POST", "/v1/places", {"name": "Shelf B2"}, who="lead", Idempotency_Key="shelf")
    assert (again.data, again.headers["Idempotency-Replayed"]) == (first.data, "true")
    api.shop.clock.forward(hours=2)
    # As good as forgotten before anything has swept it away, and used anew for something else.
    new = api.call("POST", "/v1/places", {"name": "Shelf B4"}, who="lead", Idempotency_Key="shelf")
    assert (new.status_code, "Idempotency-Replayed" in new.headers) == (201, False)
    assert new.get_json()["code"] not in (first.get_json()["code"], other.get_json()["code"])
    # What nobody asks for again is swept away by the next act with a key.
    with connected():
        kept = {row.idempotency_key for row in Answer.select()}
    assert kept == {"shelf"}


def _under_way(act: Act, key: str, began: threading.Event, end: threading.Event, answer: str | None) -> None:
    """The same request somewhere else, which holds the key until it is told to end."""
    with connected(), writing():
        Answer.insert(caller=act.caller, idempotency_key=key, asked="", result=None, at=act.recorded_at).execute()
        began.set()
        end.wait(30)
        if answer is None:
            database.rollback()
        else:
            this = (Answer.caller == act.caller) & (Answer.idempotency_key == key)
            asked, result = (
                Answer.select(Answer.asked, Answer.result).where(Answer.idempotency_key == answer).tuples()[0]
            )
            Answer.update(asked=asked, result=result).where(this).execute()


def test_a_request_waits_for_the_same_one_that_is_under_way_and_not_for_ever(api: Any) -> None:
    body = {"name": "Shelf B2"}
    first = api.call("POST", "/v1/places", body, who="lead", Idempotency_Key="first")
    answers: dict[str, Any] = {}

    def send(key: str) -> None:
        answers[key] = api.call("POST", "/v1/places", body, who="lead", Idempotency_Key=key)

    # What is under way ends after a while: it is answered as that was. What goes on is not waited for any longer.
    for key, wait_s in (("soon", 0.5), ("late", 14.0)) if not on_postgresql() else (("soon", 0.5),):
        began, end = threading.Event(), threading.Event()
        other = threading.Thread(target=_under_way, args=(api.shop.act("lead"), key, began, end, "first"))
        same = threading.Thread(target=send, args=(key,))
        other.start()
        assert began.wait(10)
        same.start()
        same.join(wait_s)
        assert same.is_alive() is (key == "soon")
        end.set()
        other.join()
        same.join()
    assert (answers["soon"].data, answers["soon"].headers["Idempotency-Replayed"]) == (first.data, "true")
    if "late" in answers:
        assert (answers["late"].status_code, answers["late"].get_json()["type"]) == (409, "/problems/still-running")
