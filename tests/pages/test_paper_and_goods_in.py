"""A sheet that was written while nothing worked is entered with its times; goods come in by the supplier's own code."""

from datetime import datetime
from typing import Any

import pytest

from tests import makers
from tests.pages.hand import HTML, hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_a_sheet_is_entered_later_each_line_with_its_time_and_is_late_by_itself(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    # The shop's clock is an hour ahead of UTC in November.
    written = api.shop.clock.now
    api.shop.clock.forward(hours=6)
    assert "100 : 30 by weight" in hand.open("/paper")
    hand.tap("Enter a sheet now")
    assert "Entering a paper sheet" in hand.page
    hand.open(f"/I/{mixing.slow_can}/weigh")
    there = written.replace(tzinfo=None).isoformat()[:11]
    hand.tap("Start the pot", containers=[mixing.slow_can, mixing.resin_can, ""], total_g="260", _at=f"{there}10:05")
    pot = hand.at.rsplit("/", 1)[1]
    assert f'value="{there}10:05"' in hand.page, "the next line begins at the time of the one before"
    hand.tap("Enter the reading", reading_g="200,0", _at=f"{there}10:07")
    hand.tap("Enter the reading", reading_g="60", _at=f"{there}10:09")
    hand.open(f"/I/{pot}/stir")
    hand.tap("It is stirred", minutes="4", _at=f"{there}10:14")
    told = api.get(f"/v1/mixes/{pot}")
    at = [datetime.fromisoformat(p["occurred_at"]).strftime("%H:%M") for p in told["pours"]]
    assert (at, [p["net_g"] for p in told["pours"]]) == (["09:07", "09:09"], [200, 60])
    assert told["stirring"]["done_min"] == 4
    late = [e["operation"] for e in api.get("/v1/journal?late=true", who="quality")]
    assert {"start_mix", "pour", "stir"} <= set(late)
    hand.tap("The sheet is in")
    assert "Enter a sheet now" in hand.page
    hand.open(f"/I/{pot}/contact")
    assert "_at" not in hand.page
    tomorrow = api.shop.clock.now.replace(tzinfo=None).isoformat()[:10]
    hand.tap("Enter a sheet now") if "Enter a sheet now" in hand.open("/paper") else None
    hand.open(f"/I/{pot}/contact")
    refused = hand.tap("Enter it", temperature_c="21", _at=f"{tomorrow}T23:59")
    assert "lies in the future" in refused
    assert "occurred_at" not in refused


def test_a_suppliers_code_begins_a_receipt_and_foreign_and_unknown_labels_say_what_to_do(api: Any) -> None:
    makers.supplier(api)
    place = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", gtin="09506000134352")
    hand = hand_of(api)
    code = "]d201095060001343521727093010" + "26-0914" + "\x1d" + "3103005000"
    answer = hand.client.get("/scan", query_string={"code": code}, headers=HTML)
    assert answer.status_code == 303
    hand.open(answer.headers["Location"])
    assert 'value="26-0914"' in hand.page
    assert 'value="2027-09-30"' in hand.page
    hand.tap("Receive it", supplier="1", delivery_note="LN 4471", **{"containers.0.count": "2"})
    lot = hand.at.split("/")[2]
    assert "0 of 2" in hand.page
    seen = api.get(f"/v1/lots/{lot}")
    assert (seen["material"], seen["makers_lot"], seen["expires_on"], len(seen["containers"])) == (
        resin, "26-0914", "2027-09-30", 2)  # fmt: skip
    assert api.get(f"/v1/containers/{seen['containers'][0]}")["left_g"] == 5000
    # The same note once more is asked about, by a button.
    hand.open(answer.headers["Location"])
    again = hand.tap("Receive it", supplier="1", delivery_note="LN 4471", **{"containers.0.count": "2"})
    assert hand.status == 409
    assert "Yes, record it so" in again
    can = seen["containers"][0]
    foreign = hand.open(f"/scan?code=HTTP://OTHER.SHOP/I/{can}/1")
    assert hand.status == 422
    assert "belongs to other.shop" in foreign
    assert "Receive it" in foreign
    own = hand.client.get(f"/scan?code=http://localhost/I/{can}/1", headers=HTML)
    assert own.headers["Location"] == f"/I/{can}/1"
    assert "receive what it is on" in hand.open("/scan?code=hello+there")
    assert "misread" in hand.open("/scan?code=C000001")
    assert place


def test_figures_are_shown_with_the_browsers_decimal_sign_and_read_with_either(api: Any) -> None:
    mixing = makers.mixing(api)
    pot = mixing.start(260)["code"]
    mixing.pour(pot, mixing.resin_can, 200.1)
    shown = {}
    for language in ("da", "en-GB", "de-CH,de;q=0.8"):
        hand = hand_of(api)
        answer = hand.client.get(f"/I/{pot}", headers={**HTML, "Accept-Language": language})
        shown[language] = answer.get_data(as_text=True)
    assert "<span>60,0</span> g" in shown["da"]
    assert "reads 260,1 g" in shown["da"]
    assert 'data-decimal=","' in shown["da"]
    assert "60.0" not in shown["da"].replace('data-target="60.0', "")
    assert "<span>60.0</span> g" in shown["en-GB"]
    assert "<span>60.0</span> g" in shown["de-CH,de;q=0.8"]
