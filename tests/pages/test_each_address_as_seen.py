"""Each address as it is seen: on a phone and at a desk, light and dark, as it is and with the longest names.

Minutes long, hence a sweep: `deploy/check --sweeps`, or pytest with this file's name.
With POTMARK_LOOK=folder it leaves a picture of each.
"""

import os
import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.pages.conftest import SIZES
from tests.pages.test_every_address import a_days_work, addresses
from tests.pages.test_weigh_page import AA

pytestmark = [pytest.mark.sweep, pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)]

# As many characters as a material's name takes, in words that do not break by themselves.
_LONG = "Glasfaserverstärkungskunststoffharzsystemkomponentenverwechslungsgefahrenhinweis"
_NAMES = (
    "Alder 10 resin", "Alder 31 fast hardener", "Alder 32 slow hardener", "Alder 10", "Rudder half", "Bench scale",
    "Laminator", "Quality", "Lead", "cloudy", "SO-1", "HY-205",
)  # fmt: skip
_LENGTHEN = """([names, long]) => {
  const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT);
  for (let node; (node = walk.nextNode());)
    for (const name of names) if (node.data.includes(name)) { node.data = node.data.replaceAll(name, long); break; }
}"""
# What no page may have, each with where it is found: wider than the window, too small to hit, to read, or cut off.
_WRONG = """() => {
  const seen = [...document.querySelectorAll('#page *')].filter((e) => e.offsetParent && !e.closest('.unseen'));
  const told = (e) => e.outerHTML.slice(0, 90), size = (e) => parseFloat(getComputedStyle(e).fontSize);
  const text = (e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
  const high = (e) => (e.closest('label') ?? e).getBoundingClientRect().height;
  const tapped = seen.filter((e) => e.matches('.button, button, input:not([type=hidden]), select, textarea'));
  return {
    'wider than the window': [document.documentElement.scrollWidth].filter((wide) => wide > innerWidth),
    'lower than 48 px': tapped.filter((e) => high(e) < 48).map(told),
    'primary and lower than 64 px': tapped.filter((e) => e.matches('.primary') && high(e) < 64).map(told),
    'text under 16 px': seen.filter((e) => text(e) && !e.closest('svg') && size(e) < 16).map(told),
    'the number under 64 px': seen.filter((e) => e.matches('.moment > span') && size(e) < 64).map(told),
    'cut off': seen.filter((e) => text(e) && !e.closest('nav') && !e.matches('select, option, pre')
      && getComputedStyle(e).overflowX !== 'visible' && e.scrollWidth > e.clientWidth + 1).map(told),
  };
}"""


def _wrong(page: Any) -> dict[str, list[Any]]:
    return {what: where for what, where in page.evaluate(_WRONG).items() if where}


def _left(page: Any, name: str) -> None:
    if folder := os.environ.get("POTMARK_LOOK"):
        page.screenshot(path=Path(folder) / f"{re.sub(r'[^A-Za-z0-9]+', '-', name)}.png", full_page=True)


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_nobody_is_shut_out_of_any_address_at_either_size_light_or_dark(new_tablet: Any, api: Any) -> None:
    """axe finds nothing, nothing is wider than the window, small or cut off; nor with the longest names."""
    codes = a_days_work(api)
    left = []
    for who in ("quality", "lead"):
        tablet = new_tablet()
        tablet.sign_on(api.shop.keys[who])
        page, axe = tablet.page, Axe()
        for path in sorted(addresses(api, codes)):
            if ("/cost" in path) != (who == "lead"):
                continue
            tablet.open(path)
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            for size, scheme in [(size, scheme) for size in SIZES for scheme in ("light", "dark")]:
                page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
                page.emulate_media(color_scheme=scheme)
                _left(page, f"{path} {size} {scheme}")
                found = axe.run(page, options={**AA, "resultTypes": ["violations"]})
                if found.violations_count:
                    left.append((path, size, scheme, found.generate_report()))
                if scheme == "light":
                    left += [(path, size, wrong) for wrong in _wrong(page).items()]
            page.evaluate(_LENGTHEN, [_NAMES, _LONG])
            for size in SIZES:
                page.set_viewport_size({"width": SIZES[size][0], "height": SIZES[size][1]})
                _left(page, f"{path} {size} long")
                left += [(path, size, "long names", wrong) for wrong in _wrong(page).items()]
    assert not left, "\n".join(map(str, left))
