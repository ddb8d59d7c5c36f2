"""What parts cost: prices that are said and said anew, shares that add up, what is not known and says so."""

import csv
import io
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from tests import makers
from tests.conftest import Api


def in_euros(api: Api) -> None:
    site = api.get("/v1/site")
    made = api.call("PATCH", "/v1/site", {"currency": "EUR", "why": "prices are kept from now on"},
                    who="administrator", If_Match=f'"{site["version"]}"')  # fmt: skip
    assert made.status_code == 200, made.get_data(as_text=True)


def receipt_of(api: Api, can: str) -> int:
    lot = api.get(f"/v1/containers/{can}")["lot"]
    return int(api.get(f"/v1/lots/{lot}")["receipts"][-1]["id"])


def price(api: Api, can: str, *, who: str = "lead", **said: int) -> dict[str, Any]:
    answer = api.post("/v1/prices", {"prices": [{"receipt": receipt_of(api, can), **said}]}, who=who)
    return dict(answer[0])


def material(cost: dict[str, Any], name: str) -> dict[str, Any]:
    return next(row for row in cost["materials"] if row["name"] == name)


def test_a_part_costs_its_share_of_its_pot_and_what_has_no_price_is_not_known(api: Api) -> None:
    bench = makers.mixing(api)
    refused = api.post("/v1/prices", {"prices": [{"receipt": 1, "total_minor": 1}]}, who="lead", expect=409)
    assert "currency" in refused["detail"]
    in_euros(api)
    one, other = makers.started_part(api, "HY-100"), makers.started_part(api, "HY-101")
    # 5 kg for 100.01: of a pot of 390 g of resin 300 g go into one part, 60 g into another, 30 g are left in the cup.
    price(api, bench.resin_can, total_minor=10001)
    pot = bench.mixed(130, resin_g=300, hardener_g=90)["code"]
    bench.apply(pot, (one, 300), (other, 60))
    api.post(f"/v1/mixes/{pot}/closing", {"left_g": 30})
    cost = api.get(f"/v1/parts/{one}/cost", who="lead")
    resin = material(cost, "Alder 10 resin")
    # 300 g of 5 kg are 600.06, rounded 600 cents; 300/360 of them.
    assert (resin["drawn_g"], resin["drawn_minor"], resin["not_priced_g"]) == (250, 500, 0)
    hardener = material(cost, "Alder 32 slow hardener")
    assert (hardener["drawn_g"], hardener["drawn_minor"], hardener["not_priced_g"]) == (75, None, 75)
    assert (cost["known_minor"], cost["material_minor"], cost["total_minor"]) == (500, None, None)
    assert "Not known for 75 g of Alder 32 slow hardener: its arrival has no price." in cost["sentences"]
    assert [(w["cause"], w["amount_g"], w["minor"]) for w in cost["waste"]] == [("left in pot", 25, 38)]
    price(api, bench.slow_can, per_kilogram_minor=2000)
    said = price(api, bench.slow_can, per_kilogram_minor=1999)
    assert [p["stands"] for p in api.get(f"/v1/prices?receipt={said['receipt']}", who="lead")] == [False, True]
    costs = [api.get(f"/v1/parts/{part}/cost", who="lead") for part in (one, other)]
    # 90 g at 19.99 a kilogram are 179.91, and both parts together cost all of the pot.
    assert sum(c["material_minor"] for c in costs) == 600 + 180
    assert costs[0]["materials"] == sorted(costs[0]["materials"], key=lambda m: -m["drawn_minor"])
    # 300 g of mix at 100:30 are 230.769 g of resin for 462 and 69.231 g of hardener for 138.
    assert [c["planned_minor"] for c in costs] == [600, 600]
    assert material(costs[1], "Alder 10 resin")["planned_g"] == 230.769
    api.shop.clock.forward(minutes=57)
    api.post(f"/v1/parts/{one}/closing")
    assert api.get(f"/v1/parts/{one}/cost", who="lead")["labour"]["minor"] is None
    api.post("/v1/hourly-rates", {"minor": 4500, "since": "2026-01-01"}, who="lead")
    done = api.get(f"/v1/parts/{one}/cost", who="lead")
    assert done["labour"] == {"lay_up_minutes": 60, "pot_minutes": 0, "minutes": 60, "minor": 4500}
    assert done["total_minor"] == costs[0]["material_minor"] + 4500
    _is_told_as_a_table(api, one, done)


def _is_told_as_a_table(api: Api, part: str, cost: dict[str, Any]) -> None:
    """The same figures with the same columns, exact, in the currency's own unit."""
    sheet = api.call("GET", f"/v1/parts/{part}/cost.csv", who="lead").get_data(as_text=True)
    rows = list(csv.DictReader(io.StringIO(sheet.removeprefix("\ufeff"))))
    told = {(row["row"], row["name"]): row for row in rows}
    resin = told["material", "Alder 10 resin"]
    assert [resin[name] for name in ("of", "unit", "planned", "drawn", "money", "currency")] == [
        part, "g", "230.769", "250.000", "5.00", "EUR",
    ]  # fmt: skip
    assert told["total", "HY-100"]["money"] == f"{Decimal(cost['total_minor']) / 100:.2f}"
    book = load_workbook(io.BytesIO(api.call("GET", f"/v1/parts/{part}/cost.xlsx", who="lead").get_data()))
    cells = [[cell.value for cell in row] for row in book.active.iter_rows()]
    assert cells[0] == list(rows[0])
    assert [row[7] for row in cells[1:]] == [float(row["money"]) if row["money"] else None for row in rows]
    month = api.call("GET", "/v1/costs.csv?month=2026-11", who="lead").get_data(as_text=True)
    assert "total,received" in month


