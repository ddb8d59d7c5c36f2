"""Draws the README's pictures of pages: a phone's window and a wall's, on the demo workshop that is being served.

Called by deploy/draw-pictures with what `deploy/try --json` printed. It starts a pot in the invented workshop.
"""

import json
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

PICTURES = Path(__file__).with_name("pictures")
PHONE, WALL = {"width": 390, "height": 844}, {"width": 1280, "height": 800}


def main(told: dict[str, object]) -> None:
    links, badges = told["links"], told["badges"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        phone = browser.new_context(viewport=PHONE, device_scale_factor=2).new_page()
        phone.set_default_timeout(20_000)
        phone.goto(f"{told['address']}/enter")
        phone.get_by_label("Code on the badge").fill(badges["laminator"])
        phone.get_by_role("button", name="This is me").click()
        phone.goto(links["expired_container_page"])
        phone.screenshot(path=PICTURES / "container-refused.png")
        _to_the_second_number(phone, links["weigh_page"])
        phone.screenshot(path=PICTURES / "weigh.png")
        wall = browser.new_context(viewport=WALL).new_page()
        wall.goto(links["board_page"])
        wall.screenshot(path=PICTURES / "board.png")
        browser.close()


def _to_the_second_number(page: Page, weigh_page: str) -> None:
    """A pot started and its first component in; the second one half poured."""
    page.goto(weigh_page)
    other = page.get_by_label("Scan ").first
    said = page.locator(f"label[for='{other.get_attribute('id')}']").inner_text().removeprefix("Scan ")
    other.fill(_fit_can(page, said))
    page.get_by_label("Resin and hardener together").first.fill("260")
    page.get_by_role("button", name="Start the pot").first.click()
    page.locator(".moment span").first.wait_for()
    first = page.locator(".moment span").first.inner_text()
    page.get_by_label("What the scale shows").first.fill(first)
    page.get_by_role("button", name="Enter the reading").first.click()
    page.locator(".steps .done").wait_for()
    target = float(page.locator(".moment span").first.inner_text())
    page.get_by_label("What the scale shows").first.fill(f"{target * 0.8:.1f}")


def _fit_can(page: Page, material: str) -> str:
    """A can of that material in which enough is left, found as a program would."""
    answer = page.request.get(f"{page.url.split('/I/')[0]}/v1/containers?state=open&limit=200")
    cans = [one for one in answer.json() if one["name"] == material and one["fitness"]["answer"] == "fit"]
    return str(max(cans, key=lambda one: one["left_g"])["code"])


if __name__ == "__main__":
    main(json.loads(Path(sys.argv[1]).read_text("utf-8")))
