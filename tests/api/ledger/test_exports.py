"""Every table goes out whole, in the words and units of the API, and nothing that opens a door."""

import csv
import io
import json
from typing import Any

import pytest
from jsonschema import validate
from openpyxl import load_workbook

from tests import makers
from tests.conftest import Api
from tests.epcis_rules import broken


def _table(api: Api, name: str, kind: str, *, who: str = "quality") -> Any:
    answer = api.call("GET", f"/v1/exports/{name}.{kind}", who=who)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    return answer


def _lines(api: Api, name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in _table(api, name, "ndjson").get_data().splitlines()]


def _csv(api: Api, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(_table(api, name, "csv").get_data().decode("utf-8-sig"))))


@pytest.fixture
def stocked(api: Api) -> Api:
    makers.supplier(api, "=1+1 Resins")
    shelf = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", tare_g=250.5, h_codes=["H315"])
    makers.lot(api, resin, shelf, makers_lot="26-0914", containers=[{"net_g": 5000.25, "count": 2}])
    return api


def test_a_table_says_the_same_in_three_forms(stocked: Api) -> None:
    lines = _lines(stocked, "container")
    assert [line["item"][0] for line in lines] == ["C", "C"]
    lot = lines[0]["lot"]
    assert stocked.get(f"/v1/lots/{lot}")["containers"] == [line["item"] for line in lines], "things have their codes"
    rows = _csv(stocked, "container")
    assert [row["item"] for row in rows] == [line["item"] for line in lines]
    assert rows[0]["blend"] == "false"
    book = load_workbook(io.BytesIO(_table(stocked, "container", "xlsx").get_data()), read_only=True)
    head, *cells = book.worksheets[0].iter_rows(values_only=True)
    assert [dict(zip(head, row, strict=True))["item"] for row in cells] == [line["item"] for line in lines]
    book.close()


def test_units_and_times_are_those_of_the_api_and_no_text_is_a_formula(stocked: Api) -> None:
    (material,) = _lines(stocked, "material")
    assert (material["tare_g"], material["h_codes"]) == (250.5, ["H315"])
    assert json.loads(_csv(stocked, "material")[0]["h_codes"]) == ["H315"]
    came = [row for row in _lines(stocked, "movement") if row["source"] is None]
    assert {row["occurred_at"] for row in came} == {stocked.shop.clock.now.isoformat().replace("+00:00", "Z")}
    assert _csv(stocked, "supplier")[0]["name"] == "'=1+1 Resins"
    book = load_workbook(io.BytesIO(_table(stocked, "supplier", "xlsx").get_data()))
    assert (book.active["B2"].value, book.active["B2"].data_type) == ("=1+1 Resins", "s")


def test_all_tables_are_listed_and_fetched_and_none_of_them_opens_a_door(stocked: Api) -> None:
    listed = stocked.get("/v1/exports", who="administrator")
    names = {table["name"] for table in listed}
    assert {"item", "movement", "entry", "part", "hold"} <= names
    assert not {"access_key", "browser_session", "signing_key", "signing_token", "answer"} & names
    others = {table["name"] for table in stocked.get("/v1/exports", who="quality")}
    assert names - others == {"price", "hourly_rate"}, "nobody is shown what they may not fetch"
    assert stocked.call("GET", "/v1/exports/price.csv", who="quality").status_code == 403
    said = b""
    for table in listed:
        who = "administrator" if table["name"] in ("price", "hourly_rate") else "quality"
        content = _table(stocked, table["name"], "ndjson", who=who).get_data()
        said += content
        for line in content.splitlines()[:1]:
            assert list(json.loads(line)) == table["columns"]
    assert b"salt" not in said.replace(b'"rows"', b"")
    for who, status in (("integrator", 403), ("laminator", 403), ("administrator", 200)):
        assert stocked.call("GET", "/v1/exports/item.csv", who=who).status_code == status
    assert stocked.call("GET", "/v1/exports/access_key.csv", who="administrator").status_code == 404


def test_a_can_is_told_in_events_from_its_receipt_on(stocked: Api) -> None:
    can, lot = _lines(stocked, "container")[0]["item"], _lines(stocked, "lot")[0]["item"]
    at = "http://127.0.0.1:8000/I"
    document = stocked.get(f"/v1/items/{can}/epcis", who="quality")
    assert broken(document) == []
    described = stocked.get("/openapi.json")["paths"]["/v1/items/{code}/epcis"]["get"]["responses"]["200"]["content"]
    validate(document, described["application/ld+json"]["schema"])
    came, packed = document["epcisBody"]["eventList"]
    assert (came["bizStep"], packed["bizStep"]) == ("receiving", "commissioning")
    assert came["quantityList"] == [{"epcClass": f"{at}/{lot}", "quantity": 10_000.5, "uom": "GRM"}]
    assert (packed["epcList"], packed["action"]) == ([f"{at}/{can}"], "ADD")
    assert packed["ilmd"] == {"cbvmda:lotNumber": "26-0914", "cbvmda:itemExpirationDate": "2027-09-30"}
    assert came["eventTimeZoneOffset"] == "+01:00", "as the shop's clock stood"
    forward = stocked.get(f"/v1/items/{lot}/epcis?direction=forward", who="quality")["epcisBody"]["eventList"]
    assert forward[0] == came, "how the lot came, and both of its cans"
    assert len(forward) == 3
    refused = stocked.call("GET", f"/v1/items/{lot}/epcis?since=2026-11-01T00:00:00Z", who="quality")
    assert refused.status_code == 422
