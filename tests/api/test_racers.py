"""Sixteen at once on every route that creates: each is answered, what there can be one of is there once, none gets 500.

Each racer has a connection of its own, as each thread of the server has. On PostgreSQL they read past each other, so
that only a constraint can tell who came second; on SQLite they write one after the other.
"""

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from service.database import connected
from service.operations.door.operation import OPERATIONS
from service.operations.ledger.checking import check_account
from service.records.items import Item
from service.records.materials import Lot, Receipt
from tests import makers

RACERS = 16
NAMED = "already-there"

# Path -> (who, the body once the shop is ready for it, how many of sixteen come through, why the others do not)
Case = tuple[str, Callable[[Any], Any], int, str]


def _delivery(api: Any, **more: Any) -> dict[str, Any]:
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    return {
        "material": resin,
        "makers_lot": "26-0914",
        "place": where,
        "expires_on": "2027-09-30",
        "containers": [{"net_g": 1000}],
        **more,
    }


def _opening_stock(api: Any) -> dict[str, Any]:
    body = _delivery(api)
    return {**body, "containers": [{"net_g": 1000, "gross_g": 1100, "tare_g": 100}]}


def _price(api: Any) -> dict[str, Any]:
    """A price of an arrival, in a shop that has a currency."""
    _in_euros(api)
    came = api.post("/v1/deliveries", _delivery(api, supplier=1, delivery_note="LN 4471"))
    return {"prices": [{"receipt": came["receipts"][0]["id"], "total_minor": 1250}]}


def _in_euros(api: Any) -> None:
    said = {"currency": "EUR", "why": "prices are kept"}
    version = api.get("/v1/site")["version"]
    assert api.call("PATCH", "/v1/site", said, who="administrator", If_Match=f'"{version}"').status_code == 200


def _rate(api: Any) -> dict[str, Any]:
    _in_euros(api)
    return {"minor": 4500, "since": "2026-01-01"}


def _system(api: Any) -> dict[str, Any]:
    resin = makers.material(api, "Alder 10 resin", "resin")
    slow = makers.material(api, "Alder 32 slow hardener", "hardener")
    hardener = {"material": slow, "speed": "slow", "parts_by_weight": 30, "cup_life": makers.CUP_LIFE}
    return {
        "name": "Alder 10",
        "data_sheet": "Alder 10, revision 4",
        "resin": resin,
        "hardeners": [hardener],
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet"},
        "largest_pot_g": 1000,
    }


def _schedule(api: Any) -> dict[str, Any]:
    stage = {"name": "post-cure", "low_c": 55, "high_c": 65, "minimum_min": 480, "over_c": 70, "air_over_c": None}
    told = {"source": "Alder 10 data sheet", "evidence": "part probe", "longest_interval_min": 5}
    return {"name": "Alder 10 warm", "stages": [stage], **told}


def _mix(api: Any) -> dict[str, Any]:
    bench = makers.mixing(api)
    return {
        "system": bench.system,
        "hardener": bench.slow,
        "purpose": "wet-out",
        "total_g": 200,
        "containers": [{"container": bench.resin_can}, {"container": bench.slow_can}],
        "scale": bench.scale,
        "temperature_c": 20,
    }


def _part(api: Any) -> dict[str, Any]:
    makers.design(api)
    return {"part_number": "HY-204"}


def _kit(api: Any) -> dict[str, Any]:
    makers.supplier(api)
    roll = makers.roll(api, makers.fabric(api), makers.place(api), "26-77")
    return {"cuts": [{"roll": roll, "length_mm": 1000}]}


def _cure(api: Any) -> dict[str, Any]:
    part = makers.laid_up_part(api)
    makers.schedule(api)
    return {"schedule": "Alder 10 with post-cure", "parts": [part]}


def _can(api: Any) -> str:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin", opened_life_days=10)
    return makers.cans(api, resin, makers.place(api), "26-0914")[0]


def _used_scale(api: Any) -> dict[str, Any]:
    return {"item": makers.scale(api), "since": "2026-11-02T06:00:00Z", "reason": "check weight failed"}


def _order(api: Any) -> dict[str, Any]:
    makers.design(api)
    lines = [{"part_number": "HY-204", "quantity": 3}]
    return {"reference": "PO 7", "system": "order desk", "customer": "Ferry line", "lines": lines}


