"""From an order to a lay-up at the tablet: what to start next, its mould, kits cut and laid, ply by ply, on paper."""

import re
from datetime import timedelta
from typing import Any

import pytest

from tests.journeys import floor
from tests.pages.hand import hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
SERIAL = "KC-2026-0101 for the second boat of the yard, port, agreed"


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u202f", " ")


def ordered(yard: Any) -> str:
    """One part of three plies that is planned for an order: its code."""
    yard.design()
    body = {
        "system": "order book", "reference": "SO-4711", "customer": "Kestrel Cycles",
        "lines": [{"part_number": "HY-204", "quantity": 2, "due": "2026-12-14", "serials": [SERIAL, "KC-2"]}],
    }  # fmt: skip
    yard.api.post("/v1/orders", body, who="lead")
    return str(yard.api.get("/v1/parts?state=planned")[0]["code"])


def test_what_is_planned_is_started_from_the_list_and_laid_ply_by_ply(api: Any) -> None:
    yard = floor.founded(api)
    part, hand = ordered(yard), hand_of(api)
    lead = hand_of(api, "lead")
    assert ">Order SO-4711<" in lead.open("/costs"), "an order is called what its customer calls it"
    assert "Order SO-4711" in words(lead.open("/costs/orders/1"))
    assert "× 2 Kestrel Cycles due 14 Dec 2026" in words(hand.open("/board")).replace("&nbsp;", " ")
    assert "Kestrel Cycles" in hand.open("/next")
    assert f'href="/I/{part}/start"' in hand.page
    assert "Nobody has begun it" in hand.open(f"/I/{part}")
    assert SERIAL in hand.page
    assert "What is open" not in hand.page
    hand.open(f"/I/{part}/labels")
    hand.tap("Make its label", size="50x25")
    assert SERIAL in api.client.get(f"/I/{part}/1", headers={"Accept": "text/html"}).get_data(as_text=True)
    assert hand.client.get(f"/v1/items/{part}/labels/1.pdf").status_code == 200
    hand.open(f"/I/{part}/start")
    hand.tap("It is begun", mould=yard.mould["code"])
    assert api.get(f"/v1/parts/{part}")["mould"] == yard.mould["code"]
    assert "Ply 1 is next" in words(hand.page)
    assert part not in hand.open("/next")
    assert "ply 1 of 3" in words(hand.open(f"/I/{part}/ply"))
    assert "is Alder 10 resin" in hand.tap("It is laid", source=yard.bench.resin_can)
    hand.open(f"/I/{part}/ply")
    assert "how much was cut off" in hand.tap("It is laid", source=yard.roll)
    hand.tap("It is laid", source=yard.roll, length_mm="700")
    assert "ply 2 of 3" in words(hand.page)
    assert re.search(r"<span>45</span> °", hand.page)
    # Laid as it should not be: asked first, and recorded with its mark.
    assert "Ply 2 lies at 45°" in hand.tap("It is laid", source=yard.roll, length_mm="700", angle_deg="-30")
    hand.tap("Yes, record it so")
    laid = api.get(f"/v1/parts/{part}")
    assert [(ply["number"], ply["angle_deg"], ply["in_order"]) for ply in laid["plies"]] == [
        (1, 0, True),
        (2, -30, False),
    ]
    assert "ply-turned" in {flag["kind"] for flag in laid["flags"]}


def test_a_kit_is_cut_from_its_roll_labelled_and_laid_by_its_own_page(api: Any) -> None:
    yard = floor.founded(api)
    design, hand = yard.design(), hand_of(api)
    part = yard.part(design)
    hand.open(f"/I/{yard.roll}")
    hand.open(f"/I/{yard.roll}/cut")
    cut = {"cuts.0.length_mm": "1500", "cuts.0.waste_mm": "40"}
    hand.tap("The kit is cut", design=design, mass_g="420", **cut)
    kit = hand.at.split("/")[2]
    assert hand.at == f"/I/{kit}/labels"
    hand.tap("Make its label", size="62")
    assert "1, 2, 3" in words(hand.open(f"/I/{kit}"))
    hand.tap("All of it is laid", part=part, backers_counted="3")
    assert hand.at == f"/I/{part}"
    told = api.get(f"/v1/kits/{kit}")
    assert (told["state"], told["part"], told["cuts"][0]["waste_mm"]) == ("laid", part, 40)
    assert f"It is laid in {part}" in hand.open(f"/I/{kit}")
    hand.open(f"/I/{part}/kit")
    assert "is laid already" in hand.tap("All of it is laid", kit=kit)
    assert "All plies are laid" in hand.open(f"/I/{part}/ply")


def test_kits_and_plies_of_a_sheet_of_paper_are_entered_later_with_its_times(api: Any) -> None:
    yard = floor.founded(api)
    design, hand = yard.design(), hand_of(api)
    part = yard.part(design)
    yard.clock.forward(hours=3)
    hand.open("/paper")
    hand.tap("Enter a sheet now")
    # The shop's clock is an hour ahead of UTC in November: these are two hours and one hour ago there.
    at = {hours: f"{yard.clock.now + timedelta(hours=1 - hours):%Y-%m-%dT%H:%M}" for hours in (1, 2)}
    hand.open(f"/I/{yard.roll}/cut")
    hand.tap("The kit is cut", design=design, _at=at[2], **{"cuts.0.length_mm": "1500"})
    kit = hand.at.split("/")[2]
    hand.open(f"/I/{part}/ply")
    assert at[2] in hand.page, "the line before gives the time"
    hand.tap("It is laid", source=kit, _at=at[1])
    late = [e["operation"] for e in api.get("/v1/journal?late=true", who="quality")]
    assert {"cut_kit", "lay_ply"} <= set(late)
    assert api.get(f"/v1/parts/{part}")["plies"][0]["source"] == kit
