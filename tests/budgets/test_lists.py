"""A list takes as many statements with a dozen rows as with two, and few of them."""

from datetime import timedelta

import pytest

from service.operations.ledger import issuing, outbox
from service.operations.ledger.issuing import Drawn
from service.operations.ledger.sealed import SignedHead
from tests import makers
from tests.budgets import office
from tests.budgets.office import hand_in_head
from tests.conftest import Api
from tests.journeys import floor
from tests.statements import statements

# As measured, the key that opens the door counted in. A list that is new has its number put down here.
BUDGET = {
    "list_expected_deliveries": 2,
    "list_reservations": 2,
    "list_affected": 4,
    "list_chain": 3,
    "list_changes": 2,
    "list_checks": 3,
    "list_containers": 9,
    "list_cures": 6,
    "list_designs": 3,
    "list_entries": 4,
    "list_flags": 4,
    "list_holds": 2,
    "list_items_of_entry": 3,
    "list_heads": 2,
    "list_issues": 2,
    "list_keys": 2,
    "list_kits": 12,
    "list_loggers": 2,
    "list_lots": 10,
    "list_materials": 2,
    "list_mixes": 4,
    "list_customers": 2,
    "list_order_parts": 3,
    "list_orders": 5,
    "list_references": 2,
    "list_moulds": 8,
    "list_nonconformances": 3,
    "list_part_flags": 7,
    "list_parts": 5,
    "list_people": 3,
    "list_permissions": 2,
    "list_places": 2,
    "list_readings": 3,
    "list_scales": 6,
    "list_recalls": 2,
    "list_pieces": 5,
    "list_schedules": 2,
    "list_suppliers": 2,
    "list_systems": 4,
    "list_treatments": 3,
    "list_stock_warnings": 2,
    "list_hourly_rates": 2,
    "list_prices": 2,
    "list_webhooks": 4,
    "list_deliveries": 3,
}
MOST = 15
FEW, MANY = 2, 12


def _lists(api: Api) -> dict[str, str]:
    """Every route that lists something of the account: its name and its path."""
    found = {}
    for rule in api.client.application.url_map.iter_rules():
        name = rule.endpoint.rpartition(".")[2]
        if name.startswith("list_") and name != "list_calculations":
            found[name] = str(rule.rule)
    return found


def _fill(api: Api, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A dozen of everything that is listed, with what hangs on it; the codes of what has a list of its own."""
    yard = floor.founded(api)
    bench = yard.bench
    office.costs(api, MANY)
    design = yard.design()
    signed: list[SignedHead] = []
    for number in range(MANY):
        _register(yard, number, signed)
        part = yard.part(design, mould=yard.mould["code"], confirmed=True, why="spare") if number == 0 else None
        part = part or yard.part(design)
        yard.kit(design, part)
        mix = bench.start(130, parts=[part])["code"]
        bench.pour(mix, bench.resin_can, 100)
        bench.pour(mix, bench.slow_can, 30)
        bench.apply(mix, part)
        api.post(f"/v1/mixes/{mix}/closing", {"all_used": True})
        api.post(f"/v1/parts/{part}/closing")
        cure = api.post("/v1/cures", {"schedule": floor.SCHEDULE, "parts": [part], "place": yard.oven})["code"]
        api.post(f"/v1/cures/{cure}/end")
        _stops(yard, part, number)
        _issue(api, part, number, monkeypatch)
        api.post(f"/v1/scales/{bench.scale}/readings", {"line": "500.0 g"})
        api.post(f"/v1/moulds/{yard.mould['code']}/treatments", {"kind": "cleaning"})
    # A dozen flags on each of a dozen pots: every check that fails doubts all of them again.
    for _ in range(MANY):
        api.post(
            f"/v1/scales/{bench.scale}/checks", {"weight": "W", "nominal_g": 500, "reading_g": 499, "limit_g": 0.2}
        )
    _promises(yard)
    entry = api.get("/v1/journal?operation=check_scale", who="lead")[-1]["seq"]
    outbox.spread(at=api.shop.clock.now)
    api.post("/v1/stock-watches", who="lead")
    # What a dozen pots were poured from reaches them all.
    reached = api.post("/v1/recalls", {"item": bench.resin_can, "reason": "cloudy", "papers": False}, who="lead")
    return {
        "<code(S):scale>": bench.scale,
        "<code(T):mould>": yard.mould["code"],
        "<code(P):part>": part,
        "<code:code>": mix,
        "<number:seq>": str(entry),
        "<number:webhook>": "1",
        "<number:order>": "1",
        "<number:recall>": str(reached["id"]),
    }


def _promises(yard: floor.Floor) -> None:
    """One order's cloth, reserved a dozen times over, and a dozen deliveries that are to come."""
    api = yard.api
    makers.roll(api, yard.cloth, yard.bench.place, "F-99")
    until = (api.shop.clock.now + timedelta(days=20)).isoformat()
    work = {"expires_at": until, "temperature_c": 20, "wet_out_rate_g_min": 50, "with_conditions": True}
    for number in range(MANY):
        api.post("/v1/orders/2/reservations", work, who="lead")
        coming = {"material": yard.cloth, "length_mm": 1000, "expected_on": "2026-12-20", "reference": f"PO {number}"}
        api.post("/v1/expected-deliveries", coming, who="lead")


def _issue(api: Api, part: str, number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """An issue off a press without ink: to draw a dozen papers would take longer than all the rest."""
    blank = Drawn(part, 1, f"{number:064}", b"%%PDF-1.7 %d" % number, (1, "0" * 64), "one", "one certificate")
    monkeypatch.setattr(issuing, "_press", lambda *asked: blank)
    api.post("/v1/issues", {"kind": "part record", "subject": part}, who="quality")


def _register(yard: floor.Floor, number: int, signed: list[SignedHead]) -> None:
    api, bench = yard.api, yard.bench
    supplier = makers.supplier(api, f"Supplier {number}")
    where = makers.place(api, f"Shelf {number}")
    resin = makers.material(api, f"Resin {number}", "resin", density_g_ml=1.1, storage_low_c=15, storage_high_c=25,
                           least_stock_g=100_000)  # fmt: skip
    can = makers.cans(api, resin, where, f"L-{number}", supplier=supplier)[0]
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 100, "tare_g": 80})
    makers.resin_system(api, resin, {bench.slow: 30, bench.fast: 28}, name=f"System {number}")
    makers.design(api, f"HY-5{number:02}", plies=makers.plies(yard.cloth, 0, 45))
    line = {"part_number": f"HY-5{number:02}", "quantity": MANY if number == 0 else 1}
    named = {"customer": f"Customer {number}", "customer_reference": f"C {number}", "system": "order desk"}
    api.post("/v1/orders", {"reference": f"PO {number}", **named, "lines": [line]}, who="lead")
    makers.schedule(api, f"Schedule {number}", approved=number % 2 == 0)
    makers.scale(api, f"Scale {number}", check_every_days=1)
    mould = api.post("/v1/moulds", {"name": f"Mould {number}", "place": where}, who="lead")["code"]
    coat = {"kind": "release coat", "container": yard.mould["agent"], "coats": 1}
    api.post(f"/v1/moulds/{mould}/treatments", coat)
    api.post("/v1/loggers", {"name": f"Logger {number}"}, who="lead")
    signed.append(hand_in_head(api, *(one.head for one in signed)))
    person = api.post("/v1/people", {"name": f"Person {number}", "roles": ["laminator", "lead"]}, who="administrator")
    api.post("/v1/keys", {"person": person["id"]}, who="administrator")


