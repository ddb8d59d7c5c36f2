"""The weigh page, as a hand at the scales meets it."""

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests import makers

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
AA = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


def start(tablet: Any, mixing: Any) -> str:
    tablet.open(f"/I/{mixing.slow_can}")
    tablet.page.get_by_role("link", name="Weigh a pot with this").click()
    tablet.page.get_by_label("Scan ").first.fill(mixing.resin_can)
    tablet.page.get_by_label("Resin and hardener together").first.fill("260")
    tablet.page.get_by_role("button", name="Start the pot").first.click()
    expect(tablet.page.locator(".moment")).to_contain_text("200")
    return str(tablet.page.url.rsplit("/", 1)[1])


def enter(tablet: Any, figure: str) -> None:
    tablet.page.get_by_label("What the scale shows").first.fill(figure)
    tablet.page.get_by_role("button", name="Enter the reading").first.click()


def pours(api: Any, pot: str) -> list[float]:
    return [p["net_g"] for p in api.get(f"/v1/mixes/{pot}")["pours"]]


def test_a_pot_is_weighed_by_taps(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "200,0")
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    tablet.page.reload()
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    enter(tablet, "60")
    expect(tablet.page.locator("#page")).to_contain_text("Ratio is right")
    assert pours(api, pot) == [200, 60]


def test_a_cut_network_keeps_the_tap_and_sends_it_once(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    tablet.context.set_offline(True)
    enter(tablet, "200")
    expect(tablet.page.get_by_text("kept on this tablet")).to_be_visible()
    assert pours(api, pot) == []
    tablet.context.set_offline(False)
    expect(tablet.page.locator(".moment")).to_contain_text("60.0", timeout=9_000)
    assert pours(api, pot) == [200]


def test_a_triple_tap_is_one_pour(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    tablet.page.get_by_label("What the scale shows").first.fill("200")
    tablet.page.evaluate(
        "() => { const b = [...document.querySelectorAll('button')].find(b => b.textContent.includes('Enter'));"
        " b.click(); b.click(); b.click(); }"
    )
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    assert pours(api, pot) == [200]


def test_a_slip_is_taken_back_by_a_tap(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "199")
    tablet.page.get_by_role("button", name="I mistyped the last pour").click()
    expect(tablet.page.locator(".moment")).to_contain_text("200")
    assert pours(api, pot) == [199]
    assert api.get(f"/v1/mixes/{pot}")["resin_g"] == 0


def test_a_small_pot_is_asked_about_on_the_page(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    tablet.open(f"/I/{mixing.slow_can}/weigh")
    tablet.page.get_by_label("Scan ").first.fill(mixing.resin_can)
    tablet.page.get_by_label("Resin and hardener together").first.fill("20")
    tablet.page.get_by_role("button", name="Start the pot").first.click()
    tablet.page.get_by_label("Why, if a reason").first.fill("repair of the trailing edge")
    tablet.page.get_by_role("button", name="Start it, and ask for a permit").first.click()
    expect(tablet.page.locator(".moment")).to_contain_text("15.4")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"], indirect=True)
def test_nobody_is_shut_out(tablet: Any, api: Any, scheme: str) -> None:
    tablet.page.emulate_media(color_scheme=scheme)
    mixing = makers.mixing(api)
    pot = start(tablet, mixing)
    for path in (f"/I/{mixing.slow_can}", f"/I/{mixing.slow_can}/weigh", f"/I/{pot}", "/scan", "/board"):
        tablet.open(path)
        found = Axe().run(tablet.page, options={**AA, "resultTypes": ["violations"]})
        assert found.violations_count == 0, found.generate_report()
