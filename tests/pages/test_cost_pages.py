"""What a part, an order and a month cost, as the lead reads it on a phone."""

from typing import Any

import pytest

from tests import makers
from tests.api.costs.test_costs import in_euros, price
from tests.pages.hand import HTML, hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_where_the_shop_reckons_in_no_currency_amounts_stand_without_money(api: Any) -> None:
    bench = makers.mixing(api)
    part = makers.started_part(api)
    bench.apply(bench.mixed(130, resin_g=300, hardener_g=90)["code"], (part, 360))
    lead = hand_of(api, "lead")
    for path in ("/costs", f"/I/{part}/cost"):
        page = lead.open(path).replace("\u202f", " ")
        assert "The shop has set no currency" in page
        assert "Alder 32 slow hardener" in page
        assert ">not known<" not in page
        assert "has no price" not in page


def test_the_lead_reads_what_a_part_cost_and_a_laminator_does_not(api: Any) -> None:
    bench = makers.mixing(api)
    in_euros(api)
    part = makers.started_part(api)
    price(api, bench.resin_can, total_minor=1234567)
    pot = bench.mixed(130, resin_g=300, hardener_g=90)["code"]
    bench.apply(pot, (part, 360))
    api.post(f"/v1/mixes/{pot}/closing", {"left_g": 30})
    lead, laminator = hand_of(api, "lead"), hand_of(api)
    assert f"/I/{part}/cost" in lead.open(f"/I/{part}")
    assert f"/I/{part}/cost" not in laminator.open(f"/I/{part}")
    for path in (f"/I/{part}/cost", "/costs", "/costs/orders/1"):
        assert laminator.client.get(path, headers=HTML).status_code == 403
    page = lead.open(f"/I/{part}/cost").replace("\u202f", " ")
    assert "740.74 EUR" in page
    assert "planned 230.769 g, 569.80 EUR" in page
    assert "The whole is not known yet." in page
    assert "Not known for 90 g of Alder 32 slow hardener" in page
    month = lead.open("/costs").replace("\u202f", " ")
    assert "2026-11: material in 1 part" in month
    assert "12 345.67 EUR" in month
    assert "Nothing moved." in lead.open("/costs?month=2025-01")
    assert "2026-11" in lead.open("/costs?month=never")
