"""Names in scripts for which the machine has no font: the paper is there, and whoever draws or reads it is told."""

from typing import Any

import pypdfium2
import pytest

from service.reports.drawing import fontless
from service.reports.drawing.fontless import without_a_font, words_without_a_font
from tests.journeys.floor import Floor, founded
from tests.pages.hand import hand_of

# Cypro-Minoan: no machine of the shop's has a font for it, whatever scripts else it has.
BOX = "\U00012f90\U00012f91"
NAME = f"{BOX} boats"


def _text(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _shipped(floor: Floor, customer: str) -> str:
    part = floor.part(floor.design(plies=[]))
    pot = floor.pot(part)["code"]
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(pot)
    floor.finish(part)
    floor.release(part)
    floor.ship(part, customer)
    return pot


def test_the_letters_that_no_font_has_are_found_by_the_engine_that_draws_the_papers() -> None:
    assert without_a_font("Ålesund, Łódź, Ελλάς, Київ · 10 µm ≤ ½ \u202f\u2068\u2069") == frozenset()
    assert without_a_font(f"Rowing {BOX} club") == frozenset(BOX)
    assert words_without_a_font(f'{{"customer":"{BOX}x","reason":"soft {BOX}x, {BOX}y"}}') == (f"{BOX}x", f"{BOX}y")


def test_a_recall_is_issued_with_boxes_and_says_for_which_words_on_paper_in_the_answer_and_on_its_page(
    floor: Floor,
) -> None:
    api = floor.api
    pot = _shipped(floor, NAME)
    recall = api.post("/v1/recalls", {"item": pot, "reason": "soft parts"}, who="lead")
    papers = {one["document"]: one for one in recall["papers"]}
    assert papers.keys() == {"RC-1", "RT-1", "RW-1", "RL-1-1", "LT-1", "LW-1"}
    assert recall["not_printed"] is None
    assert recall["not_drawn"].startswith(f"This machine has no font for {BOX}")
    assert "Install a font" in recall["not_drawn"]
    for document in ("RC-1", "RL-1-1"):
        paper = api.call("GET", f"/v1/issues/{papers[document]['sha256']}/file", who="lead").data
        said = _text(paper)
        assert "On this paper boxes stand for" in said, document
        assert "CYPRO-MINOAN: U+12F90" in said
    assert len(pypdfium2.PdfDocument(paper)) == 1, "the note stands below the letter"
    table = api.call("GET", f"/v1/issues/{papers['RT-1']['sha256']}/file", who="lead").data.decode("utf-8-sig")
    assert NAME in table, "its data has the name whole"
    hand = hand_of(api, "lead")
    hand.open("/recalls/1")
    assert f"This machine has no font for {BOX}" in hand.page
    again = api.post("/v1/issues", {"kind": "recall letter", "subject": "1-1"}, who="lead")
    assert (again["unchanged"], again["issue"]) == (True, 1)
    assert again["not_drawn"].startswith(f"This machine has no font for {BOX}")


def test_once_there_is_a_font_the_paper_is_issued_anew_with_all_letters(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    api = floor.api
    pot = _shipped(floor, NAME)
    api.post("/v1/recalls", {"item": pot, "reason": "soft parts"}, who="lead")
    monkeypatch.setattr(fontless, "_tried", lambda process, letters: set())
    monkeypatch.setattr(fontless, "_known", {})
    anew = api.post("/v1/issues", {"kind": "recall letter", "subject": "1-1"}, who="lead")
    assert (anew["issue"], anew["not_drawn"], anew["unchanged"]) == (2, None, False)


def test_what_has_all_its_letters_says_nothing_of_fonts(floor: Floor) -> None:
    api = floor.api
    pot = _shipped(floor, "Ålesund roklub")
    recall = api.post("/v1/recalls", {"item": pot, "reason": "soft parts"}, who="lead")
    assert recall["not_drawn"] is None
    paper = api.call("GET", "/v1/recalls/1/letters.pdf").data
    assert "boxes stand" not in _text(paper)
    (part,) = [piece["code"] for piece in recall["pieces"] if piece["kind"] == "P"]
    for path in (f"/v1/parts/{part}/record.pdf", f"/v1/parts/{part}/investigation.pdf"):
        answer = api.call("GET", path, who="quality")
        assert answer.status_code == 200
        assert "boxes stand" not in _text(answer.data)
