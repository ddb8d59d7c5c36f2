"""The stir page: what was ticked is entered, and minutes that do not count are told before and after."""

import re
from pathlib import Path
from typing import Any

import pytest

from service import pages
from tests import makers
from tests.pages.hand import hand_of

on_sqlite = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
_TEMPLATES = Path(pages.__file__).parent / "templates"


def _poured(mixing: makers.Mixing) -> str:
    pot: str = mixing.start(260)["code"]
    mixing.pour(pot, mixing.resin_can, 200)
    mixing.pour(pot, mixing.slow_can, 60)
    return pot


@on_sqlite
@pytest.mark.parametrize("ticked", [True, False])
def test_sides_and_base_are_scraped_as_it_was_ticked(api: Any, ticked: bool) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    pot = _poured(mixing)
    api.shop.clock.forward(minutes=4)
    hand.open(f"/I/{pot}/stir")
    hand.tap("It is stirred", minutes="3", **({"scraped": "true"} if ticked else {}))
    told = api.get(f"/v1/mixes/{pot}")["stirring"]
    assert (told["scraped"], told["enough"]) == (ticked, ticked)


def test_no_hidden_field_answers_after_the_box_that_was_ticked() -> None:
    """The last of one name counts, so what an unticked box means stands before it."""
    for template in _TEMPLATES.rglob("*.html"):
        for form in re.split(r"{% endcall %}|</form>", template.read_text("utf-8")):
            for box in re.finditer(r'type="checkbox" name="([^"]+)"', form):
                after = f'type="hidden" name="{box[1]}"'
                assert after not in form[box.end() :], (template.name, box[1])


@on_sqlite
def test_minutes_before_the_last_pour_are_told_not_to_count(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    pot = _poured(mixing)
    api.shop.clock.forward(seconds=18)
    assert "counts from the last pour, 0 min ago" in hand.open(f"/I/{pot}/stir")
    hand.tap("It is stirred", minutes="2.5", scraped="true")
    assert "Of the 2.5 min told, only 0.3 min since the last pour count. Stir it again." in hand.page
    api.shop.clock.forward(minutes=3)
    hand.open(f"/I/{pot}/stir")
    hand.tap("It is stirred", minutes="2.5", scraped="true")
    assert "since the last pour count" not in hand.page
    # A pour after it, as to put the ratio right, is no cut of what was told before it.
    mixing.pour(pot, mixing.resin_can, 10, correction=True)
    assert "since the last pour count" not in hand.open(f"/I/{pot}")
