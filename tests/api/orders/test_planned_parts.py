"""A planned part has its code and nothing else; it begins by a start or by the first record, and may not have begun."""

from typing import Any

from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.items import Item, Movement
from service.records.parts import Part
from tests import makers
from tests.conftest import Api
from tests.statements import statements


def place(api: Api, reference: str, quantity: int = 1, **more: Any) -> tuple[int, list[str]]:
    """Number of an order of one line, and the codes of its parts."""
    line = {"part_number": "HY-204", "quantity": quantity, **more}
    order = api.post("/v1/orders", {"reference": reference, "lines": [line]}, who="integrator")["order"]
    return order["id"], [p["code"] for p in api.get(f"/v1/orders/{order['id']}/parts?limit=200")]


def kinds(part: dict[str, Any]) -> list[str]:
    return [flag["kind"] for flag in part["flags"]]


def agrees() -> bool:
    with connected():
        return check_account().agrees


def test_a_planned_part_is_read_everywhere_and_begins_by_a_start_or_by_a_record(api: Api) -> None:
    makers.supplier(api)
    where = makers.place(api)
    cloth = makers.fabric(api)
    roll = makers.roll(api, cloth, where, "F-1")
    first = makers.design(api, plies=makers.plies(cloth, 0))
    mould = makers.released_mould(api, where)
    order, (one, two, three, four, five) = place(api, "4471", 5)
    api.shop.clock.forward(hours=2)

    # Nothing has happened to it, and everything can be read.
    planned = api.get(f"/v1/parts/{one}")
    assert (planned["state"], planned["mould"], planned["started_at"], planned["started_by"]) == (
        "planned", None, None, None,
    )  # fmt: skip
    assert (planned["order"], planned["design"]["revision"]) == ("4471", "A")
    for path in ("", "/trace", "/sharing", "/record", "/record.pdf", "/investigation", "/release"):
        base = "items" if path == "/trace" else "parts"
        assert api.call("GET", f"/v1/{base}/{one}{path}", who="quality").status_code == 200, path
    assert api.get("/v1/parts?state=planned")[0]["started_at"] is None
    label = api.post(f"/v1/items/{one}/labels", {"size": "50x25"})
    assert api.call("GET", label["pdf"]).status_code == 200
    api.client.post("/enter", data={"key": api.shop.keys["laminator"]})
    assert "Nobody has begun it" in api.client.get(f"/I/{one}").get_data(as_text=True)
    assert agrees()

    # A hold on the part itself stops its start, and nothing else does; a start counts no pull.
    hold = api.post("/v1/holds", {"item": one, "reason": "drawing is wrong"})["id"]
    api.refused(f"/v1/parts/{one}/start", {"mould": mould["code"]}, "on-hold")
    api.post(f"/v1/holds/{hold}/lifting", {"why": "it is right"}, who="quality")

    # Newest approved is fixed at the start, and a label of another revision is replaced.
    makers.design(api, revision="B", name="Rudder half, new core")
    begun = api.post(f"/v1/parts/{one}/start", {"mould": mould["code"]}, who="integrator")
    assert (begun["state"], begun["mould"], begun["design"]["revision"]) == ("laying", mould["code"], "B")
    assert begun["name"] == "Rudder half, new core"
    assert [m["code"] for m in begun["materials"]] == [mould["agent"]]
    labels = api.get(f"/v1/items/{one}/labels")
    assert [(row["issue"], row["void"]) for row in labels] == [(1, True), (2, False)]
    again = api.refused(f"/v1/parts/{one}/start", {}, "wrong-state")
    assert again["detail"] == f"{one} was started already; it is laying."

    # A record on a planned part starts it, and says so.
    kit = api.post("/v1/kits", {"design": first["id"], "cuts": [{"roll": roll, "length_mm": 1000}]})["code"]
    laid = api.post(f"/v1/parts/{two}/kits", {"kit": kit})
    assert laid["state"] == "laying"
    assert kinds(laid) == ["begun-by-record", "other-design"]
    assert laid["flags"][0]["sentence"].startswith(f"Kit {kit} was laid; {two} was only planned until then")
    assert kinds(api.post(f"/v1/parts/{three}/steps", {"kind": "note", "remark": "wax"})) == ["begun-by-record"]
    assert api.post(f"/v1/parts/{four}/closing")["state"] == "laid up"

    # Scrapped, it was there; the shop plans another at once, and no more than the line wants.
    assert kinds(api.post(f"/v1/parts/{five}/scrapping", {"method": "cut up"}, who="lead")) == ["begun-by-record"]
    found = api.get(f"/v1/orders/{order}")["lines"][0]
    assert (found["counts"]["planned"], found["counts"]["scrapped"], found["wanting"]) == (1, 1, 0)
    parts = api.get(f"/v1/orders/{order}/parts")
    assert (len(parts), parts[-1]["replaces"], parts[-1]["state"]) == (6, five, "planned")
    assert agrees()


