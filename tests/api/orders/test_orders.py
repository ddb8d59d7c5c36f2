"""An order system that times out, sends again and sends strange numbers: no part is doubled, none is lost."""

from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.items import Item
from tests import makers
from tests.api.parts.finished import made, released
from tests.conftest import Api

ORDER = {"reference": "PO-4502", "customer": "Harbour school", "customer_reference": "C-118", "due": "2026-12-18"}


def system(api: Api, method: str, path: str, body: Any = None, **more: Any) -> Any:
    return api.call(method, path, body, who="integrator", **more)


def place(api: Api, *lines: dict[str, Any], key: str | None = None, **more: Any) -> Any:
    headers = {"Idempotency_Key": key} if key is not None else {}
    return system(api, "POST", "/v1/orders", {**ORDER, **more, "lines": list(lines)}, **headers)


def parts_planned() -> int:
    with connected():
        return Item.select().where((Item.kind == "P") & (Item.state == "planned")).count()


def counted(line: dict[str, Any]) -> dict[str, int]:
    return {name: count for name, count in line["counts"].items() if count}


def test_the_same_order_sent_again_plans_nothing_and_another_under_its_reference_is_refused(api: Api) -> None:
    makers.design(api)
    line = {"part_number": "HY-204", "quantity": 3, "serials": ["118-1", "118-2", "118-3"], "reference": "PO-4502/1"}
    made = place(api, line, key="a")
    first = made.get_json()
    assert first["already_there"] is False
    assert (first["order"]["state"], counted(first["order"]["lines"][0])) == ("open", {"planned": 3})
    number = first["order"]["id"]
    assert made.headers["Location"] == f"/v1/orders/{number}"

    # Timed out and sent again: with the same key, with none, in other letters, and after it was changed.
    assert place(api, line, key="a").get_json() == first
    for reference in ("PO-4502", "po-4502", " Po-4502 "):
        again = place(api, line, reference=reference).get_json()
        assert (again["already_there"], again["order"]["id"]) == (True, number)
    changed = system(api, "PATCH", f"/v1/orders/{number}", {"due": "2026-12-21"}, If_Match='"1"')
    assert changed.get_json()["due"] == "2026-12-21"
    assert place(api, line).get_json()["order"]["due"] == "2026-12-21"
    assert parts_planned() == 3

    # Another content is another order, whatever differs.
    for other in ({**line, "quantity": 4, "serials": None}, {**line, "serials": None}, {**line, "reference": "x"}):
        answer = place(api, {k: v for k, v in other.items() if v is not None})
        assert (answer.status_code, answer.get_json()["type"]) == (409, "/problems/ordered-otherwise")
        assert (answer.get_json()["order"], answer.get_json()["errors"][0]["pointer"]) == (number, "/reference")
    # Another system may call another order so.
    plain = {"part_number": "HY-204", "quantity": 1}
    assert place(api, plain, system="crm").get_json()["order"]["id"] != number
    assert parts_planned() == 4

    # Each part has its serial, in the order given; nobody else may have one in another case of its letters.
    listed = api.get(f"/v1/orders/{number}/parts", who="integrator")
    assert [(p["serial"], p["line"]) for p in listed] == [("118-1", 1), ("118-2", 1), ("118-3", 1)]
    taken = place(api, {**plain, "serials": ["118-1"]}, reference="PO-4503")
    assert (taken.status_code, taken.get_json()["part"]) == (409, listed[0]["code"])
    assert taken.get_json()["errors"][0]["pointer"] == "/lines/0/serials/0"
    assert api.get("/v1/orders?reference=PO-4503") == [], "nothing half-written"

    # It is found by its reference, its customer, its day.
    for query in ("reference=po-4502&system=ORDERS", "customer=harbour%20SCHOOL&due_by=2026-12-21", "cancelled=false"):
        rows = api.get(f"/v1/orders?{query.replace('ORDERS', _system_name(api))}", who="integrator")
        assert rows[0]["id"] == number, query
    assert api.get("/v1/orders?due_by=2026-12-17") == []


def _system_name(api: Api) -> str:
    return str(api.get("/v1/references?kind=order", who="integrator")[0]["system"]).upper()


@pytest.mark.parametrize(
    ("line", "pointer"),
    [
        ({"quantity": 0}, "/lines/0/quantity"),
        ({"quantity": -3}, "/lines/0/quantity"),
        ({"quantity": 2.5}, "/lines/0/quantity"),
        ({"quantity": 10**12}, "/lines/0/quantity"),
        ({"quantity": "3"}, "/lines/0/quantity"),
        ({"quantity": 2, "serials": ["a"]}, "/lines/0/serials"),
        ({"quantity": 2, "serials": ["a", "A"]}, "/lines/0/serials/1"),
        ({"part_number": "HY-999", "quantity": 1}, "/lines/0/part_number"),
        ({"revision": "Z", "quantity": 1}, "/lines/0/part_number"),
        ({"reference": "x" * 201, "quantity": 1}, "/lines/0/reference"),
        ({"due": "2026-02-30", "quantity": 1}, "/lines/0/due"),
    ],
)
def test_strange_lines_are_refused_where_they_stand(api_once: Api, line: dict[str, Any], pointer: str) -> None:
    answer = place(api_once, {"part_number": "HY-204", **line})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer
    assert parts_planned() == 0


