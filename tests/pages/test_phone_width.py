"""On a phone nothing is cut off at the right: neither a guide's requests nor the name of who is signed on."""

from typing import Any

import pytest

from service.pages.guides import GUIDES

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)

CUT = "(found) => found.filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.textContent.slice(0, 60))"
NAME = "#page > .top nav a:last-of-type span"


def test_every_request_of_the_guides_is_seen_whole(tablet: Any) -> None:
    seen = 0
    for guide in GUIDES:
        tablet.open(f"/guide/{guide}")
        seen += tablet.page.locator("pre").count()
        assert tablet.page.locator("pre").evaluate_all(CUT) == [], guide
    assert seen > 20


def test_the_name_of_who_is_signed_on_is_seen_whole_beside_what_else_is_there(tablet: Any) -> None:
    for path in ("/evening", "/morning", "/recalls", "/board", "/scan"):
        tablet.open(path)
        tablet.page.locator(NAME).evaluate("(e) => { e.textContent = 'Sunniva Dahlgren'; }")
        assert tablet.page.locator(NAME).evaluate_all(CUT) == [], path
        assert tablet.page.locator(NAME).evaluate("(e) => e.scrollHeight <= e.clientHeight + 1"), path
        assert tablet.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
