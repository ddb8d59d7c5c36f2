"""What happens is told to other systems: signed, once or more often and never not at all, until it is taken or dead."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from standardwebhooks.webhooks import Webhook as Verifier

from service.database import connected
from service.delivering import Worker
from service.operations.ledger import outbox
from service.operations.ledger.checking import check_account
from service.records.journal import Entry
from service.sending import addresses
from tests import makers
from tests.api.parts import finished
from tests.receiver import Heard, Receiver, receiver

__all__ = ["receiver"]

EVENTS = ["part.scrapped", "hold.placed", "hold.lifted", "recall.opened"]


def _worker(api: Any, said: list[str] | None = None) -> Worker:
    return Worker(say=(said if said is not None else []).append, clock=api.shop.clock, poll_s=0.05)


def _register(api: Any, receiver: Receiver, events: list[str] = EVENTS) -> Any:
    return api.post("/v1/webhooks", {"url": receiver.url, "events": events}, who="administrator")


def _verified(one: Heard, secret: str) -> bool:
    at = float(one.headers["webhook-timestamp"])
    expected = Verifier(secret).sign(one.message, datetime.fromtimestamp(at, UTC), one.body)
    return expected in one.headers["webhook-signature"].split(" ")


def _can(api: Any) -> str:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    return makers.cans(api, resin, makers.place(api), "26-1", count=2)[0]


def test_events_are_told_in_order_signed_and_once_and_name_no_part_beside_another(api: Any, receiver: Receiver) -> None:
    hook = _register(api, receiver)
    assert (hook["secret"][:6], hook["doubt"], hook["active"]) == ("whsec_", None, True)
    can = _can(api)
    lot = api.get(f"/v1/containers/{can}")["lot"]
    part = makers.laid_up_part(api)
    held = api.post("/v1/holds", {"item": lot, "reason": f"cloudy, like {part}"})
    api.post(f"/v1/holds/{held['id']}/lifting", {"why": "clear"}, who="quality")
    api.post("/v1/holds", {"person": api.shop.people["second laminator"], "reason": "skin rash"})
    api.post("/v1/recalls", {"item": can, "reason": "thick", "papers": False}, who="lead")
    api.post(f"/v1/parts/{part}/scrapping", {"method": "cut up", "why": "dropped"}, who="lead")
    refused = api.post("/v1/holds", {"reason": "of nothing"}, expect=422)
    assert refused["type"] == "/problems/invalid"

    before = _entries()
    assert _worker(api).run(once=True) == 5
    assert _entries() == before, "to tell of an act is no act"
    assert receiver.events == ["hold.placed", "hold.lifted", "hold.placed", "recall.opened", "part.scrapped"]
    placed, _, _, recall, scrapped = (one.told for one in receiver.heard)
    assert placed["timestamp"] == "2026-11-03T09:00:00Z"
    told = placed["data"]
    assert (told["hold"], told["item"], told["kind"], told["reaches"]) == (
        held["id"],
        lot,
        "lot",
        {"container": 2, "lot": 1},
    )
    assert api.get(told["link"], who="integrator")[0]["seq"] == told["seq"]
    assert recall["data"]["pieces"] == {"container": 1}
    assert scrapped["data"]["part"] == part
    assert all(_verified(one, hook["secret"]) for one in receiver.heard)
    assert "cloudy" not in "".join(one.body for one in receiver.heard), "no reason in anybody's words"
    assert _worker(api).run(once=True) == 0
    seen = api.get(f"/v1/webhooks/{hook['id']}", who="integrator")
    assert (seen["waiting"], seen["dead"], seen["secret"], seen["told_upto"]) == (0, 0, None, _entries())
    listed = api.get(f"/v1/webhooks/{hook['id']}/deliveries?event=part.scrapped", who="integrator")
    assert [(d["state"], d["attempts"], d["body"]) for d in listed] == [("delivered", 1, receiver.heard[-1].body)]
    with connected():
        assert check_account().agrees


def _entries() -> int:
    with connected():
        return int(Entry.select().count())


def test_who_may_register_and_what_is_refused_with_its_way_out(api: Any, receiver: Receiver) -> None:
    body = {"url": receiver.url, "events": EVENTS}
    for who in ("lead", "integrator"):
        api.refused("/v1/webhooks", body, "not-allowed", status=403, who=who)
    assert api.call("GET", "/v1/webhooks", who="laminator").status_code == 403
    hook = _register(api, receiver)
    again = api.refused("/v1/webhooks", body, "already-there", who="administrator")
    assert (again["webhook"], "renew its secret" in again["way_out"]) == (hook["id"], True)
    key = api.refused("/v1/webhooks", {**body, "url": f"{receiver.url}/2"}, "invalid", status=422,
                      who="administrator", Idempotency_Key="k1")  # fmt: skip
    assert "send no Idempotency-Key" in key["detail"]
    addresses.allow_own("")
    for url in ("https://127.0.0.1/x", "https://169.254.169.254/", "https://[::ffff:10.0.0.1]/", "https://localhost/"):
        problem = api.refused("/v1/webhooks", {**body, "url": url}, "address-barred", who="administrator")
        assert problem["errors"][0]["pointer"] == "/url"
        assert "POTMARK_WEBHOOK_NETWORK" in problem["way_out"]
    wrong = api.refused("/v1/webhooks", {**body, "url": "ftp://a"}, "invalid", status=422, who="administrator")
    assert wrong["errors"][0] == {"pointer": "/url", "detail": wrong["detail"]}
    unknown = api.post("/v1/webhooks", {**body, "url": "https://orders.invalid/x"}, who="administrator")
    assert unknown["doubt"] == "orders.invalid is a name that is not known here now. Deliveries wait until it is."

    # What was let through once is judged again at each sending.
    api.post("/v1/holds", {"item": _can(api), "reason": "dented"})
    said: list[str] = []
    _worker(api, said).run(once=True)
    assert receiver.heard == []
    assert any("leads to 127.0.0.1, which is no address in the open network; again at" in line for line in said)


def test_what_fails_is_tried_for_three_days_is_dead_then_and_is_sent_again_when_asked(
    api: Any, receiver: Receiver
) -> None:
    hook, clock = _register(api, receiver), api.shop.clock
    own = f"/v1/webhooks/{hook['id']}"
    receiver.answer = lambda heard: (500, {"Retry-After": "7200"} if len(receiver.heard) == 2 else {})
    can = _can(api)
    api.post("/v1/holds", {"item": can, "reason": "dented"})
    begun = clock.now
    for attempt in range(1, 11):
        _worker(api).run(once=True)
        _worker(api).run(once=True)
        assert len(receiver.heard) == attempt, "not before its time"
        (delivery,) = api.get(f"{own}/deliveries", who="integrator")
        if attempt == 2:
            waited = api.get(own, who="integrator")
            assert (waited["waiting"], waited["failing_since"]) == (1, "2026-11-03T09:00:00Z")
            assert delivery["last_said"] == "answered 500"
            assert delivery["next_at"] >= _iso(clock.now + timedelta(hours=2)), "as the receiver asked"
        if attempt < 10:
            clock.now = datetime.fromisoformat(delivery["next_at"])
    assert timedelta(hours=62) < clock.now - begun < timedelta(hours=94)
    assert len({one.message for one in receiver.heard}) == 1
    assert len({one.body for one in receiver.heard}) == 1
    assert len({one.headers["webhook-timestamp"] for one in receiver.heard}) == 10, "each attempt is signed anew"
    assert (delivery["state"], delivery["next_at"], delivery["attempts"]) == ("dead", None, 10)
    clock.forward(days=20)
    assert _worker(api).run(once=True) == 0

    receiver.answer = lambda heard: (200, {})
    assert api.get(f"{own}/deliveries?state=dead", who="integrator") == [delivery]
    replay = api.post(f"{own}/replays", who="integrator")
    assert (replay["deliveries"], _worker(api).run(once=True)) == (1, 1)
    assert api.get(own, who="integrator")["failing_since"] is None
    api.refused(f"{own}/replays", {"deliveries": [99]}, "invalid", status=422, who="integrator")

    # All from an entry on, those that were swept away among them.
    clock.forward(days=400)
    assert outbox.sweep(at=clock.now) == 1
    told = len(receiver.heard)
    api.post(f"{own}/replays", {"since": 0}, who="integrator")
    assert _worker(api).run(once=True) == 1
    assert receiver.heard[-1].message == receiver.heard[told - 1].message
    api.refused(f"{own}/replays", {"since": 10**9}, "invalid", status=422, who="integrator")


def _iso(at: Any) -> str:
    return str(at.isoformat().replace("+00:00", "Z"))


def test_a_receiver_that_is_gone_paused_or_ended_hears_nothing_and_misses_nothing_but_after_its_end(
    api: Any, receiver: Receiver
) -> None:
    hook, can = _register(api, receiver), _can(api)
    own = f"/v1/webhooks/{hook['id']}"
    receiver.answer = lambda heard: (410, {})
    for reason in ("dented", "cloudy"):
        api.post("/v1/holds", {"item": can, "reason": reason})
    _worker(api).run(once=True)
    gone = api.get(own, who="integrator")
    assert (gone["gone_at"], gone["dead"], gone["waiting"]) == ("2026-11-03T09:00:00Z", 1, 1)
    heard = len(receiver.heard)
    api.post("/v1/holds", {"item": can, "reason": "rusty"})
    _worker(api).run(once=True)
    assert len(receiver.heard) == heard
    receiver.answer = lambda heard: (204, {})
    api.post(f"{own}/replays", who="administrator")
    assert _worker(api).run(once=True) == 3

    pause = {"active": False}
    assert api.call("PATCH", own, pause, who="administrator", If_Match='"9"').status_code == 412
    assert api.call("PATCH", own, pause, who="administrator", If_Match='"1"').get_json()["active"] is False
    api.post("/v1/holds", {"item": can, "reason": "leaks"})
    assert _worker(api).run(once=True) == 0
    api.call("PATCH", own, {"active": True, "events": ["hold.placed"]}, who="administrator", If_Match='"2"')
    assert _worker(api).run(once=True) == 1

    api.post("/v1/holds", {"item": can, "reason": "leaks again"})
    with connected():
        outbox.spread(at=api.shop.clock.now)
    assert api.post(f"{own}/ending", who="administrator")["dead"] == 1
    assert _worker(api).run(once=True) == 0
    api.refused(f"{own}/replays", {}, "wrong-state", who="administrator")
    assert _register(api, receiver)["id"] != hook["id"], "the address may be registered anew"


def test_a_secret_is_renewed_and_the_old_one_signs_beside_it_as_long_as_is_said(api: Any, receiver: Receiver) -> None:
    hook, can = _register(api, receiver), _can(api)
    own, clock = f"/v1/webhooks/{hook['id']}", api.shop.clock
    new = api.post(f"{own}/secret", {"old_for_h": 2}, who="administrator")["secret"]
    assert new != hook["secret"]
    for hours, both in ((1, True), (2, False)):
        clock.forward(hours=hours)
        api.post("/v1/holds", {"item": can, "reason": f"look {hours}"})
        _worker(api).run(once=True)
        last = receiver.heard[-1]
        assert [_verified(last, secret) for secret in (new, hook["secret"])] == [True, both]
    assert "whsec_" not in json.dumps(api.get("/v1/journal?limit=200", who="quality"))
    leaked = api.post(f"{own}/secret", {"old_for_h": 0}, who="administrator")["secret"]
    api.post("/v1/holds", {"item": can, "reason": "again"})
    _worker(api).run(once=True)
    assert [_verified(receiver.heard[-1], secret) for secret in (leaked, new)] == [True, False]


def test_an_order_is_done_with_its_last_part_and_not_before(api: Any, receiver: Receiver) -> None:
    _register(api, receiver, ["part.released", "part.shipped", "order.done"])
    makers.supplier(api)
    shelf: Any = api
    shelf.place, shelf.glass = makers.place(api), makers.fabric(api)
    shelf.roll = makers.roll(api, shelf.glass, shelf.place, "F-1")
    other = finished.made(api)
    finished.released(api, other)
    lines = [{"part_number": "HY-204", "quantity": 1}]
    placed = api.post("/v1/orders", {"reference": "PO-4502", "lines": lines}, who="integrator")["order"]["id"]
    (part,) = (row["code"] for row in api.get(f"/v1/orders/{placed}/parts", who="integrator"))
    api.post(f"/v1/parts/{part}/start")
    design = api.get(f"/v1/parts/{part}")["design"]["id"]
    cut = {"design": design, "cuts": [{"roll": shelf.roll, "length_mm": 1000}]}
    api.post(f"/v1/parts/{part}/kits", {"kit": api.post("/v1/kits", cut)["code"]})
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
    api.post(f"/v1/parts/{part}/trimming", {"mass_g": 500})
    finished.released(api, part)
    for code in (other, part):
        note = {"customer": "Rowing club", "document": f"LN {code}"}
        api.post(f"/v1/parts/{code}/shipment", note, who="lead")
    _worker(api).run(once=True)
    assert receiver.events == ["part.released", "part.released", "part.shipped", "part.shipped", "order.done"]
    told = receiver.heard[-1].told["data"]
    assert (told["order"], [one["reference"] for one in told["references"]]) == (placed, ["PO-4502"])
    assert api.get(told["link"], who="integrator")["state"] == "done"
