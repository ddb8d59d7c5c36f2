"""HTML -> PDF: size, one page, its own fonts, the same bytes each time, and nothing fetched."""

import ctypes
import os
import re
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pypdfium2
import pypdfium2.raw as raw
import pytest

from labels.hazards import hazard_block
from labels.render import SIZES, _engine, label_pdf, sheet_pdf

AT = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)
MM = 25.4 / 72


def printed(pdf: bytes) -> str:
    """All text of the first page on one line."""
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage().get_text_range()
    document.close()
    return " ".join(text.split())


def test_every_kind_and_size_is_one_page_of_that_size(make: Callable[..., Any], kind: str):
    for size, stock in SIZES.items():
        document = pypdfium2.PdfDocument(label_pdf(make(kind), size, at=AT))
        assert len(document) == 1
        width, height = (side * MM for side in document[0].get_size())
        assert width == pytest.approx(stock.width_mm, abs=0.01)
        if stock.height_mm is None:
            assert 24 <= height <= 200
            assert height == pytest.approx(round(height), abs=0.01)
        else:
            assert height == pytest.approx(stock.height_mm, abs=0.01)


@pytest.mark.parametrize("size", ["100x50", "62"])
def test_the_hazards_reach_the_paper_in_full(make: Callable[..., Any], chemical: str, size: str):
    codes = ("H302", "H314", "H317", "H361d", "H412")
    text = printed(label_pdf(make(chemical, h_codes=codes), size, at=AT))
    hazard = hazard_block(codes)
    assert hazard.signal_word == "DANGER"
    assert "DANGER" in text
    for code, statement in hazard.statements:
        assert f"{code} {statement}" in text


def test_every_character_is_inside_the_page(make: Callable[..., Any], kind: str):
    long_name = "Starboard rudder skin with the double-curved leading edge and both drain holes"
    name = {"system" if kind == "pot" else "name": long_name}
    for size in SIZES:
        document = pypdfium2.PdfDocument(label_pdf(make(kind, issue=12, **name), size, at=AT))
        page = document[0]
        width, height = page.get_size()
        text = page.get_textpage()
        boxes = [text.get_charbox(number) for number in range(text.count_chars())]
        assert len(boxes) > 20
        for left, bottom, right, top in boxes:
            assert left >= 1.5 / MM or right == left
            assert bottom >= 1.0 / MM or right == left
            assert right <= width - 1.5 / MM
            assert top <= height - 1.5 / MM


def test_the_measure_agrees_with_what_the_engine_sets(make: Callable[..., Any]):
    """Kerning is left out of the measure, so the set line may be narrower by a little and is never wider."""
    from labels.fonts import BLACK, width_mm

    name = "Alder 32 slow hardener"
    document = pypdfium2.PdfDocument(label_pdf(make("container"), "100x50", at=AT))
    text = document[0].get_textpage()
    start = text.get_text_range().index(name)
    boxes = [text.get_charbox(start + number, loose=True) for number in range(len(name))]
    set_mm = (boxes[-1][2] - boxes[0][0]) * MM
    sizes = re.findall(r"font-size:([0-9.]+)pt;font-weight:900\">Alder", _html(make("container")))
    measured = width_mm(name, BLACK, float(sizes[0]))
    assert set_mm <= measured * 1.002
    assert set_mm >= measured * 0.96


def _html(facts: Any) -> str:
    from labels.render import label_html

    return label_html(facts, "100x50")


def test_only_the_labels_own_typeface_is_used_and_it_is_embedded(make: Callable[..., Any], kind: str):
    document = pypdfium2.PdfDocument(label_pdf(make(kind), "100x50", at=AT))
    fonts = {}
    for text in document[0].get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
        font = raw.FPDFTextObj_GetFont(text.raw)
        name = ctypes.create_string_buffer(200)
        raw.FPDFFont_GetBaseFontName(font, name, 200)
        fonts[name.value.decode()] = raw.FPDFFont_GetIsEmbedded(font)
    assert len(fonts) > 1
    assert all(re.fullmatch(r"([A-Z]{6}\+)?Source-?Sans-?Pro[A-Za-z-]*", name) for name in fonts), fonts
    assert set(fonts.values()) == {1}