def _stops(yard: floor.Floor, part: str, number: int) -> None:
    """A hold that stands or was lifted, a permit that was signed or waits, a nonconformance decided or not."""
    api, bench = yard.api, yard.bench
    told = {"url": f"https://orders.example/{number}", "events": ["hold.placed"]}
    api.post("/v1/webhooks", told, who="administrator")
    # The same is not called back twice at a time: each is from another time on.
    back = {
        "item": part,
        "reason": f"look {number}",
        "since": f"2026-01-{number % 28 + 1:02d}T06:{number % 60:02d}:00Z",
    }
    api.post("/v1/recalls", {**back, "papers": False}, who="lead")
    hold = api.post("/v1/holds", {"item": part, "reason": f"look {number}"})["id"]
    api.post(f"/v1/holds/{hold}/lifting", {"why": "looked"}, who="quality")
    asked = {"kind": "deviation permit", "item": bench.slow_can, "reasons": ["expired"], "why": "gelled in time"}
    permit = api.post("/v1/permissions", asked)["id"]
    found = {"item": part, "found": "dry patch", "defects": [{"kind": "dry area", "zone": "root", "size_mm": 9}]}
    opened = api.post("/v1/nonconformances", found)["id"]
    if number % 2:
        api.post(f"/v1/permissions/{permit}/signature", {"permitted": True}, who="quality")
        decision = {"disposition": "use as is", "because": "small"}
        api.post(f"/v1/nonconformances/{opened}/decision", decision, who="quality")


def test_no_list_takes_more_statements_for_more_rows(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    codes = _fill(api, monkeypatch)
    taken: dict[str, list[int]] = {}
    repeated = {}
    for name, rule in _lists(api).items():
        for limit in (FEW, MANY):
            path = rule
            for wanted, code in codes.items():
                path = path.replace(wanted, code)
            with statements() as said:
                rows = api.get(f"{path}?limit={limit}", who="administrator")
            assert len(rows) == limit, name
            taken.setdefault(name, []).append(len(said))
            repeated |= {name: said.repeated} if said.repeated else {}
    assert repeated == {}
    assert {name: counts for name, counts in taken.items() if counts[1] > counts[0]} == {}
    assert {name: counts[1] for name, counts in taken.items()} == BUDGET
    assert max(BUDGET.values()) <= MOST
