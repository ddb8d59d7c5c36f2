"""Whoever leaves a page while it sends has cut that off themselves: no lost network is told; it is done once."""

from typing import Any

import pytest
from playwright.sync_api import expect

from tests import makers

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_a_tap_that_was_under_way_is_still_being_sent(tablet: Any, api: Any) -> None:
    mixing = makers.mixing(api)
    pot = mixing.start(300)["code"]
    api.shop.clock.forward(minutes=1)
    page = tablet.page
    held: list[Any] = []
    page.route(f"**/{pot}/pours", lambda route: held.append(route))
    tablet.open(f"/I/{pot}")
    page.get_by_label("What the scale shows").first.fill("230.8")
    page.get_by_role("button", name="Enter the reading").first.click(no_wait_after=True)
    page.wait_for_timeout(300)
    assert len(held) == 1
    tablet.open("/recalls")
    waiting = page.locator("#waiting")
    expect(waiting).to_contain_text("Your last entry is still being sent. Do not enter it again.")
    assert "No network" not in waiting.inner_text()
    # If it then does not get through, that is said as before.
    tablet.context.set_offline(True)
    expect(waiting).to_contain_text("No network. Your last entry is kept on this tablet")
    page.unroute(f"**/{pot}/pours")
    tablet.context.set_offline(False)
    expect(waiting).to_be_hidden()
    assert [p["net_g"] for p in api.get(f"/v1/mixes/{pot}")["pours"]] == [230.8]
