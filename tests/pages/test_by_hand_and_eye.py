"""A pot from scan to close without a keyboard, and by somebody new with a phone and the printed labels alone."""

import io
import re
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest
from PIL import Image, ImageFilter
from playwright.sync_api import expect

from service.pages import signed
from tests import makers
from tests.pages.scanner import scan

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.fixture
def shop_network() -> str:
    """Badges open the pages in the shop's own network alone."""
    return "127.0.0.0/8"


def badge_of(api: Any, who: str) -> str:
    return str(api.post(f"/v1/people/{api.shop.people[who]}/badges", who="administrator")["code"])


def test_a_pot_goes_from_scan_to_close_by_taps_and_a_scanner_alone(new_tablet: Any, api: Any) -> None:
    """No field is typed in: badge, cans and part are scanned, the amount is tapped, the scale sends its readings."""
    mixing, part = makers.mixing(api), makers.started_part(api)
    tablet = new_tablet()
    page = tablet.page

    def shows(grams: float) -> None:
        api.post(f"/v1/scales/{mixing.scale}/readings", {"line": f"ST,GS,+  {grams} g"})
        expect(page.get_by_label("What the scale shows")).to_have_value(str(grams))
        page.get_by_role("button", name="Enter the reading").click()

    api.post(f"/v1/scales/{mixing.scale}/readings", {"line": "ST,GS,+  12.5 g"})
    tablet.open("/enter?next=/scan")
    scan(page, badge_of(api, "laminator"))
    expect(page.get_by_role("heading", name="Scan or type a code")).to_be_visible()
    scan(page, f"HTTP://POTMARK.SHOP/I/{mixing.resin_can}/1")
    page.get_by_role("link", name="Weigh a pot with this").click()
    # The resin goes with two hardeners: the can that is scanned next says with which.
    expect(page.get_by_role("button", name="Start the pot")).to_have_count(2)
    scan(page, mixing.slow_can)
    expect(page.get_by_role("button", name="Start the pot")).to_have_count(1)
    expect(page.get_by_label("Scan Alder 32 slow hardener", exact=True)).to_have_value(mixing.slow_can)
    page.get_by_role("button", name="300 g").click()
    page.get_by_role("button", name="Start the pot").click()
    expect(page.locator(".moment")).to_contain_text("230.8")
    pot = page.url.rsplit("/", 1)[1]
    shows(230.8)
    expect(page.locator(".moment")).to_contain_text("69.2")
    shows(69.2)
    expect(page.locator("#page")).to_contain_text("Ratio is right")
    page.get_by_role("link", name="Put it on a part").click()
    expect(page.get_by_label("Scan the part", exact=True)).to_be_visible()
    scan(page, part)
    expect(page.get_by_label("Scan the part", exact=True)).to_have_value(part)
    page.get_by_role("button", name="It went on this part").click()
    # Nobody has said that it was stirred, so it is asked about first.
    page.get_by_role("button", name="Yes, record it so").click()
    page.get_by_role("link", name="Close the pot").click()
    page.get_by_role("button", name="All of it was used").click()
    expect(page.locator("#page")).to_contain_text(f"on {part}")
    told = api.get(f"/v1/mixes/{pot}")
    assert (told["state"], [p["source"] for p in told["pours"]]) == ("closed", ["captured", "captured"])


