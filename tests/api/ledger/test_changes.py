"""Who follows parts and lots reads what changed, and asks again only for that; an act keeps to what was read."""

from typing import Any
from urllib.parse import quote

import pytest

from service.database import connected
from service.operations.ledger.changes import list_changes
from tests import makers
from tests.conftest import Api
from tests.statements import statements


@pytest.fixture
def shop_with_parts(api: Api) -> Any:
    """Two parts that share a pot, and one that has nothing to do with it."""
    bench = makers.mixing(api)
    bench.one, bench.two, bench.apart = (makers.started_part(api) for _ in range(3))
    mix = bench.mixed()["code"]
    bench.apply(mix, (bench.one, 200), (bench.two, 200))
    bench.lot = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    return bench


def _told(api: Api, since: int, **more: Any) -> list[dict[str, Any]]:
    return api.get(f"/v1/changes?since={since}", **more)


def test_a_hold_is_told_of_every_part_that_it_reaches_and_moves_their_tags(shop_with_parts: Any, api: Api) -> None:
    bench, since = shop_with_parts, api.get("/v1/changes?sort=newest&limit=1")[0]["number"]
    paths = [f"/v1/parts/{code}" for code in (bench.one, bench.two, bench.apart)] + [f"/v1/lots/{bench.lot}"]
    before = [api.call("GET", path).headers["ETag"] for path in paths]
    hold = api.post("/v1/holds", {"item": bench.lot, "reason": "The maker doubts it."}, who="lead")
    told = _told(api, since)
    assert {(row["code"], row["kind"], row["operation"]) for row in told} == {
        (bench.one, "P", "place_hold"), (bench.two, "P", "place_hold"), (bench.lot, "L", "place_hold"),
    }  # fmt: skip
    after = [api.call("GET", path).headers["ETag"] for path in paths]
    assert [one != other for one, other in zip(before, after, strict=True)] == [True, True, False, True]
    assert {f'"{row["etag"]}"' for row in told} == {after[0]}
    # Lists are asked for what is held, for a time, and from either end.
    codes = [bench.one, bench.two, bench.apart]
    for asked, found in (
        ("on_hold=true", codes[:2]), ("on_hold=false", codes[2:]), ("sort=newest", codes[::-1]), ("sort=oldest", codes),
        (f"started_from={quote(api.shop.clock.now.isoformat())}", []),
        (f"started_before={quote(api.shop.clock.now.isoformat())}&on_hold=true&sort=newest", codes[1::-1]),
    ):  # fmt: skip
        assert [row["code"] for row in api.get(f"/v1/parts?{asked}")] == found, asked
        assert all(row["on_hold"] for row in api.get(f"/v1/parts?{asked}")) or "on_hold=true" not in asked
    assert [row["code"] for row in api.get("/v1/lots?on_hold=true")] == [bench.lot]
    second = api.call("GET", "/v1/parts?sort=newest&limit=1").headers["Link"].partition(">")[0].lstrip("<")
    assert [row["code"] for row in api.get(second)] == [bench.two]
    api.post(f"/v1/holds/{hold['id']}/lifting", {"why": "It was another lot."}, who="quality")
    lifted = _told(api, told[-1]["number"], who="integrator")
    assert {row["code"] for row in lifted} == {bench.one, bench.two, bench.lot}
    assert [row["code"] for row in _told(api, since) if row["kind"] == "P"] == [bench.one, bench.two] * 2
    # In pages no row is lost or told twice, though one act has many.
    found, path = [], f"/v1/changes?since={since}&limit=1"
    while path:
        page = api.call("GET", path)
        found += page.get_json()
        path = page.headers.get("Link", "").partition(">")[0].lstrip("<")
    assert found == told + lifted
    # What was refused has changed nothing.
    api.post("/v1/holds", {"item": bench.lot, "reason": "Not theirs to place."}, who="administrator", expect=403)
    assert _told(api, lifted[-1]["number"]) == []


def test_what_has_not_changed_is_answered_without_being_rendered(shop_with_parts: Any, api: Api) -> None:
    path = f"/v1/parts/{shop_with_parts.one}"
    whole = api.call("GET", path)
    tag = whole.headers["ETag"]
    for asked in (tag, f"W/{tag}", f'"c1", W/{tag} ,"x"', "*"):
        with statements() as said:
            same = api.call("GET", path, If_None_Match=asked)
        assert (same.status_code, same.data, same.headers["ETag"]) == (304, b"", tag)
        assert len(said) == 2, f"the key, and the tag\n{said}"
    assert api.call("GET", path, If_None_Match='"c1", "x"').data == whole.data
    # Of anything else the answer is made, and not sent again.
    for other in ("/v1/suppliers", "/v1/materials/1", f"/v1/containers/{shop_with_parts.resin_can}"):
        tag = api.call("GET", other).headers["ETag"]
        assert api.call("GET", other, If_None_Match=f"W/{tag}").status_code == 304
    api.post("/v1/holds", {"item": shop_with_parts.lot, "reason": "The maker doubts it."}, who="quality")
    assert api.call("GET", other, If_None_Match=tag).status_code == 200


