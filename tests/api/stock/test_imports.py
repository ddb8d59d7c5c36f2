"""Spreadsheets taken in: each row's fate first, then all of them or none; CSV as it is written here and there, XLSX."""

import io
from typing import Any

import pytest
from openpyxl import Workbook

from tests import makers
from tests.conftest import Api

_MATERIALS = """name,kind,supplier,density_g_ml,h_codes,storage_low_c,storage_high_c,incoming_checks.name,low
Alder 10 resin,resin,Fenwick Resins,1.12,"H315, H317",10,30,viscosity,500
Alder 10 resin,,,,,,,density,1.1
Alder 10 slow,hardener,1,0.98,H314,,,,
"""
_STOCK = (
    "material;place;makers_lot;expires_on;net_g;count;labelled_net_g\n"
    "Alder 10 resin;Shelf B2;26-0914;2027-09-30;2412,5;1;5000\n"
    "Alder 10 resin;Shelf B2;26-0914;;5000;3;\n"
    "Alder 10 slow;A00001P;S-77;2027-03-31;1000;2;\n"
)


def _send(api: Api, table: str, content: str | bytes, *, dry: bool = False, who: str = "lead", **headers: str) -> Any:
    raw = content if isinstance(content, bytes) else content.encode()
    return api.call("POST", f"/v1/imports/{table}{'/dry-run' if dry else ''}", raw, who=who, **headers)


def _said(answer: Any) -> list[tuple[int, str, str | None, str | None]]:
    return [(f["line"], f["fate"], f["column"], f["detail"]) for f in answer.get_json()["fates"]]


def test_a_shop_comes_in_from_its_spreadsheets(api: Api) -> None:
    shelf = makers.place(api)
    assert _send(api, "suppliers", "name,approved\nFenwick Resins,yes\nGlass mill,no\n").status_code == 201
    tried = _send(api, "materials", _MATERIALS, dry=True)
    assert (tried.status_code, tried.get_json()["done"], tried.get_json()["refused"]) == (200, False, 0)
    assert api.get("/v1/materials") == [], "a dry run writes nothing"
    before = api.get("/v1/journal", who="lead")[-1]["seq"]
    done = _send(api, "materials", _MATERIALS, Idempotency_Key="one")
    assert (done.status_code, done.get_json()["rows"]) == (201, 3)
    again = _send(api, "materials", _MATERIALS, Idempotency_Key="one")
    assert again.get_json() == done.get_json(), "sent twice, done once"
    tried = _send(api, "materials", _MATERIALS, dry=True, Idempotency_Key="one").get_json()
    assert (tried["rows"], tried["refused"]) == (3, 3), "a trial is tried, whatever was done under its key"
    entries = [e["operation"] for e in api.get("/v1/journal", who="lead") if e["seq"] > before]
    assert entries == ["import_rows"], "one act, and a dry run is none"
    resin, slow = api.get("/v1/materials")
    assert resin["incoming_checks"] == [{"name": "viscosity", "low": 500}, {"name": "density", "low": 1.1}]
    assert (resin["h_codes"], resin["supplier"], slow["supplier"]) == (["H315", "H317"], 1, 1)
    stock = _send(api, "opening-stock", _STOCK)
    assert stock.status_code == 201, stock.get_json()
    lot, same, other = (fate["code"] for fate in stock.get_json()["fates"])
    assert lot == same != other
    cans = [api.get(f"/v1/containers/{code}") for code in api.get(f"/v1/lots/{lot}")["containers"]]
    assert sorted(can["left_g"] for can in cans) == [2412.5, 5000, 5000, 5000]
    assert {can["place"] for can in cans} == {shelf}
    assert api.get("/v1/containers", who="lead")