def _reference(api: Any) -> dict[str, Any]:
    return {"kind": "supplier", "system": "order desk", "reference": "S-12", "number": makers.supplier(api)}


def _expected(api: Any) -> dict[str, Any]:
    resin = makers.material(api, "Alder 10 resin", "resin")
    return {"material": resin, "mass_g": 25000, "expected_on": "2026-11-20"}


CASES: dict[str, Case] = {
    "/v1/suppliers": ("lead", lambda api: {"name": "Fenwick Resins", "approved": True}, 1, NAMED),
    "/v1/materials": ("lead", lambda api: {"name": "Alder 10 resin", "kind": "resin"}, 1, NAMED),
    "/v1/places": ("lead", lambda api: {"name": "Shelf B2"}, 1, NAMED),
    "/v1/scales": (
        "lead",
        lambda api: {"name": "Bench", "interval_g": 0.1, "repeatability_g": 0, "maximum_g": 6000},
        1,
        NAMED,
    ),
    "/v1/measures": ("lead", lambda api: {"name": "Cup 500", "step_ml": 10, "capacity_ml": 500}, 1, NAMED),
    "/v1/pumps": ("lead", lambda api: {"name": "Pump 1"}, 1, NAMED),
    "/v1/people": ("administrator", lambda api: {"name": "Ida Holm", "roles": ["laminator"]}, 1, NAMED),
    "/v1/keys": ("administrator", lambda api: {"system": "orders"}, RACERS, ""),
    "/v1/resin-systems": ("lead", _system, 1, NAMED),
    "/v1/schedules": ("lead", _schedule, 1, NAMED),
    "/v1/designs": ("lead", lambda api: {"part_number": "HY-204", "revision": "A", "name": "Rudder"}, 1, NAMED),
    "/v1/loggers": ("lead", lambda api: {"name": "Oven logger"}, 1, NAMED),
    "/v1/deliveries": (
        "laminator",
        lambda api: {**_delivery(api), "supplier": 1, "delivery_note": "LN 4711", "confirmed": True},
        RACERS,
        "",
    ),
    "/v1/opening-stock": ("lead", _opening_stock, RACERS, ""),
    "/v1/moulds": ("lead", lambda api: {"name": "Rudder half mould"}, RACERS, ""),
    "/v1/mixes": ("laminator", _mix, RACERS, ""),
    "/v1/parts": ("laminator", _part, RACERS, ""),
    "/v1/kits": ("laminator", _kit, RACERS, ""),
    "/v1/cures": ("laminator", _cure, 1, "wrong-state"),
    "/v1/documents": ("laminator", lambda api: b"%PDF-1.7 certificate", RACERS, ""),
    "/v1/holds": ("quality", lambda api: {"item": _can(api), "reason": "cloudy"}, RACERS, ""),
    "/v1/look-backs": ("quality", _used_scale, RACERS, ""),
    "/v1/recalls": ("lead", lambda api: {"item": _can(api), "reason": "cloudy", "papers": False}, 1, "wrong-state"),
    "/v1/stock-watches": ("lead", lambda api: {}, RACERS, ""),
    "/v1/webhooks": (
        "administrator",
        lambda api: {"url": "https://orders.example/potmark", "events": ["part.released"]},
        1,
        NAMED,
    ),
    "/v1/expected-deliveries": ("lead", _expected, RACERS, ""),
    "/v1/customers": ("lead", lambda api: {"name": "Ferry line"}, 1, NAMED),
    "/v1/orders": ("lead", _order, RACERS, ""),
    # Each says what it is worth; the last one said holds.
    "/v1/prices": ("lead", _price, RACERS, ""),
    "/v1/hourly-rates": ("lead", _rate, RACERS, ""),
    "/v1/references": ("lead", _reference, RACERS, ""),
    "/v1/nonconformances": ("quality", lambda api: {"item": _can(api), "found": "cloudy"}, RACERS, ""),
    "/v1/permissions": (
        "laminator",
        lambda api: {"kind": "deviation permit", "item": _can(api), "reasons": ["open-too-long"], "why": "gelled"},
        RACERS,
        "",
    ),
}