def test_prices_are_for_the_lead_and_the_office_and_for_systems_with_a_scope_of_their_own(api: Api) -> None:
    bench = makers.mixing(api)
    in_euros(api)
    part, receipt = makers.started_part(api), receipt_of(api, bench.resin_can)
    key = api.post("/v1/keys", {"system": "web shop", "scopes": ["reading", "orders"]}, who="administrator")
    api.shop.keys["web shop"] = key["secret"]
    body = {"prices": [{"receipt": receipt, "total_minor": 77123}]}
    for who in ("laminator", "quality", "web shop"):
        for path in ("/v1/prices", "/v1/hourly-rates", f"/v1/parts/{part}/cost", "/v1/exports/price.csv"):
            assert api.call("GET", path, who=who).status_code == 403, (who, path)
        assert api.call("POST", "/v1/prices", body, who=who).status_code == 403
    price(api, bench.resin_can, who="integrator", total_minor=77123)
    assert api.get("/v1/prices", who="administrator")[0]["said_by"] == "orders"
    for who in ("quality", "integrator"):
        assert "77123" not in str(api.get("/v1/journal?operation=give_prices", who=who)), "nor does the journal tell"
    assert "77123" in api.call("GET", "/v1/exports/price.csv", who="lead").get_data(as_text=True)
    lot = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    assert "give_prices" in {e["operation"] for e in api.get(f"/v1/journal?item={lot}", who="lead")}


def test_a_price_that_does_not_fit_its_arrival_is_refused_where_it_stands(api: Api) -> None:
    bench = makers.mixing(api)
    in_euros(api)
    resin = receipt_of(api, bench.resin_can)
    for said, pointer in (
        ([{"receipt": resin, "per_metre_minor": 100}], "/prices/0/per_metre_minor"),
        ([{"receipt": resin, "total_minor": 1}, {"receipt": resin, "total_minor": 2}], "/prices/1/receipt"),
        ([{"receipt": 999, "total_minor": 1}], "/prices/0/receipt"),
        ([{"receipt": resin, "total_minor": 1, "per_kilogram_minor": 1}], "/prices/0"),
        ([{"receipt": resin, "total_minor": 12.5}], "/prices/0/total_minor"),
    ):
        problem = api.post("/v1/prices", {"prices": said}, who="lead", expect=422)
        assert [error["pointer"] for error in problem["errors"]] == [pointer], problem
    problem = api.post("/v1/prices", {"currency": "SEK", "prices": [{"receipt": resin, "total_minor": 1}]},
                       who="lead", expect=422)  # fmt: skip
    assert "EUR" in problem["detail"]
    assert api.get("/v1/prices", who="lead") == []


def test_an_order_costs_what_its_parts_do_line_by_line_to_the_cent(api: Api) -> None:
    """Worked by hand. 390 g of a pot: 300 g of resin at 100.01 for 5 kg are 6.00, 90 g of hardener at 20.00 a kilogram
    1.80; 300 g of it go into one part, 60 g into another, and 30 g, a thirteenth, are left in the cup."""
    bench = makers.mixing(api)
    in_euros(api)
    price(api, bench.resin_can, total_minor=10001)
    price(api, bench.slow_can, per_kilogram_minor=2000)
    need = [{"purpose": "wet-out", "system": "Alder 10", "mass_g": 300}]
    for name in ("HY-100", "HY-101"):
        makers.design(api, name, resin_need=need)
    lines = [{"part_number": "HY-100", "quantity": 1}, {"part_number": "HY-101", "quantity": 2}]
    order = api.post("/v1/orders", {"reference": "PO 7", "lines": lines}, who="integrator")["order"]["id"]
    before = api.get(f"/v1/orders/{order}/cost", who="lead")
    assert (before["known_minor"], [line["begun"] for line in before["lines"]]) == (0, [0, 0])
    one, other, _ = [part["code"] for part in api.get(f"/v1/orders/{order}/parts")]
    for part in (one, other):
        api.post(f"/v1/parts/{part}/start")
    pot = bench.mixed(130, resin_g=300, hardener_g=90)["code"]
    bench.apply(pot, (one, 300), (other, 60))
    api.post(f"/v1/mixes/{pot}/closing", {"left_g": 30})
    api.post("/v1/hourly-rates", {"minor": 4500, "since": "2026-01-01"}, who="lead")
    done = api.get(f"/v1/orders/{order}/cost", who="lead")
    # 780 cents are shared 300 : 60, of which 60 cents (a thirteenth) are in neither part.
    assert [(line["begun"], line["known_minor"]) for line in done["lines"]] == [(1, 650), (1, 130)]
    assert (done["known_minor"], done["material_minor"]) == (780, 780)
    assert [(m["name"], m["drawn_g"], m["drawn_minor"]) for m in done["materials"]] == [
        ("Alder 10 resin", 300, 600), ("Alder 32 slow hardener", 90, 180),
    ]  # fmt: skip
    assert [(w["cause"], w["amount_g"], w["minor"]) for w in done["waste"]] == [("left in pot", 30, 60)]
    # 300 g of mix at 100 : 30 for each part begun are 462 and 138 cents; of the third nothing is planned yet.
    assert done["planned_minor"] == 1200
    costs = [api.get(f"/v1/parts/{part}/cost", who="lead") for part in (one, other)]
    assert [cost["known_minor"] for cost in costs] == [650, 130]