def test_an_act_is_refused_where_what_was_read_has_changed_and_done_where_it_has_not(
    shop_with_parts: Any, api: Api
) -> None:
    bench = shop_with_parts
    part, can = f"/v1/parts/{bench.one}", f"/v1/containers/{bench.fast_can}"
    read = {path: api.call("GET", path).headers["ETag"] for path in (part, can)}
    api.post("/v1/holds", {"item": bench.lot, "reason": "The maker doubts it."}, who="quality")
    stale = api.call("POST", f"{part}/closing", If_Match=f'"c1", {read[part]}')
    assert (stale.status_code, stale.get_json()["type"]) == (412, "/problems/changed-meanwhile")
    assert api.get(part)["laid_up_at"] is None
    now = api.call("GET", part).headers["ETag"]
    done = api.call("POST", f"{part}/closing", If_Match=f'"c1", W/{now}', Idempotency_Key="closing")
    assert done.status_code == 201, done.get_data(as_text=True)
    assert done.headers["ETag"] == api.call("GET", part).headers["ETag"] != now
    # Sent again it is answered again: what it expects was so when it was done.
    again = api.call("POST", f"{part}/closing", If_Match=f'"c1", W/{now}', Idempotency_Key="closing")
    assert (again.status_code, again.headers["ETag"], again.data) == (201, done.headers["ETag"], done.data)
    # Of other things the version counts, whatever else their answer tells.
    assert api.call("POST", f"{can}/opening", If_Match='"1"').status_code == 412
    assert api.call("POST", f"{can}/opening", If_Match=read[can]).status_code == 201
    assert api.call("POST", f"{can}/opening", If_Match=read[can]).status_code == 412
    assert api.call("POST", f"{can}/decants", {"mass_g": 100}, If_Match="*").status_code == 201
    material = api.call("GET", f"/v1/materials/{bench.resin}")
    sent = f'"999", W/{material.headers["ETag"]}'
    card = {"opened_life_days": 90, "why": "Sheet 5."}
    changed = api.call("PATCH", f"/v1/materials/{bench.resin}", card, who="lead", If_Match=sent)
    assert changed.status_code == 200, changed.get_data(as_text=True)
    assert api.call("PATCH", f"/v1/materials/{bench.resin}", {"warm_up_hours": 3}, who="lead").status_code == 428


def test_a_page_of_the_feed_is_one_statement(shop_with_parts: Any) -> None:
    with connected(), statements() as said:
        list_changes(after=None, limit=1000)
    assert len(said) == 1


def test_an_order_is_told_of_when_its_parts_move_or_are_held_and_when_it_is_changed(api: Api) -> None:
    makers.design(api)
    bench = makers.mixing(api)
    lines = [{"part_number": "HY-204", "quantity": 2, "reference": "PO-1/1"}]
    asked = {"reference": "PO-1", "customer": "Harbour school", "lines": lines}
    order = api.post("/v1/orders", asked, who="integrator")["order"]["id"]
    path = f"/v1/orders/{order}"
    one = api.get(f"{path}/parts")[0]["code"]
    resin = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    customer = api.get(path)["customer_number"]

    def told(method: str, where: str, body: Any = None, **more: Any) -> list[str]:
        """What an act tells of orders; an order that answers otherwise is told of."""
        since, before = api.get("/v1/changes?sort=newest&limit=1")[0]["number"], api.get(path)
        assert api.call(method, where, body, **more).status_code in (200, 201), where
        rows = [row for row in _told(api, since) if row["kind"] == "order"]
        assert all((row["order_id"], row["code"], row["etag"]) == (order, None, None) for row in rows)
        assert rows or api.get(path) == before, where
        return [row["operation"] for row in rows]

    assert [row["operation"] for row in api.get(f"/v1/changes?order={order}")] == ["place_order"]
    assert told("POST", f"/v1/parts/{one}/start") == ["start_planned_part"]
    assert told("POST", f"/v1/parts/{one}/steps", {"kind": "note", "remark": "wax"}) == []
    mix = bench.mixed()["code"]
    assert told("POST", f"/v1/mixes/{mix}/applications", {"parts": [{"part": one}]}) == []
    # A hold behind a part, lifted again; and one that was there before the part was made of it.
    assert told("POST", "/v1/holds", {"item": resin, "reason": "cloudy"}, who="lead") == ["place_hold"]
    (hold,) = api.get(f"/v1/holds?item={resin}")
    assert told("POST", f"/v1/holds/{hold['id']}/lifting", {"why": "clear"}, who="quality") == ["lift_hold"]
    assert told("PATCH", f"/v1/customers/{customer}", {"name": "Quay school"}, who="lead", If_Match='"1"') == [
        "change_customer"
    ]
    assert told("PATCH", path, {"due": "2027-01-08"}, If_Match='"1"', who="integrator") == ["change_order"]
    more = {"kind": "line", "number": api.get(path)["lines"][0]["id"], "reference": "7", "system": "crm"}
    assert told("POST", "/v1/references", more, who="integrator") == ["add_reference"]
    assert told("POST", f"/v1/parts/{one}/closing") == ["close_lay_up"]
    assert told("POST", f"{path}/cancellation", {"confirmed": True}, who="integrator") == ["cancel_order"]
    # All of these, and nothing of parts and lots, stand in the order's own history.
    assert {row["kind"] for row in api.get(f"/v1/changes?order={order}")} == {"order"}
