"""The weigh page, as a hand at the scales meets it."""

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests import makers
from tests.pages.scanner import scan

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


def test_after_a_refusal_the_amounts_can_still_be_tapped(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    held = makers.cans(api, mixing.resin, mixing.place, "26-3333")[0]
    api.post("/v1/holds", {"item": held, "reason": "cloudy"}, who="quality")
    tablet.open(f"/I/{held}/weigh?with={mixing.slow_can}")
    tablet.page.get_by_role("button", name="300 g").click()
    tablet.page.get_by_role("button", name="Start the pot").click()
    expect(tablet.page.get_by_role("alert")).to_contain_text("cloudy")
    tablet.page.get_by_role("button", name="200 g").first.click()
    expect(tablet.page.get_by_label("Resin and hardener together").first).to_have_value("200")


def test_a_cut_network_keeps_the_tap_and_sends_it_once(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    api.shop.clock.forward(minutes=1)  # what is kept is told of when it was tapped, which is after the start
    tablet.context.set_offline(True)
    enter(tablet, "200")
    expect(tablet.page.get_by_text("kept on this tablet")).to_be_visible()
    assert pours(api, pot) == []
    # Meanwhile the next number is worked out from what the server sent for each gram, and its reading waits as well.
    expect(tablet.page.locator(".moment")).to_have_text("60.0 g")
    expect(tablet.page.locator("#work")).to_contain_text("Worked out here")
    expect(tablet.page.locator("#work")).to_contain_text("Good from 58.9 to 61.1 g")
    expect(tablet.page.locator("#work")).to_contain_text("the scale will read 260.0 g")
    expect(tablet.page.locator("#waiting li")).to_contain_text(f"200 · {pot} · Laminator, just now")
    enter(tablet, "60,4")
    expect(tablet.page.locator("#waiting li")).to_have_count(2)
    assert pours(api, pot) == []
    tablet.context.set_offline(False)
    expect(tablet.page.locator("#page")).to_contain_text("Ratio is right")
    assert pours(api, pot) == [200, 60.4]


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
    expect(tablet.page.locator(".moment")).to_contain_text("59.7")
    tablet.page.get_by_text("The last reading was a slip").click()
    tablet.page.get_by_role("button", name="Nothing was poured").click()
    expect(tablet.page.locator(".moment")).to_contain_text("200")
    assert pours(api, pot) == [199]
    assert api.get(f"/v1/mixes/{pot}")["resin_g"] == 0


def test_a_small_pot_is_asked_about_on_the_page(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    tablet.open(f"/I/{mixing.slow_can}/weigh")
    tablet.page.get_by_label("Scan ").first.fill(mixing.resin_can)
    tablet.page.get_by_label("Resin and hardener together").first.fill("20")
    tablet.page.get_by_role("button", name="Start the pot").first.click()
    tablet.page.get_by_label("Why").first.fill("repair of the trailing edge")
    tablet.page.get_by_role("button", name="Enter it").first.click()
    expect(tablet.page.locator(".moment")).to_contain_text("15.4")


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("desk", "dark")], indirect=["size"])
def test_nobody_is_shut_out(tablet: Any, api: Any, scheme: str) -> None:
    """Each page that resin is on; `test_each_address_as_seen.py` goes through all of them."""
    tablet.page.emulate_media(color_scheme=scheme)
    mixing = makers.mixing(api)
    pot = start(tablet, mixing)
    for path in (
        f"/I/{mixing.slow_can}",
        f"/I/{mixing.slow_can}/weigh",
        f"/I/{pot}",
        "/scan",
        "/board",
        f"/I/{mixing.slow_can}/settle",
        "/enter",
    ):
        tablet.open(path)
        found = Axe().run(tablet.page, options={**AA, "resultTypes": ["violations"]})
        assert found.violations_count == 0, found.generate_report()


def test_an_implausible_figure_is_asked_for_again_by_a_field_and_a_button(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "20")
    alert = tablet.page.get_by_role("alert")
    expect(alert).to_contain_text("Read the scale once more")
    expect(alert).not_to_contain_text("_")
    assert pours(api, pot) == []
    alert.get_by_label("What it shows now").fill("20")
    alert.get_by_role("button", name="Enter it").click()
    expect(tablet.page.locator(".moment")).to_contain_text("6.0")
    assert pours(api, pot) == [20]


def test_a_slip_is_put_right_within_the_minute(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "210")
    expect(tablet.page.locator(".moment")).to_contain_text("63.0")
    tablet.page.get_by_text("The last reading was a slip").click()
    tablet.page.get_by_label("What it really was").fill("200")
    tablet.page.get_by_role("button", name="Put it right").click()
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    standing = [p["net_g"] for p in api.get(f"/v1/mixes/{pot}")["pours"] if not p["taken_back"]]
    assert standing == [200]


def test_an_overshoot_shows_the_correction_and_takes_it(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "200")
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    enter(tablet, "66")
    expect(tablet.page.locator("#page")).to_contain_text("Ratio is out")
    expect(tablet.page.locator(".notice .moment")).to_contain_text("20.0")
    enter(tablet, "20")
    expect(tablet.page.locator("#page")).to_contain_text("Ratio is right")
    assert pours(api, pot) == [200, 66, 20]


def test_a_wedge_scanner_goes_to_the_page_or_into_the_field(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    tablet.open("/board")
    scan(tablet.page, f"HTTP://POTMARK.SHOP/I/{mixing.slow_can}/1")
    expect(tablet.page.get_by_role("heading", name="Use it")).to_be_visible()
    tablet.open(f"/I/{mixing.slow_can}/weigh")
    scan(tablet.page, mixing.resin_can)
    expect(tablet.page.locator("#other-1")).to_have_value(mixing.resin_can)


def test_a_scan_that_stops_on_its_way_is_whole_and_a_hand_is_no_scanner(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    tablet.open(f"/I/{mixing.slow_can}/weigh")
    field, total = tablet.page.locator("#other-1"), tablet.page.get_by_label("Resin and hardener together").first
    total.fill("26")
    total.focus()
    scan(tablet.page, f"0HTTP://POTMARK.SHOP/I/{mixing.resin_can}/1", stops={1: 0.9, 2: 0.6})
    expect(field).to_have_value(mixing.resin_can)
    expect(total).to_have_value("260")
    field.fill("")
    scan(tablet.page, mixing.resin_can, stops={1: 0.4, 7: 0.4})
    expect(field).to_have_value(mixing.resin_can)
    expect(total).to_have_value("260")
    field.fill("")
    second = tablet.page.get_by_label("A second can").first
    tablet.page.get_by_text("For a part, a second can").first.click()
    total.fill("")
    second.focus()
    scan(tablet.page, mixing.resin_can, stops=dict.fromkeys(range(8), 0.15))
    expect(second).to_have_value(mixing.resin_can)
    expect(field).to_have_value("")


def test_a_page_that_missed_the_first_keys_takes_a_code_that_is_proven(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    tablet.open("/board")
    scan(tablet.page, f"TP://POTMARK.SHOP/I/{mixing.slow_can}/1")
    expect(tablet.page.get_by_role("heading", name="Use it")).to_be_visible()
    tablet.open("/board")
    scan(tablet.page, f"TP://ELSEWHERE.SHOP/I/{mixing.slow_can}/1")
    expect(tablet.page.get_by_role("alert")).to_contain_text("not a code of this shop")


def test_a_held_can_stops_there_and_says_what_to_take_instead(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    api.post("/v1/holds", {"item": mixing.slow_can, "reason": "cloudy"}, who="quality")
    tablet.open(f"/I/{mixing.slow_can}")
    expect(tablet.page.get_by_role("heading", name="Leave it")).to_be_visible()
    expect(tablet.page.get_by_role("heading", name="Take instead")).to_be_visible()
    expect(tablet.page.get_by_role("link", name="Weigh a pot with this")).to_have_count(0)


def test_a_pot_without_a_temperature_asks_for_it_and_then_shows_its_clock(tablet: Any, api: Any) -> None:
    pot = start(tablet, makers.mixing(api))
    enter(tablet, "200")
    expect(tablet.page.locator(".moment")).to_contain_text("60.0")
    enter(tablet, "60")
    tablet.page.get_by_role("link", name="Give its temperature").click()
    tablet.page.get_by_label("In °C").fill("21,5")
    tablet.page.get_by_role("button", name="Enter it").click()
    expect(tablet.page.locator(".clock .moment")).to_contain_text(":")
    assert api.get(f"/v1/mixes/{pot}")["clock"]["temperature_c"] == 21.5


def test_two_tablets_at_one_can_are_told_who_has_what(new_tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    small = makers.cans(api, mixing.resin, mixing.place, "26-2222", net_g=250)[0]
    first, second = new_tablet(), new_tablet()
    for tablet, who in ((first, "laminator"), (second, "lead")):
        tablet.sign_on(api.shop.keys[who], after=f"/I/{mixing.slow_can}/weigh")
        tablet.page.get_by_label("Scan ").first.fill(small)
        tablet.page.get_by_label("Resin and hardener together").first.fill("260")
    first.page.get_by_role("button", name="Start the pot").first.click()
    expect(first.page.locator(".moment")).to_contain_text("200")
    second.page.get_by_role("button", name="Start the pot").first.click()
    expect(second.page.get_by_role("alert")).to_contain_text("50 g of resin is left that nobody has reserved")
    expect(second.page.get_by_role("alert")).to_contain_text(mixing.resin_can)
    second.page.get_by_label("Resin and hardener together").first.fill("65")
    second.page.get_by_role("button", name="Start the pot").first.click()
    expect(second.page.locator(".moment")).to_contain_text("50.0")


def test_a_can_scanned_in_mid_weighing_is_looked_at_before_it_is_poured_from(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    start(tablet, mixing)
    scan(tablet.page, mixing.resin_can)
    expect(tablet.page.get_by_text("This is the right can.")).to_be_visible()
    scan(tablet.page, mixing.fast_can)
    expect(tablet.page.get_by_role("heading", name="Leave it")).to_be_visible()
    tablet.page.get_by_role("link", name="Back to the pot").first.click()
    expect(tablet.page.locator(".moment")).to_contain_text("200")