@pytest.fixture
def api_once(api: Api) -> Api:
    makers.design(api)
    return api


def test_an_order_is_changed_and_cancelled_and_what_is_begun_stays(api: Api) -> None:
    makers.design(api)
    number = place(api, {"part_number": "HY-204", "quantity": 4}).get_json()["order"]["id"]
    path = f"/v1/orders/{number}"
    one, two, *_ = (p["code"] for p in api.get(f"{path}/parts"))
    for code in (one, two):
        api.post(f"/v1/parts/{code}/start")

    def change(quantity: int, **more: Any) -> Any:
        version = api.get(path)["version"]
        return system(api, "PATCH", f"{path}/lines/1", {"quantity": quantity, **more}, If_Match=f'"{version}"')

    assert counted(change(3).get_json()["lines"][0]) == {"planned": 1, "laying": 2, "cancelled": 1}
    assert counted(change(5).get_json()["lines"][0]) == {"planned": 3, "laying": 2, "cancelled": 1}
    asked = change(1)
    assert (asked.status_code, asked.get_json()["begun"]) == (409, [one, two])
    assert asked.get_json()["answer_with"] == {"confirmed": True}
    assert api.get(path)["lines"][0]["quantity"] == 5, "nothing was changed"
    fewer = change(1, confirmed=True).get_json()["lines"][0]
    assert (counted(fewer), fewer["wanting"]) == ({"laying": 2, "cancelled": 4}, 0)
    assert system(api, "PATCH", f"{path}/lines/1", {"quantity": 9}, If_Match='"1"').status_code == 412

    # A hold on what a part is made of, or on itself, counts it as held.
    hold = api.post("/v1/holds", {"item": one, "reason": "look"})["id"]
    assert counted(api.get(path)["lines"][0]) == {"laying": 1, "held": 1, "cancelled": 4}
    api.post(f"/v1/holds/{hold}/lifting", {"why": "looked"}, who="quality")

    # Lines are added once, however often they are sent.
    more = {"first": 2, "lines": [{"part_number": "HY-204", "quantity": 2, "replaced_by": "order system"}]}
    assert system(api, "POST", f"{path}/lines", more).status_code == 201
    assert system(api, "POST", f"{path}/lines", more).get_json()["type"] == "/problems/already-there"

    # The order system asks for a replacement itself, and gets one however often it asks.
    scrapped = api.get(f"{path}/parts?line=2")[0]["code"]
    api.post(f"/v1/parts/{scrapped}/start")
    api.post(f"/v1/parts/{scrapped}/scrapping", {"method": "cut up"}, who="lead")
    assert api.get(path)["lines"][1]["wanting"] == 1
    for _ in range(2):
        found = system(api, "POST", f"{path}/lines/2/replacements").get_json()["lines"][1]
        assert (found["wanting"], counted(found)) == (0, {"planned": 2, "scrapped": 1})
    assert [one["replaces"] for one in api.get(f"{path}/parts?line=2")] == [None, None, scrapped]
    # Each new one stands in the place of what has none yet: a replacement that was scrapped itself, too.
    last = api.get(f"{path}/parts?line=2")[-1]["code"]
    api.post(f"/v1/parts/{last}/scrapping", {"method": "cut up"}, who="lead")
    # It may have a serial of its own, which nothing else has, and is not planned twice with it.
    wrong = system(api, "POST", f"{path}/lines/2/replacements", {"serials": ["SN 7", "SN 8"]})
    assert (wrong.status_code, wrong.get_json()["detail"]) == (422, "1 part has 1 serial, or none; 2 are given.")
    for _ in range(2):
        assert system(api, "POST", f"{path}/lines/2/replacements", {"serials": ["SN 7"]}).status_code == 201
    assert [one["serial"] for one in api.get(f"{path}/parts?line=2")] == [None, None, None, "SN 7"]
    other = system(api, "POST", f"{path}/lines/2/replacements", {"serials": ["SN 9"]}).get_json()
    assert other["detail"] == "No part is planned; 1 is given."
    taken = system(
        api,
        "PATCH",
        f"{path}/lines/2",
        {"quantity": 3, "serials": ["sn 7"]},
        If_Match=api.call("GET", path).headers["ETag"],
    )
    assert (taken.status_code, taken.get_json()["type"]) == (409, "/problems/already-there")
    assert [one["replaces"] for one in api.get(f"{path}/parts?line=2")] == [None, None, scrapped, last]
    nowhere = system(api, "POST", f"{path}/lines/9/replacements")
    assert (nowhere.status_code, nowhere.get_json()["detail"]) == (404, "Order 1 has no line 9.")

    # Cancelled: asked about what is begun; the plan is empty, what is begun goes on, and a second send changes nothing.
    assert system(api, "POST", f"{path}/cancellation", {"confirmed": True}, If_Match='"1"').status_code == 412
    read = api.call("GET", path).headers["ETag"]
    asked = system(api, "POST", f"{path}/cancellation", If_Match=read)
    assert (asked.status_code, asked.get_json()["begun_count"]) == (409, 2)
    for _ in range(2):
        gone = system(api, "POST", f"{path}/cancellation", {"confirmed": True}).get_json()
        assert (gone["state"], counted(gone["lines"][0])) == ("cancelled", {"laying": 2, "cancelled": 4})
    assert parts_planned() == 0
    refused = api.refused(f"{path}/lines/2/replacements", {}, "wrong-state", who="lead")
    assert "was cancelled" in refused["detail"]
    assert api.get(f"/v1/parts/{api.get(f'{path}/parts?state=cancelled')[0]['code']}")["state"] == "cancelled"
    api.post(f"/v1/parts/{one}/closing")
    with connected():
        assert check_account().agrees


