"""Nobody is shut out of any address: axe on every page, on a phone and at a desk, light and dark. Minutes long, hence a
command of its own: `.venv/bin/python -m pytest tests/pages/sweep_every_address.py`.
"""

import re
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.pages.test_every_address import a_days_work, addresses
from tests.pages.test_weigh_page import AA

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_nobody_is_shut_out_of_any_address(new_tablet: Any, api: Any) -> None:
    """By turns light and dark, on a phone and at a desk; nothing is wider than the window."""
    codes = a_days_work(api)
    tablet = new_tablet()
    tablet.sign_on(api.shop.keys["quality"])
    axe = Axe()
    once = {path for path in addresses(api, codes) if not re.search(r"/I/[BKAS]\w+/(labels|settle|hold)$", path)}
    for turn, path in enumerate(sorted(once)):
        tablet.page.emulate_media(color_scheme="dark" if turn % 2 else "light")
        tablet.page.set_viewport_size({"width": 1280, "height": 800} if turn % 4 > 1 else {"width": 390, "height": 844})
        tablet.open(path)
        tablet.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        found = axe.run(tablet.page, options={**AA, "resultTypes": ["violations"]})
        assert found.violations_count == 0, (path, found.generate_report())
        assert tablet.page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, path
        small = tablet.page.evaluate(
            "[...document.querySelectorAll('.button, button, input:not([type=hidden]), select')]"
            ".filter(e => e.offsetParent && !e.closest('label') && e.getBoundingClientRect().height < 48)"
            ".map(e => e.outerHTML.slice(0, 90))"
        )
        assert small == [], path
