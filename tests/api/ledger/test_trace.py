"""Back and forward from any code, at any depth, in a number of queries that does not grow."""

import json
from typing import Any

import pytest

from service.database import connected, database, listed, on_postgresql, rows_of
from service.operations.ledger import graph, trace
from service.records.items import Item
from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
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
    found = api.get(f"/v1/items/{chain[2]}/trace")
    assert found["counts"] == {"container": 2, "lot": 1}
    assert {i["code"] for i in found["items"]} >= set(chain)
    poured = [m for m in found["movements"] if m["target"] == chain[2]]
    assert poured[0]["amount_g"] == 120.5
    assert next(i for i in found["items"] if i["code"] == chain[1])["left_g"] == 379.5


def test_forward_from_the_lot_to_everything(api: Any, chain: list[str]) -> None:
    lot = api.get(f"/v1/containers/{chain[0]}")["lot"]
    found = api.get(f"/v1/items/{lot}/trace?direction=forward")
    assert found["counts"] == {"container": 3}
    answer = api.call("GET", f"/v1/items/{lot}/trace?direction=sideways")
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "/direction"


def test_a_misread_code_is_told_apart_from_an_unknown_one(api: Any, chain: list[str]) -> None:
    wrong = chain[0][:-1] + ("0" if chain[0][-1] != "0" else "1")
    assert "misread" in api.call("GET", f"/v1/items/{wrong}/trace").get_json()["detail"]
    assert api.call("GET", "/v1/items/C999998W/trace").status_code == 404


def test_what_was_taken_since_a_time_is_traced_without_what_was_taken_before(api: Any, chain: list[str]) -> None:
    can = chain[0]
    since = api.shop.clock.forward(hours=1)
    later = api.post(f"/v1/containers/{can}/decants", {"mass_g": 300})["code"]
    asked = f"/v1/items/{can}/trace?direction=forward&since={since.isoformat().replace('+00:00', 'Z')}"
    found = api.get(asked)
    assert {i["code"] for i in found["items"]} == {can, later}
    assert [(m["source"], m["target"]) for m in found["movements"]] == [(can, later)]
    assert found["totals"] == {"items": 2, "movements": 1}
    backward = api.call("GET", asked.replace("forward", "back"))
    assert backward.status_code == 422
    assert backward.get_json()["errors"][0]["pointer"] == "/since"


def test_a_trace_of_more_rows_than_an_answer_holds_counts_all_and_says_how_to_get_them(
    api: Any, chain: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for gone in chain[1:]:
        api.post(f"/v1/containers/{gone}/scrapping", {"method": "cured with the waste"}, who="lead")
    lot = api.get(f"/v1/containers/{chain[0]}")["lot"]
    whole = api.get(f"/v1/items/{lot}/trace?direction=forward")
    assert whole["rest"] is None
    assert whole["totals"] == {"items": len(whole["items"]), "movements": len(whole["movements"])}
    first = [whole[name] for name in ("counts", "totals", "went_away")]
    assert [(away["kind"], away["times"], away["amount_g"]) for away in whole["went_away"]] == [("scrap", 2, 500)]
    for most in range(1, whole["totals"]["items"] + whole["totals"]["movements"]):
        monkeypatch.setattr(trace, "MOST_ROWS", most)
        cut = api.get(f"/v1/items/{lot}/trace?direction=forward")
        assert [cut[name] for name in ("counts", "totals", "went_away")] == first
        assert cut["items"] + cut["movements"] == (whole["items"] + whole["movements"])[:most]
        assert "application/x-ndjson" in cut["rest"]


@pytest.mark.parametrize("direction", ["back", "forward"])
def test_the_lines_of_a_trace_are_the_same_rows_and_end_with_their_number(
    api: Any, chain: list[str], direction: str
) -> None:
    api.post(f"/v1/containers/{chain[2]}/scrapping", {"method": "cured with the waste"}, who="lead")
    api.post("/v1/holds", {"item": chain[1], "reason": "cloudy"})
    path = f"/v1/items/{chain[1]}/trace?direction={direction}"
    whole = api.get(path)
    answer = api.call("GET", path, Accept="application/x-ndjson")
    assert answer.mimetype == "application/x-ndjson"
    head, *rows, end = [json.loads(line) for line in answer.get_data(as_text=True).splitlines()]
    assert head["trace"] == {name: whole[name] for name in ("code", "direction", "counts", "totals", "went_away")}
    assert [row["item"] for row in rows if "item" in row] == whole["items"]
    assert [row["movement"] for row in rows if "movement" in row] == whole["movements"]
    assert end == {"end": whole["totals"]}
    assert any(i["on_hold"] for i in whole["items"])


def test_a_stream_of_an_unknown_code_is_refused_before_it_begins(api: Any) -> None:
    answer = api.call("GET", "/v1/items/C999998W/trace", Accept="application/x-ndjson")
    assert answer.status_code == 404
    assert answer.get_json()["type"] == "/problems/unknown"


def test_the_recursive_query_walks_the_index(api: Any, chain: list[str]) -> None:
    """After ANALYZE SQLite may answer the step by a Bloom filter over the whole table; the plan must not."""
    with connected():
        database.execute_sql("ANALYZE")
        item = Item.get(Item.code == chain[2])
        explain = "EXPLAIN" if on_postgresql() else "EXPLAIN QUERY PLAN"
        plans = [rows_of(f"{explain} {graph._closure(back)}", listed([item.id])) for back in (True, False)]
    assert "BLOOM" not in str(plans).upper()