def test_what_was_shipped_comes_back_on_hold_and_is_released_anew(api: Api) -> None:
    makers.supplier(api)
    shelf: Any = api
    shelf.place, shelf.glass = makers.place(api), makers.fabric(api)
    shelf.roll = makers.roll(api, shelf.glass, shelf.place, "F-1")
    part = made(api)
    problem = api.refused(f"/v1/parts/{part}/return", {"reason": "dry"}, "wrong-state", who="lead")
    assert "only what was shipped" in problem["detail"]
    released(api, part)
    api.post(f"/v1/parts/{part}/shipment", {"customer": "Rowing club", "document": "LN 1"}, who="lead")
    back = api.post(f"/v1/parts/{part}/return", {"reason": "a dry spot"}, who="integrator")
    assert (back["state"], back["released_at"], back["shipped_at"]) == ("returned", None, None)
    assert back["holds"][0]["reason"] == f"{part} came back from Rowing club: a dry spot."
    api.refused(f"/v1/parts/{part}/release", {"reviewed": True}, "not-releasable", who="quality")
    api.post(f"/v1/holds/{back['holds'][0]['id']}/lifting", {"why": "polished"}, who="quality")
    api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="quality")
    again = {"customer": "Canoe club", "document": "LN 2"}
    assert api.post(f"/v1/parts/{part}/shipment", again, who="lead")["shipment"]["document"] == "LN 2"
    with connected():
        assert check_account().agrees


def test_a_reference_leads_either_way_in_any_case_and_belongs_to_one_thing(api: Api) -> None:
    makers.design(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    other = makers.material(api, "Alder 20 resin", "resin")
    supplier = makers.supplier(api)
    number = place(api, {"part_number": "HY-204", "quantity": 1, "reference": "PO-4502/1"}).get_json()["order"]["id"]
    part = api.get(f"/v1/orders/{number}/parts")[0]["code"]
    long = "Straße " + "9" * 190

    def give(kind: str, reference: str, **of: Any) -> Any:
        return system(api, "POST", "/v1/references", {"kind": kind, "reference": reference, **of})

    given = give("material", long, number=resin).get_json()
    assert give("material", long, number=resin).get_json() == given, "the same said again is there"
    assert give("supplier", long, number=supplier).status_code == 201, "another kind"
    assert give("part", "SN 1", code=part).get_json()["code"] == part
    taken = give("material", long.upper(), number=other)
    assert (taken.status_code, taken.get_json()["number"]) == (409, resin)
    for strange in ({"number": 999}, {"code": part}, {}):
        assert give("material", "x", **strange).status_code == 422, strange

    asked = "/v1/references?reference=STRASSE%20" + "9" * 190
    assert [(r["kind"], r["number"]) for r in api.get(asked, who="integrator")] == [
        ("material", resin), ("supplier", supplier),
    ]  # fmt: skip
    assert [r["reference"] for r in api.get(f"/v1/references?code={part}")] == ["SN 1"]
    assert {r["kind"] for r in api.get("/v1/references?limit=200")} == {
        "order", "line", "customer", "material", "supplier", "part",
    }  # fmt: skip
    system(api, "POST", f"/v1/references/{given['id']}/withdrawal")
    assert give("material", long, number=other).get_json()["number"] == other
    # Another order whose customer it knows by its own number, whatever name stands beside it.
    again = place(api, {"part_number": "HY-204", "quantity": 1}, reference="PO-9", customer="Renamed").get_json()
    assert again["order"]["customer"] == "Harbour school"
