"""What the office does in the whole job: registers, secrets, a recall, webhooks, orders, and heads of the journal."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

from service.operations.ledger.following import ChainEntry, next_head
from service.operations.ledger.sealed import JournalHead, SignedHead, sign_head
from tests import makers
from tests.conftest import Api
from tests.journeys import floor
from tests.logger_files import SEMICOLONS


def registers(yard: floor.Floor) -> None:
    api = yard.api
    for what in ("suppliers", "materials", "designs", "schedules", "loggers", "resin-systems", "people"):
        _change(yard, what)
    api.call("PATCH", "/v1/site", {"late_after_min": 20, "why": "the shop is small"}, who="administrator",
             If_Match=f'"{api.get("/v1/site")["version"]}"')  # fmt: skip
    new = {"part_number": "HY-206", "revision": "A", "name": "The other hand", "about": "centreline"}
    design = api.get("/v1/designs?part_number=HY-205")[0]["id"]
    api.post(f"/v1/designs/{design}/mirror", new, who="lead")
    api.post("/v1/registers", {"places": [{"name": "Shelf C1"}], "moulds": [{"name": "Tiller mould"}]}, who="lead")
    draft = makers.schedule(api, "Room, a day", evidence="declared", approved=False)["id"]
    api.post("/v1/approvals", {"schedules": [draft]}, who="quality")
    spare = makers.scale(api, "Spare scale", check_every_days=1)
    api.post(f"/v1/items/{spare}/withdrawal", who="lead")
    person = api.post("/v1/people", {"name": "Ida", "roles": ["laminator"]}, who="administrator")["id"]
    badge = api.post(f"/v1/people/{person}/badges", who="administrator")["code"]
    api.post(f"/v1/badges/{badge}/withdrawal", who="administrator")
    key = api.post("/v1/keys", {"person": person}, who="administrator")["id"]
    api.post(f"/v1/keys/{key}/revocation", who="administrator")
    _secrets(api)
    hand_in_head(api)


def _secrets(api: Api) -> None:
    """Somebody new sets a secret, forgets it, and two others let them set another."""
    keys, new = api.shop.keys, {"name": "Nils", "roles": ["laminator"], "with_key": True}
    made = api.post("/v1/people", new, who="administrator")
    keys["nils"] = made["secret"]
    keys["nils"] = api.post("/v1/secret", {"secret": "40 rivets"}, who="nils")["secret"]
    api.post("/v1/signing", {"secret": "40 rivets"}, who="nils")
    api.post("/v1/signing/end", who="nils")
    api.post(f"/v1/people/{made['id']}/unlocking", who="lead")
    api.post(f"/v1/people/{made['id']}/secret-reset", {"why": "forgotten"}, who="lead")
    api.post(f"/v1/people/{made['id']}/secret-reset/agreement", who="quality")
    keys["nils"] = api.post("/v1/keys", {"person": made["id"]}, who="administrator")["secret"]
    keys["nils"] = api.post("/v1/keys/claim", who="nils")["secret"]


def recall(yard: floor.Floor) -> None:
    """A pot is called back, followed to its part and closed; of a lot that is called back another can arrives."""
    api = yard.api
    part = api.get("/v1/parts?state=shipped")[0]["code"]
    pot = api.get(f"/v1/items/{part}/trace")
    mix = next(i["code"] for i in pot["items"] if i["kind"] == "M")
    recall = api.post("/v1/recalls", {"item": mix, "reason": "soft next morning"}, who="lead")
    for piece in (p for p in recall["pieces"] if p["to_fetch"]):
        api.post(f"/v1/recalls/{recall['id']}/steps", {"item": piece["code"], "found": "returned"})
    api.post(f"/v1/recalls/{recall['id']}/closing", {"effectiveness": "all of it is back"}, who="quality")
    flock = makers.material(api, "Cotton flock, damp", "filler")
    came = {"makers_lot": "CF-9", "no_expiry": True, "containers": [{"net_g": 500}], "released": False}
    lot = makers.lot(api, flock, yard.bench.place, **came)
    goes_on = api.post("/v1/recalls", {"item": lot["code"], "reason": "damp"}, who="lead")["id"]
    makers.lot(api, flock, yard.bench.place, **came, delivery_note="LN 2")
    api.post(f"/v1/recalls/{goes_on}/reach", who="lead")


def webhooks(api: Api) -> None:
    """Two systems are told of what happens; of one the address changes, of the other nobody wants to hear any more."""
    told = {"url": "https://orders.example/potmark", "events": ["part.released", "hold.placed"]}
    one, other = (
        api.post("/v1/webhooks", {**told, "url": told["url"] + more}, who="administrator")["id"] for more in ("", "/2")
    )
    api.call("PATCH", f"/v1/webhooks/{one}", {"url": "https://orders.example/moved"}, who="administrator",
             If_Match='"1"')  # fmt: skip
    never = makers.material(api, "Alder 90 resin", "resin", least_stock_g=5000)
    api.post("/v1/stock-watches", {"within_days": 0}, who="lead")
    api.call("PATCH", f"/v1/materials/{never}", {"least_stock_g": None, "why": "not kept any more"}, who="lead",
             If_Match='"1"')  # fmt: skip
    api.post("/v1/stock-watches", {"within_days": 0}, who="lead")
    api.post(f"/v1/webhooks/{one}/secret", who="administrator")
    api.post(f"/v1/webhooks/{one}/replays", who="administrator")
    api.post(f"/v1/webhooks/{other}/ending", who="administrator")


def orders(yard: floor.Floor) -> None:
    """An order is placed, begun, changed, scrapped from and cancelled; what was shipped comes back."""
    api, design = yard.api, "HY-204"
    api.post("/v1/customers", {"name": "Ferry line"}, who="lead")
    _change(yard, "customers")
    line = {"part_number": design, "quantity": 3, "reference": "PO 7/1", "replaced_by": "order system"}
    asked = {"reference": "PO 7", "system": "order desk", "customer": "Canoe club", "customer_reference": "C 9"}
    order = api.post("/v1/orders", {**asked, "lines": [line]}, who="lead")["order"]["id"]
    path = f"/v1/orders/{order}"
    codes = [part["code"] for part in api.get(f"{path}/parts")]
    api.post(f"/v1/items/{codes[0]}/labels", {"size": "50x25"})
    api.post(f"/v1/parts/{codes[0]}/start", {"mould": yard.mould["code"], "confirmed": True, "why": "spare"})
    api.post(f"/v1/parts/{codes[0]}/scrapping", {"method": "cut up"}, who="lead")
    api.post(f"{path}/lines/1/replacements", who="lead")
    _change(yard, "orders")
    row = api.get(path)
    changed = api.call("PATCH", f"{path}/lines/1", {"quantity": 2}, who="lead", If_Match=f'"{row["version"]}"')
    assert changed.status_code == 200, changed.get_data(as_text=True)
    api.post(f"{path}/lines", {"first": 2, "lines": [{"part_number": design, "quantity": 2}]}, who="lead")
    named = {"kind": "part", "system": "order desk", "reference": "SN 1", "code": codes[1]}
    number = api.post("/v1/references", named, who="lead")["id"]
    api.post(f"/v1/references/{number}/withdrawal", who="lead")
    api.post(f"{path}/cancellation", {"confirmed": True}, who="lead")
    shipped = api.get("/v1/parts?state=shipped")[0]["code"]
    api.post(f"/v1/parts/{shipped}/return", {"reason": "a dry spot"}, who="lead")
    batch = [{**asked, "reference": f"PO 8{n}", "lines": [{**line, "reference": f"PO 8{n}/1"}]} for n in (1, 2)]
    api.post("/v1/orders/batch", {"orders": batch}, who="lead")
    api.post("/v1/parts/batch", {"parts": [{"part_number": design, "order": "PO 9"}] * 2})
    note = {"material": yard.bench.resin, "supplier": 1, "place": yard.bench.place, "no_expiry": True}
    sent = {**note, "containers": [{"net_g": 100}]}
    rows = [{**sent, "delivery_note": f"LN 9{n}", "makers_lot": f"26-9{n}"} for n in (1, 2)]
    api.post("/v1/deliveries/batch", {"deliveries": rows})


def costs(api: Api, count: int = 1) -> None:
    """The shop says what an arrival cost, and an hour of work, so many times: each follows one that was wrong."""
    version = api.get("/v1/site")["version"]
    api.call("PATCH", "/v1/site", {"currency": "EUR", "why": "prices are kept"}, who="administrator",
             If_Match=f'"{version}"')  # fmt: skip
    receipt = api.get("/v1/lots?limit=1")[0]["receipts"][0]["id"]
    for number in range(1, count + 1):
        api.post("/v1/prices", {"prices": [{"receipt": receipt, "total_minor": 100 * number}]}, who="lead")
        api.post("/v1/hourly-rates", {"minor": 4000 + number, "since": "2026-01-01"}, who="lead")


def promises(yard: floor.Floor) -> None:
    """What an order takes is reserved, drawn for its part and let go; a delivery is expected, put off and comes."""
    api, bench = yard.api, yard.bench
    for material, name in ((bench.resin, "R-99"), (bench.slow, "H-99")):
        makers.cans(api, material, bench.place, name, net_g=2000)
    makers.roll(api, yard.cloth, bench.place, "F-99")
    coming = {"material": bench.resin, "mass_g": 25000, "expected_on": "2026-12-20", "reference": "PO 4471"}
    expected = api.post("/v1/expected-deliveries", coming, who="lead")["id"]
    path = f"/v1/expected-deliveries/{expected}"
    api.call("PATCH", path, {"expected_on": "2026-12-22", "why": "put off"}, who="lead", If_Match='"1"')
    lines = [{"part_number": "HY-204", "quantity": 2}]
    order = api.post("/v1/orders", {"reference": "PO 8", "system": "order desk", "lines": lines}, who="lead")["order"][
        "id"
    ]
    work = {"temperature_c": 20, "wet_out_rate_g_min": 50, "hardeners": [bench.slow], "with_conditions": True}
    until = (api.shop.clock.now + timedelta(days=20)).isoformat()
    for _ in range(2):
        made = api.post(f"/v1/orders/{order}/reservations", {"expires_at": until, **work}, who="lead")["reservation"]
    part = api.get(f"/v1/orders/{order}/parts")[0]["code"]
    cans = [api.get(f"/v1/containers?material={m}&state=sealed")[-1]["code"] for m in (bench.resin, bench.slow)]
    scale = makers.scale(api, "New bench scale")
    pot = bench.start(200, containers=[{"container": can} for can in cans], parts=[part], scale=scale)["code"]
    api.post(f"/v1/mixes/{pot}/abandonment")
    api.post(f"/v1/reservations/{made['id']}/release", {"why": "the customer waits"}, who="lead")
    api.post(f"{path}/ending", {"ended_as": "arrived"}, who="lead")


def hand_in_head(api: Api, *own: JournalHead, key: bytes = bytes(range(32))) -> SignedHead:
    """Sign how far the journal has come, as somebody on another machine does, and hand it in."""

    def entries(since: int) -> Iterator[ChainEntry]:
        while rows := api.get(f"/v1/chain?since={since}&limit=200", who="quality"):
            yield from (ChainEntry(**row) for row in rows)
            since = rows[-1]["seq"]

    head = next_head(entries, own, at=api.shop.clock.now)
    assert head is not None
    signed = sign_head(head, key)
    said = {"head": signed.text, "signature": signed.signature, "public_key": signed.public_key}
    api.post("/v1/heads", said, who="administrator")
    return signed


def _change(yard: floor.Floor, what: str) -> None:
    """Change a row of a register in the version that was read; of what is approved, a draft."""
    api, bench = yard.api, yard.bench
    drafts: dict[str, Callable[[], Any]] = {
        "designs": lambda: makers.design(api, "HY-900", approved=False),
        "schedules": lambda: makers.schedule(api, "Draft", approved=False),
        "resin-systems": lambda: makers.resin_system(
            api, bench.resin, {bench.slow: 30, bench.fast: 28}, name="Alder 11", approved=False
        ),
    }
    changes: dict[str, dict[str, Any]] = {
        "suppliers": {"approved": False},
        "materials": {"opened_life_days": 300, "why": "data sheet"},
        "people": {"roles": ["laminator", "lead"]},
        "loggers": {"profile": {**SEMICOLONS, "zone": "+00:00"}},
        "designs": {"name": "Another name"},
        "schedules": {"demould_below_c": 35},
        "resin-systems": {"stir_min": 3},
        "customers": {"name": "Ferry company"},
        "orders": {"due": "2026-12-24", "customer": "Ferry company"},
    }
    listed = [] if what in drafts else api.get(f"/v1/{what}", who="administrator")
    row = drafts[what]() if what in drafts else [one for one in listed if not one.get("is_system")][-1]
    who = "administrator" if what == "people" else "lead"
    answer = api.call("PATCH", f"/v1/{what}/{row['id']}", changes[what], who=who, If_Match=f'"{row["version"]}"')
    assert answer.status_code == 200, answer.get_data(as_text=True)