def test_the_same_facts_give_the_same_bytes_in_another_process(make: Callable[..., Any]):
    here = label_pdf(make("mould"), "62", at=AT)
    assert label_pdf(make("mould"), "62", at=AT) == here
    script = (
        "import sys; from datetime import datetime, UTC; from labels.facts import MouldLabel; "
        "from labels.render import label_pdf; facts = MouldLabel(**eval(sys.argv[1])); "
        "sys.stdout.buffer.write(label_pdf(facts, '62', at=datetime(2026, 3, 3, 14, 5, tzinfo=UTC)))"
    )
    facts = {name: getattr(make("mould"), name) for name in ("code", "origin", "name", "release", "limit")}
    there = subprocess.run(
        [sys.executable, "-c", script, repr(facts)],
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland"},
    )
    assert there.stdout == here


def test_the_pdf_says_when_it_was_made_and_nothing_of_the_machine(make: Callable[..., Any]):
    pdf = label_pdf(make("container"), "100x50", at=AT)
    document = pypdfium2.PdfDocument(pdf)
    about = document.get_metadata_dict()
    assert about["Title"] == "C003183"
    assert about["CreationDate"].startswith("D:20260303140500")
    assert about["Author"] == ""
    here = (os.getcwd(), socket.gethostname(), tempfile.gettempdir(), "site-packages")
    for secret in here:
        assert secret.encode() not in pdf


def test_several_labels_are_one_page_each_in_their_order(make: Callable[..., Any]):
    labels = [make("container", number=number) for number in (318, 319, 320)]
    labels.insert(1, make("container", number=400, h_codes=("H302", "H314", "H317", "H412")))
    for size in ("62", "100x50"):
        document = pypdfium2.PdfDocument(sheet_pdf(labels, size, at=AT))
        assert len(document) == 4
        for page, facts in zip(document, labels, strict=True):
            assert facts.code[:-1] in page.get_textpage().get_text_range()
        heights = {round(page.get_size()[1] * MM) for page in document}
        assert len(heights) == (2 if size == "62" else 1)


def test_a_label_is_made_with_the_network_closed(make: Callable[..., Any], monkeypatch: pytest.MonkeyPatch):
    def closed(*_: object, **__: object) -> None:
        raise AssertionError("a label reached for the network")

    monkeypatch.setattr(socket, "socket", closed)
    monkeypatch.setattr(socket, "create_connection", closed)
    monkeypatch.setattr(socket, "getaddrinfo", closed)
    name = "url(https://evil.example/a.css)"
    assert label_pdf(make("mould", name=name), "100x50", at=AT).startswith(b"%PDF")


@pytest.mark.parametrize(
    "address",
    [
        "https://evil.example/a.css",
        "http://127.0.0.1/",
        "file:///etc/hostname",
        "data:text/plain,x",
        "label-font:../../x",
        "label-font:401",
    ],
)
def test_the_fetcher_hands_out_fonts_and_refuses_everything_else(address: str):
    fetcher = _engine(os.getpid())[1]
    with pytest.raises(ValueError, match="fetches nothing but its fonts"):
        fetcher.fetch(address)
    assert fetcher.fetch("label-font:700").read()[:4] == b"\x00\x01\x00\x00"


def test_importing_labels_is_cheap_and_knows_nothing_of_the_service():
    script = (
        "import sys, labels, labels.codes, labels.hazards, labels.facts, labels.wording, labels.render; "
        "heavy = {'weasyprint', 'qrcode', 'fontTools', 'PIL', 'peewee', 'flask', 'service', 'schemas'}; "
        "print(sorted(heavy & {name.split('.')[0] for name in sys.modules}))"
    )
    ran = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert ran.stdout.strip() == "[]"
