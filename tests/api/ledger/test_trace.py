"""Back and forward from any code, at any depth, in a number of queries that does not grow."""

from typing import Any

import pytest

from service.database import connected, database, on_postgresql
from service.operations.ledger import graph
from service.records.items import Item
from tests import makers


@pytest.fixture
def chain(api: Any) -> list[str]:
    """A can, a jug from it, a bottle from the jug."""
    makers.supplier(api)
    api.place = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    can = makers.cans(api, resin, api.place, "26-1")[0]
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    bottle = api.post(f"/v1/containers/{jug}/decants", {"mass_g": 120.5})["code"]
    return [can, jug, bottle]


def test_back_from_the_last_bottle_to_the_lot(api: Any, chain: list[str]) -> None:
    trace = api.get(f"/v1/items/{chain[2]}/trace")
    assert trace["counts"] == {"container": 2, "lot": 1}
    assert {i["code"] for i in trace["items"]} >= set(chain)
    poured = [m for m in trace["movements"] if m["target"] == chain[2]]
    assert poured[0]["amount_g"] == 120.5
    assert next(i for i in trace["items"] if i["code"] == chain[1])["left_g"] == 379.5


def test_forward_from_the_lot_to_everything(api: Any, chain: list[str]) -> None:
    lot = api.get(f"/v1/containers/{chain[0]}")["lot"]
    trace = api.get(f"/v1/items/{lot}/trace?direction=forward")
    assert trace["counts"] == {"container": 3}
    answer = api.call("GET", f"/v1/items/{lot}/trace?direction=sideways")
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "/direction"


def test_a_misread_code_is_told_apart_from_an_unknown_one(api: Any, chain: list[str]) -> None:
    wrong = chain[0][:-1] + ("0" if chain[0][-1] != "0" else "1")
    assert "misread" in api.call("GET", f"/v1/items/{wrong}/trace").get_json()["detail"]
    assert api.call("GET", "/v1/items/C999998W/trace").status_code == 404


def test_the_recursive_query_walks_the_index(api: Any, chain: list[str]) -> None:
    """After ANALYZE SQLite may answer the step by a Bloom filter over the whole table; the plan must not."""
    with connected():
        database.execute_sql("ANALYZE")
        item = Item.get(Item.code == chain[2])
        reach = graph._reach([item.id], back=True)
        query = Item.select(reach.c.root, reach.c.id).from_(reach).with_cte(reach)
        sql, params = query.sql()
        explain = "EXPLAIN" if on_postgresql() else "EXPLAIN QUERY PLAN"
        plan = "\n".join(str(row) for row in database.execute_sql(f"{explain} {sql}", params).fetchall())
    assert "BLOOM" not in plan.upper()
