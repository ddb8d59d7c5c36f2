"""The next number while the network is away is the one that the service says, in its limits and in its halves."""

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from tests import makers

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)

CONFIRMED = {"confirmed": True, "why": "a repair"}
FORGET = """() => new Promise((done) => {
  const ask = indexedDB.open("potmark", 1);
  ask.onsuccess = () => {
    const move = ask.result.transaction("waiting", "readwrite");
    move.objectStore("waiting").clear();
    move.oncomplete = () => done();
  };
})"""


def figures(page: Any) -> list[str]:
    """Every line with a figure of the number to be poured, as it is read."""
    lines = page.locator("#work .moment, #work .now.soft, #work .row").all_inner_texts()
    return [re.sub(r"\s+", " ", line).strip() for line in lines if re.search(r"\d g| g\b", line)][:3]


def resin_then_hardener(tablet: Any, mixing: makers.Mixing, reading: str, **started: Any) -> tuple[Any, Any]:
    """The hardener's figures of one pot, as the page works them out by itself and as the service says them."""
    pot, page = mixing.start(**started)["code"], tablet.page
    tablet.open(f"/I/{pot}")
    tablet.context.set_offline(True)
    page.get_by_label("What the scale shows").first.fill(reading)
    page.get_by_role("button", name="Enter the reading").first.click()
    expect(page.locator("#work")).to_contain_text("Worked out here")
    away = figures(page)
    page.evaluate(FORGET)
    tablet.context.set_offline(False)
    mixing.pour(pot, mixing.resin_can, float(reading), scale=started.get("scale", mixing.scale))
    tablet.open(f"/I/{pot}")
    return away, [line for line in figures(page) if "resin" not in line]


def test_the_number_without_a_network_is_the_number_with_it(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    fine = makers.scale(api, "Fine scale", interval_g=0.01)
    coarse = makers.scale(api, "Floor scale", interval_g=1)
    cases = [
        ("230.8", {"total_g": 300}, "Good from 68.0 to 70.5 g"),
        ("46", {"total_g": 60}, "Good from 13.7 to 13.9 g"),
        # 4.65 g is half way between two steps, and the tolerance of 4.557 to 4.743 g ends between steps.
        ("15.5", {"total_g": 20, **CONFIRMED}, "In tolerance from 4.6 to 4.7 g; this scale cannot prove it"),
        ("15.4", {"total_g": 20, **CONFIRMED}, "In tolerance from 4.6 to 4.7 g; this scale cannot prove it"),
        ("15", {"total_g": 20, "scale": coarse, **CONFIRMED}, "In tolerance from 4.410 to 4.590 g"),
        ("76.93", {"total_g": 100, "scale": fine}, "Good from 22.63 to 23.53 g"),
        ("769.3", {"total_g": 1000, "zeroed": False}, "Good from 226.3 to 235.3 g"),
    ]
    for reading, started, limits in cases:
        away, back = resin_then_hardener(tablet, mixing, reading, **started)
        assert away == back, (reading, started)
        assert limits in away[-1], (reading, started)