def test_each_row_has_its_fate_and_one_that_is_refused_keeps_all_out(api: Api) -> None:
    makers.material(api, "Birch", "core")
    sheet = "name,kind,density_g_ml\nAsh,core,0.6\nBirch,core,0.6\nAsh,core,0.7\nElm,wood,0.6\nFir,core,heavy\n"
    sheet += "Yew,core,0.5\nYew,core,0.5\n"
    tried = _send(api, "materials", sheet, dry=True)
    kinds = tried.get_json()["fates"][3]["detail"]
    assert kinds.startswith("Give one of:")
    assert _said(tried) == [
        (2, "new", None, None),
        (3, "refused", None, "There is a material Birch already."),
        (4, "refused", None, "There is a material Ash already."),
        (5, "refused", "kind", kinds),
        (6, "refused", "density_g_ml", "Give a number."),
        (7, "refused", None, "It goes with line 8."),
        (8, "refused", None, "This stands on line 7 already."),
    ]
    refused = _send(api, "materials", sheet)
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/invalid")
    problem = refused.get_json()
    assert problem["detail"].startswith("Nothing was taken in: 6 of 7 rows cannot be. Line 3: There is a material")
    assert [at["line"] for at in problem["lines"]] == [3, 4, 5, 6, 7, 8], "the same rows as the trial refuses"
    problem = _send(api, "materials", "name,kind\nYew,core\nYew,core\n").get_json()
    assert problem["detail"] == "Nothing was taken in: 2 of 2 rows cannot be. Line 3: This stands on line 2 already."
    refused = _send(
        api, "materials", sheet.replace("wood", "core").replace("heavy", "0.4").removesuffix("Yew,core,0.5\n")
    )
    problem = refused.get_json()
    assert (
        problem["detail"] == "Nothing was taken in: 2 of 6 rows cannot be. Line 3: There is a material Birch already."
    )
    assert [(at["line"], at["column"]) for at in problem["lines"]] == [(3, None), (4, None)]
    assert [m["name"] for m in api.get("/v1/materials")] == ["Birch"]


def test_a_design_takes_as_many_rows_as_it_has_plies_and_comes_as_a_workbook(api: Api) -> None:
    makers.fabric(api, "Glass twill 280")
    book = Workbook()
    for row in (
        [
            "part_number",
            "revision",
            "name",
            "plies.number",
            "plies.material",
            "angle_deg",
            "plies.area_m2",
            "ply_by_ply",
        ],
        ["HY-204", "A", "Rudder half", 1, "Glass twill 280", 0, 0.4, True],
        ["HY-204", "A", None, 2, "Glass twill 280", 45, 0.4, None],
        [None] * 8,
        ["HY-300", "B", "Tiller", 1, "Glass twil 280", 0, 0.1, None],
    ):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    refused = _send(api, "designs", out.getvalue(), dry=True)
    assert _said(refused)[2:] == [(5, "refused", "plies.material", "There is no material called Glass twil 280 here.")]
    book.active.delete_rows(5)
    out = io.BytesIO()
    book.save(out)
    done = _send(api, "designs", out.getvalue())
    assert done.status_code == 201, done.get_json()
    design = api.get(f"/v1/designs/{done.get_json()['fates'][0]['number']}")
    assert [ply["angle_deg"] for ply in design["plies"]] == [0, 45]
    assert (design["name"], design["ply_by_ply"]) == ("Rudder half", True)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty."),
        (b"name,approved\n", "There is no row below the names of the columns."),
        (b"name,colour\nFenwick,red\n", "There is no column colour here; there are name, approved."),
        (b"name,name\nFenwick,x\n", "“name” is the name of two columns."),
        (b"name,approved\nFenwick,yes,1\n", "“1” stands in a column without a name."),
        (b'name,approved\n"Fenwick,yes\n', "A cell begins with a quotation mark that nothing ends."),
        (b"PK\x03\x04no", "This workbook cannot be read; save it anew as .xlsx, or as CSV."),
        (b"name,approved\n" + b"Fenwick,yes\n" * 1001, "The table has more than 1,000 rows; send it in several."),
    ],
)
def test_what_is_no_table_is_told_with_its_line(api: Api, content: bytes, said: str) -> None:
    for dry in (True, False):
        answer = _send(api, "suppliers", content, dry=dry)
        assert answer.status_code == 422
        assert said in answer.get_json()["detail"]
    assert api.get("/v1/suppliers") == []


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_laminator_takes_no_tables_in_and_no_other_table_is_known(api: Api) -> None:
    assert _send(api, "suppliers", "name,approved\nFenwick,yes\n", who="laminator").status_code == 403
    assert _send(api, "suppliers", "name,approved\nFenwick,yes\n", dry=True, who="laminator").status_code == 403
    assert _send(api, "people", "name\nIda\n").status_code == 404
