"""Labels over HTTP: a POST issues, a GET redraws the same, replacing voids, and the printed code leads back."""

from typing import Any

import pypdfium2
import pytest

from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def can(api: Any) -> str:
    makers.supplier(api)
    where = makers.place(api)
    hardener = makers.material(
        api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"], opened_life_days=180
    )
    return makers.cans(api, hardener, where, "26-0914", count=4)[1]


def _decoded(pdf: bytes, number: int = 0) -> list[str]:
    """Every code on a page, from a raster of 203 dpi."""
    import pypdfium2
    import zxingcpp

    page = pypdfium2.PdfDocument(pdf)[number]
    image = page.render(scale=203 / 72, grayscale=True).to_pil()
    return [found.text for found in zxingcpp.read_barcodes(image)]


def test_a_label_is_issued_once_and_redrawn_the_same(api: Any, can: str) -> None:
    label = api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    assert label["issue"] == 1
    one, two = (api.call("GET", label["pdf"]).get_data() for _ in range(2))
    assert one == two
    assert _decoded(one) == [f"HTTP://127.0.0.1:8000/I/{can}/1"]
    api.refused(f"/v1/items/{can}/labels", {"size": "100x50"}, "wrong-state")


def test_replacing_voids_the_old_one_and_scanning_it_says_so(api: Any, can: str) -> None:
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    api.refused(f"/v1/items/{can}/labels/replacement", {"size": "62"}, "invalid", status=422)
    new = api.post(f"/v1/items/{can}/labels/replacement", {"size": "62", "why": "resin ran over it"})
    assert _decoded(api.call("GET", new["pdf"]).get_data()) == [f"HTTP://127.0.0.1:8000/I/{can}/2"]
    assert api.call("GET", f"/v1/items/{can}/labels/1.pdf").status_code == 409
    page = api.client.get(f"/I/{can}/1", headers={"Accept": "text/html"})
    assert page.status_code == 200
    assert "void" in page.get_data(as_text=True)
    assert "void" not in api.client.get(f"/I/{can}/2", headers={"Accept": "text/html"}).get_data(as_text=True)


def test_the_short_address_shows_no_more_than_the_label(api: Any, can: str) -> None:
    assert api.client.get(f"/I/{can}").status_code == 404
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    shown = api.client.get(f"/I/{can}", headers={"Accept": "application/json"}).get_json()
    assert shown["facts"]["lot"] == "26-0914"
    assert not {"left_g", "balance", "holds", "supplier"} & (shown.keys() | shown["facts"].keys())


def test_a_chemical_does_not_go_onto_a_label_that_cannot_carry_its_statements(api: Any, can: str) -> None:
    problem = api.refused(f"/v1/items/{can}/labels", {"size": "50x25"}, "label-too-small", status=422)
    assert "larger" in problem["way_out"]


def test_an_opened_cans_address_says_the_day_that_counts(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/opening")
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    shown = api.client.get(f"/I/{can}", headers={"Accept": "application/json"}).get_json()
    assert shown["use_by"] == api.get(f"/v1/containers/{can}")["good_until"] == "2027-05-02"
    assert "use by 2 May 2027" in api.client.get(f"/I/{can}", headers={"Accept": "text/html"}).get_data(as_text=True)


def test_a_deliverys_labels_come_as_one_roll(api: Any, can: str) -> None:
    lot = api.get(f"/v1/containers/{can}")["lot"]
    assert api.call("GET", f"/v1/lots/{lot}/labels.pdf").status_code == 404
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    issued = api.post(f"/v1/lots/{lot}/labels", {"size": "100x50"})
    assert len(issued) == 3
    assert can not in {label["code"] for label in issued}
    api.refused(f"/v1/lots/{lot}/labels", {"size": "100x50"}, "wrong-state")
    roll = api.call("GET", f"/v1/lots/{lot}/labels.pdf").get_data()
    assert [_decoded(roll, page)[0][-9:-2] for page in range(4)] == api.get(f"/v1/lots/{lot}")["containers"]


def test_red_frames_are_left_to_the_stock_that_has_them(api: Any, can: str) -> None:
    pdf = api.post(f"/v1/items/{can}/labels", {"size": "100x50"})["pdf"]
    black, red = (api.call("GET", f"{pdf}?frame={frame}").get_data() for frame in ("black", "red"))
    assert black != red
    assert api.call("GET", f"{pdf}?frame=blue").status_code == 422


def test_a_first_cell_that_no_sheet_has_is_refused_with_a_sheet_and_without(api: Any, can: str) -> None:
    pdf = api.post(f"/v1/items/{can}/labels", {"size": "100x50"})["pdf"]
    for asked, cells in (("start=25", 24), ("start=0", 24), ("start=x", 24), ("sheet=2x7&start=15", 14)):
        refused = api.call("GET", f"{pdf}?{asked}")
        assert refused.status_code == 422, asked
        assert f"1 to {cells}" in refused.get_data(as_text=True)
    assert api.call("GET", f"{pdf}?start=24").status_code == 200


def test_a_tag_is_printed_for_what_is_on_hold_and_for_nothing_else(api: Any) -> None:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    can, other = makers.cans(api, resin, makers.place(api), "26-1", count=2)
    api.post("/v1/holds", {"item": can, "reason": "Crystals at the bottom."})
    for size in ("100x50", "62", "50x25"):
        tag = api.call("GET", f"/v1/items/{can}/hold-tag.pdf?size={size}")
        assert (tag.status_code, tag.mimetype) == (200, "application/pdf")
    text = pypdfium2.PdfDocument(tag.data)[0].get_textpage().get_text_range()
    assert "HOLD" in text
    assert "Crystals at the bottom." in text
    for code in (can, other):
        api.post(f"/v1/items/{code}/labels", {"size": "62"})
    assert "HOLD" in _text(api, can)
    assert "HOLD" not in _text(api, other)
    lot = api.get(f"/v1/containers/{can}")["lot"]
    roll = pypdfium2.PdfDocument(api.call("GET", f"/v1/lots/{lot}/labels.pdf").data)
    assert ["HOLD" in page.get_textpage().get_text_range() for page in roll] == [True, False]
    (hold,) = api.get(f"/v1/items/{can}")["holds"]
    api.post(f"/v1/holds/{hold['id']}/lifting", {"why": "Warmed; clear again."}, who="quality")
    assert "HOLD" not in _text(api, can), "a copy printed after the hold was lifted is clean"
    refused = api.call("GET", f"/v1/items/{other}/hold-tag.pdf")
    assert refused.status_code == 409
    assert refused.get_json()["detail"] == f"Nothing holds {other}."
    assert api.call("GET", f"/v1/items/{can}/hold-tag.pdf?size=9x9").status_code == 422


def test_a_decant_names_its_source_a_kit_its_number_a_pot_its_maker_and_parts(api: Any) -> None:
    shop = makers.mixing(api)
    child = api.post(f"/v1/containers/{shop.resin_can}/decants", {"mass_g": 100})["code"]
    mix = shop.start(200)["code"]
    for code in (child, mix):
        api.post(f"/v1/items/{code}/labels", {"size": "62"})
    said = {code: _text(api, code) for code in (child, mix)}
    assert f"from {shop.resin_can[:-1]}" in said[child]
    assert "by Laminator" in said[mix]


def _text(api: Any, code: str) -> str:
    pdf = api.call("GET", f"/v1/items/{code}/labels/1.pdf").data
    return " ".join(pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range().split())