def test_a_start_that_did_not_occur_makes_the_part_planned_again_unless_work_went_on(api: Api) -> None:
    makers.design(api)
    order, (one, two) = place(api, "4472", 2)

    def last(part: str) -> int:
        return int(api.get(f"/v1/journal?item={part}&limit=200", who="lead")[-1]["seq"])

    def undo(seq: int, **more: Any) -> Any:
        body = {"declaration": "did not occur", "why": "wrong part"}
        return api.call("POST", f"/v1/journal/{seq}/corrections", body, who="lead", **more)

    def stands() -> int:
        with connected():
            return Movement.select().where(Movement.cancelled_by.is_null()).count()

    before = stands()
    api.post(f"/v1/parts/{one}/start")
    started = last(one)
    assert undo(started).status_code == 201
    part = api.get(f"/v1/parts/{one}")
    assert (part["state"], part["started_at"], stands()) == ("planned", None, before)
    taken_back = undo(last(one))
    assert taken_back.status_code == 409
    assert "Start the part again" in taken_back.get_json()["way_out"]
    assert agrees()

    # Begun anew, with work on it: neither the start nor the first record is simply undone.
    api.post(f"/v1/parts/{one}/start")
    started = last(one)
    api.post(f"/v1/parts/{one}/steps", {"kind": "note", "remark": "wax"})
    assert undo(started).get_json()["type"] == "/problems/cannot-undo"
    api.post(f"/v1/parts/{two}/steps", {"kind": "note", "remark": "wax"})
    record = last(two)
    api.post(f"/v1/parts/{two}/steps", {"kind": "note", "remark": "more wax"})
    assert undo(record).status_code == 201
    assert api.get(f"/v1/parts/{two}")["state"] == "laying", "another record of it stands"
    assert agrees()

    counts = api.get(f"/v1/orders/{order}")["lines"][0]["counts"]
    assert (counts["planned"], counts["laying"]) == (0, 2)


def test_the_last_record_that_did_not_occur_puts_the_part_back_into_the_plan(api: Api) -> None:
    makers.design(api)
    _, (one,) = place(api, "4473")
    api.post(f"/v1/parts/{one}/steps", {"kind": "note", "remark": "wax"})
    seq = api.get(f"/v1/journal?item={one}&limit=200", who="lead")[-1]["seq"]
    body = {"declaration": "did not occur", "why": "wrong part"}
    api.post(f"/v1/journal/{seq}/corrections", body, who="lead")
    assert api.get(f"/v1/parts/{one}")["state"] == "planned"
    newest = api.get(f"/v1/journal?item={one}&limit=200", who="lead")[-1]["seq"]
    problem = api.refused(f"/v1/journal/{newest}/corrections", body, "wrong-state", who="lead")
    assert "planned again" in problem["detail"]
    assert api.post(f"/v1/parts/{one}/start")["state"] == "laying"
    assert agrees()


def test_a_thousand_parts_are_planned_in_as_few_statements_as_one_line_of_them(api: Api) -> None:
    makers.design(api)
    lines = [{"part_number": "HY-204", "quantity": 2, "reference": f"one {n}"} for n in range(500)]
    with statements() as said:
        placed = api.post("/v1/orders", {"reference": "big", "lines": lines}, who="integrator")
    assert len(placed["order"]["lines"]) == 500
    assert len(said) <= 90, len(said)
    with connected():
        assert Part.select().count() == 1000
        assert Item.select().where(Item.kind == "P").count() == 1000
        assert check_account().agrees