def photographed(api: Any, code: str, turned: float) -> dict[str, Any]:
    """The label as it is printed, lying turned on a bench, and not quite sharp: a file as a phone gives it."""
    api.post(f"/v1/items/{code}/labels", {"size": "100x50"})
    pdf = api.call("GET", f"/v1/items/{code}/labels/1.pdf").get_data()
    label = pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72, grayscale=True).to_pil()
    bench = Image.new("L", (1600, 1200), 120)
    bench.paste(label.rotate(turned, expand=True, fillcolor=120), (120, 90))
    out = io.BytesIO()
    bench.filter(ImageFilter.GaussianBlur(1)).save(out, "JPEG", quality=80)
    return {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def test_somebody_new_with_a_phone_and_the_printed_labels_weighs_a_pot_right(new_tablet: Any, api: Any) -> None:
    """Stopped from the old can, led to what fits, and an overshoot corrected; labels are seen by the camera alone."""
    mixing = makers.mixing(api)
    old = makers.cans(api, mixing.resin, mixing.place, "R-0", expires_on="2026-11-01")[0]
    tablet = new_tablet()
    page = tablet.page
    tablet.open("/scan")
    # The phone's own camera opens the badge's address, and who was asked goes on where that was.
    tablet.open(f"/I/{badge_of(api, 'laminator')}/1")
    page.get_by_role("button", name="This is me").click()
    page.get_by_role("link", name="Scan a label").click()
    page.get_by_label("Take a photo of the label").set_input_files(photographed(api, old, 14))
    expect(page.get_by_role("heading", name="Leave it")).to_be_visible()
    expect(page.get_by_role("heading", name="Take instead")).to_be_visible()
    expect(page.get_by_role("link", name="Weigh a pot with this")).to_have_count(0)
    page.get_by_role("link", name="Scan another").click()
    page.get_by_label("Take a photo of the label").set_input_files(photographed(api, mixing.resin_can, -20))
    page.get_by_role("link", name="Weigh a pot with this").click()
    photos = page.get_by_label(re.compile("^Photo: Scan"))
    photos.first.set_input_files(photographed(api, mixing.scale, 3))
    expect(page.get_by_role("alert")).to_contain_text("is a scale. Scan a can.")
    photos.first.set_input_files(photographed(api, mixing.fast_can, 8))
    expect(page.get_by_label("Scan Alder 31 fast hardener", exact=True)).to_have_value(mixing.fast_can)
    # Instead, the slow hardener is scanned with the phone's camera: its page leads back to this pot.
    api.post(f"/v1/items/{mixing.slow_can}/labels", {"size": "100x50"})
    tablet.open(f"/I/{mixing.slow_can}/1")
    page.get_by_role("link", name="Weigh it with").click()
    expect(page.get_by_label("Scan Alder 32 slow hardener", exact=True)).to_have_value(mixing.slow_can)
    page.get_by_role("button", name="300 g").click()
    page.get_by_role("button", name="Start the pot").click()
    for reading in ("230.8", "75"):
        page.get_by_label("What the scale shows").first.fill(reading)
        page.get_by_role("button", name="Enter the reading").first.click()
        expect(page.locator(".moment").first).not_to_contain_text("230.8")
    expect(page.locator("#page")).to_contain_text("Ratio is out")
    more = page.locator(".notice .moment span").inner_text()
    page.get_by_label("What the scale shows").first.fill(more)
    page.get_by_role("button", name="Enter the reading").first.click()
    expect(page.locator("#page")).to_contain_text("Ratio is right")


def test_a_tablet_that_nobody_touches_asks_for_the_secret_again(
    new_tablet: Any, api: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The two minutes of the lock, made two seconds; a page that renews itself does not prolong them."""
    monkeypatch.setattr(signed, "IDLE", timedelta(seconds=2))
    mixing = makers.mixing(api)
    for can in (mixing.slow_can, mixing.resin_can):
        api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="lead")
    tablet = new_tablet()
    page = tablet.page
    tablet.sign_on(api.shop.keys["quality"], after=f"/I/{mixing.slow_can}/settle")
    page.get_by_text("Lift it").click()
    page.get_by_label("What was found, so").fill("clear when warmed")
    page.get_by_label("Your PIN or passphrase").fill(api.shop.secrets["quality"])
    page.get_by_role("button", name="Lift the hold").click()
    expect(page.get_by_text("signs here")).to_be_visible()
    renewing = "fetch('/board', {headers: {'Potmark-By-Itself': '1'}})"
    for _ in range(4):
        page.evaluate(renewing)
        page.wait_for_timeout(600)
    tablet.open(f"/I/{mixing.resin_can}/settle")
    expect(page.get_by_text("signs here")).to_have_count(0)
    page.get_by_text("Lift it").click()
    expect(page.get_by_label("Your PIN or passphrase")).to_be_visible()
