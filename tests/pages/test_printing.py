"""Labels from the pages: made, copied, replaced, by the lot, on A4 sheets; every printed code is read back."""

import re
from typing import Any

import pypdfium2
import pytest
import zxingcpp

from tests import makers
from tests.pages.hand import Hand, hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
_DPI = 203
_QR = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])


def printed_codes(hand: Hand, link: str) -> list[list[str]]:
    """What a reader finds on each page of a PDF at 203 dpi, from top to bottom and left to right."""
    answer = hand.client.get(link.replace("&amp;", "&"))
    assert answer.status_code == 200, answer.get_data(as_text=True)
    found = []
    for page in pypdfium2.PdfDocument(answer.get_data()):
        raster = page.render(scale=_DPI / 72, grayscale=True).to_pil()
        codes = zxingcpp.read_barcodes(raster, formats=_QR)
        codes.sort(key=lambda c: (round(c.position.top_left.y / 60), c.position.top_left.x))
        found.append([re.sub(r".*/I/([^/]+)/.*", r"\1", c.text) for c in codes])
    return found


def pdf_links(page: str) -> list[str]:
    return re.findall(r'href="(/v1/[^"]+\.pdf[^"]*)"', page)


def test_a_can_has_its_label_made_copied_and_replaced(api: Any) -> None:
    can, hand = makers.mixing(api).slow_can, hand_of(api)
    hand.open(f"/I/{can}/labels")
    hand.tap("Make its label", size="100x50")
    assert printed_codes(hand, pdf_links(hand.page)[0]) == [[can]]
    hand.tap("Replace it", size="62", why="resin ran over it")
    assert "Label 2 stands" in hand.page
    assert printed_codes(hand, pdf_links(hand.page)[0]) == [[can]]
    assert "is void" in hand.open(f"/I/{can}/1")
    hand.open(f"/I/{can}/labels")
    hand.tap("Use this sheet", sheet="2x7", start="5")
    assert printed_codes(hand, pdf_links(hand.page)[0]) == [[can]]
    api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="quality")
    hand.open(f"/I/{can}/labels")
    tag = next(link for link in pdf_links(hand.page) if "hold-tag" in link)
    assert printed_codes(hand, tag) == [[can]]


def test_a_delivery_is_labelled_by_fifties_and_on_sheets_that_were_begun(api: Any) -> None:
    makers.supplier(api)
    cloth = makers.fabric(api)
    lot = makers.lot(api, cloth, makers.place(api), makers_lot="W-1", no_expiry=True,
                     containers=[{"length_mm": 50_000, "count": 60}])  # fmt: skip
    hand = hand_of(api)
    hand.open(f"/I/{lot['code']}/labels")
    assert "0 of 60" in hand.page
    hand.tap("Make the next 50", size="50x25")
    assert "50 of 60" in hand.page
    hand.tap("Make the next 10", size="50x25")
    assert "60 of 60" in hand.page
    hand.tap("Use this sheet", sheet="3x8", start="20")
    links = pdf_links(hand.page)
    assert len(links) == 2
    sheets = [codes for link in links[1:] for codes in printed_codes(hand, link)]
    assert [len(codes) for codes in sheets] == [5, 5]
    assert [code for codes in sheets for code in codes] == lot["containers"][50:]


def test_a_badge_is_printed_like_any_label(api: Any) -> None:
    badge = api.post(f"/v1/people/{api.shop.people['laminator']}/badges", who="administrator")["code"]
    hand = hand_of(api)
    hand.open(f"/I/{badge}/labels")
    hand.tap("Make its label", size="50x25")
    assert printed_codes(hand, pdf_links(hand.page)[0]) == [[badge]]