def test_every_route_that_creates_has_its_race(api: Any) -> None:
    app = api.client.application
    rights = app.extensions["rights"]
    creating = {
        rule.rule
        for rule in app.url_map.iter_rules()
        if "POST" in rule.methods and "<" not in rule.rule and rights.get(rule.endpoint) in OPERATIONS
    }
    # Many acts in one: what each of them creates has its race alone. A head is signed over the journal as it stands. A
    # paper is drawn for each racer, of whom two are enough (test_issuing). Secrets are guessed at once in test_signing.
    assert creating - {
        "/v1/heads",
        "/v1/issues",
        "/v1/registers",
        "/v1/approvals",
        "/v1/delivery-notes",
        "/v1/deliveries/batch",
        "/v1/orders/batch",
        "/v1/parts/batch",
        "/v1/lot-releases",
        "/v1/keys/claim",
        "/v1/secret",
        "/v1/signing",
        "/v1/signing/end",
    } == set(CASES)


def _race(api: Any, path: str, body: Any, who: str) -> list[Any]:
    """The answers to one request that sixteen send at the same moment."""
    answers: list[Any] = [None] * RACERS
    together = threading.Barrier(RACERS)

    def run(number: int) -> None:
        one = replace(api, client=api.client.application.test_client())
        address = f"{path}?name=certificate.pdf" if isinstance(body, bytes) else path
        together.wait(timeout=30)
        answers[number] = one.call("POST", address, body, who=who)

    threads = [threading.Thread(target=run, args=(number,)) for number in range(RACERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    return answers


@pytest.mark.parametrize("path", CASES)
def test_sixteen_at_once_are_all_answered_and_what_is_one_is_there_once(api: Any, path: str) -> None:
    who, prepare, through, reason = CASES[path]
    answers = _race(api, path, prepare(api), who)
    made = [answer.get_json() for answer in answers if answer.status_code == 201]
    others = [answer.get_json() for answer in answers if answer.status_code != 201]
    assert {(one["status"], one["type"]) for one in others} <= {(409, f"/problems/{reason}")}, others[0]
    assert len(made) == through
    if reason == NAMED:
        assert all("already" in one["detail"] or "still a draft" in one["detail"] for one in others)
        there = made[0].get("id", made[0].get("code"))
        assert all(there in one.values() for one in others), "the answer says which one is there"
    with connected():
        check = check_account()
        assert check.agrees, check.first


@pytest.mark.parametrize("path", ["/v1/deliveries", "/v1/opening-stock"])
def test_one_makers_lot_that_comes_sixteen_times_at_once_is_one_lot(api: Any, path: str) -> None:
    who, prepare, _, _ = CASES[path]
    answers = _race(api, path, prepare(api), who)
    assert {answer.get_json()["code"] for answer in answers} == {answers[0].get_json()["code"]}
    with connected():
        assert Lot.select().count() == 1
        assert Receipt.select().count() == RACERS
        assert Item.get(Item.kind == "L").balance == 0
        assert Item.select().where(Item.kind == "C").count() == RACERS


def test_one_order_that_comes_sixteen_times_at_once_plans_its_parts_once(api: Any) -> None:
    answers = [answer.get_json() for answer in _race(api, "/v1/orders", _order(api), "lead")]
    assert sorted(answer["already_there"] for answer in answers) == [False] + [True] * (RACERS - 1)
    assert {answer["order"]["id"] for answer in answers} == {answers[0]["order"]["id"]}
    with connected():
        assert Item.select().where(Item.kind == "P").count() == 3


def test_one_article_number_stands_on_one_material(api: Any) -> None:
    gtin = "09521234543213"
    first = makers.material(api, "Alder 10 resin", "resin", gtin=gtin)
    problem = api.refused("/v1/materials", {"name": "Elm", "kind": "resin", "gtin": gtin}, NAMED, who="lead")
    assert (problem["material"], problem["detail"]) == (first, f"Alder 10 resin has the article number {gtin} already.")
    other = api.post("/v1/materials", {"name": "Elm", "kind": "resin"}, who="lead")
    changed = api.call("PATCH", f"/v1/materials/{other['id']}", {"gtin": gtin}, who="lead", If_Match='"1"')
    assert changed.status_code == 409, changed.get_json()
    again = {"gtin": gtin, "why": "read off the tin"}
    same = api.call("PATCH", f"/v1/materials/{first}", again, who="lead", If_Match='"1"')
    assert same.status_code == 200, same.get_json()
