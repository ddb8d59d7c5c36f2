"""What a system creates in numbers: up to a thousand rows in one call, all of them or none, each with its answer."""

from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.items import Item
from service.records.orders import Order
from tests import makers
from tests.conftest import Api


def order(number: int, **more: Any) -> dict[str, Any]:
    line = {"part_number": "HY-204", "quantity": 2, "reference": f"PO-{number}/1"}
    return {"reference": f"PO-{number}", "customer": "Harbour school", "lines": [line], **more}


def counted(kind: str) -> int:
    with connected():
        return Item.select().where(Item.kind == kind).count()


def test_many_orders_are_placed_at_once_each_with_its_answer_or_none_is(api: Api) -> None:
    makers.design(api)
    wanted = [order(n) for n in range(1, 4)]
    api.refused("/v1/orders/batch", {"orders": wanted}, "not-allowed", status=403)
    made = api.call("POST", "/v1/orders/batch", {"orders": wanted}, who="integrator", Idempotency_Key="monday")
    placed = made.get_json()
    assert (made.status_code, made.headers["Location"]) == (201, "/v1/orders")
    assert [one["order"]["references"][0]["reference"] for one in placed] == ["PO-1", "PO-2", "PO-3"]
    assert [(one["already_there"], one["order"]["lines"][0]["counts"]["planned"]) for one in placed] == [(False, 2)] * 3
    # Sent again with its key it is answered again; with none, each order is there already.
    again = api.call("POST", "/v1/orders/batch", {"orders": wanted}, who="integrator", Idempotency_Key="monday")
    assert (again.get_json(), again.headers["Idempotency-Replayed"]) == (placed, "true")
    mixed = api.post("/v1/orders/batch", {"orders": [*wanted, order(4)]}, who="integrator")
    assert [one["already_there"] for one in mixed] == [True, True, True, False]
    # One row that cannot be done: its place is named, and nothing of the others is there.
    wrong = [order(5), order(6), order(1, due="2026-12-01")]
    problem = api.refused("/v1/orders/batch", {"orders": wrong}, "ordered-otherwise", who="integrator")
    assert problem["errors"][0]["pointer"] == "/orders/2/reference"
    unknown = order(7) | {"lines": [{"part_number": "HY-999", "quantity": 1}]}
    problem = api.refused("/v1/orders/batch", {"orders": [order(5), unknown]}, "invalid", status=422, who="integrator")
    assert problem["errors"][0]["pointer"] == "/orders/1/lines/0/part_number"
    many = [order(n) for n in range(1001)]
    problem = api.refused("/v1/orders/batch", {"orders": many}, "invalid", status=422, who="integrator")
    assert problem["errors"][0]["pointer"] == "/orders"
    with connected():
        assert (Order.select().count(), counted("P")) == (4, 8)
        assert check_account().agrees


def test_many_parts_and_many_deliveries_are_taken_at_once_or_none_is(api: Api) -> None:
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    makers.design(api)
    rows = [{"part_number": "HY-204", "order": f"PO-{n}"} for n in range(3)]
    started = api.post("/v1/parts/batch", {"parts": rows, "why": "a batch of Monday's"}, who="integrator")
    codes = [one["code"] for one in started]
    assert ([one["state"] for one in started], len(set(codes))) == (["laying"] * 3, 3)
    assert [api.get(f"/v1/parts/{code}")["order"] for code in codes] == ["PO-0", "PO-1", "PO-2"]
    bad = [*rows, {"part_number": "HY-204", "mould": makers.released_mould(api, where)["code"] + "X"}]
    assert api.post("/v1/parts/batch", {"parts": bad}, expect=422)["errors"][0]["pointer"] == "/parts/3/mould"
    problem = api.post("/v1/parts/batch", {"parts": [*rows, {"part_number": "HY-999"}]}, expect=422)
    assert problem["errors"][0]["pointer"] == "/parts/3/part_number"
    assert counted("P") == 3
    # What was not begun is taken back as a whole; not where work on one of them went on.
    seq = api.get(f"/v1/journal?item={codes[0]}&limit=200", who="lead")[-1]["seq"]
    body = {"declaration": "did not occur", "why": "another yard's list"}
    api.post(f"/v1/parts/{codes[2]}/steps", {"kind": "note", "remark": "wax"})
    assert codes[2] in api.refused(f"/v1/journal/{seq}/corrections", body, "cannot-undo", who="lead")["detail"]
    others = api.post("/v1/parts/batch", {"parts": rows[:2]})
    seq = api.get(f"/v1/journal?item={others[0]['code']}&limit=200", who="lead")[-1]["seq"]
    api.post(f"/v1/journal/{seq}/corrections", body, who="lead")
    assert {api.get(f"/v1/parts/{one['code']}")["state"] for one in others} == {"abandoned"}

    note = {"material": resin, "supplier": 1, "place": where, "no_expiry": True}
    notes = [
        {**note, "delivery_note": f"LN {n}", "makers_lot": f"26-{n}", "containers": [{"net_g": 1000, "count": n}]}
        for n in (1, 2)
    ]
    lots = api.post("/v1/deliveries/batch", {"deliveries": notes}, who="integrator")
    assert [(lot["makers_lot"], len(lot["containers"])) for lot in lots] == [("26-1", 1), ("26-2", 2)]
    problem = api.post(
        "/v1/deliveries/batch",
        {"deliveries": [{**notes[0], "delivery_note": "LN 3"}, {**notes[1], "material": 999}]},
        expect=422,
    )
    assert problem["errors"][0]["pointer"] == "/deliveries/1/material"
    assert len(api.get(f"/v1/lots?material={resin}")) == 2
    with connected():
        assert check_account().agrees


@pytest.mark.parametrize("what", ["orders", "parts", "deliveries"])
def test_a_batch_of_nothing_is_refused(api: Api, what: str) -> None:
    problem = api.post(f"/v1/{what}/batch", {what: []}, expect=422, who="integrator")
    assert (problem["errors"][0]["pointer"], problem["errors"][0]["detail"]) == (f"/{what}", "Give 1 to 1,000.")
