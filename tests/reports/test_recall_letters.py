"""The letter to a customer: what it lists, how it lists many, and what it does not say."""

from datetime import UTC, date, datetime, timedelta

import pypdfium2
import pytest

from labels.codes import make, next_usable
from service.reports.drawing.recall_papers import MOST_ROWS, letter_pdf, letters_pdf
from service.reports.recall import LetterPart, RecallLetter
from service.reports.wording import code

AT = datetime(2026, 11, 27, 16, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)


def _letter(parts: int, customer: str = "Rowing club", *, on_one_note: int = 50) -> RecallLetter:
    codes, number = [], 0
    for _ in range(parts):
        number = next_usable("P", number)
        codes.append(make("P", number))
    pieces = tuple(
        LetterPart(
            one,
            "Cargo lid" if place % 2 else "Rudder half",
            "HY-118" if place % 2 else None,
            f"no. {place}" if place % 4 == 1 else None,
            DAY + timedelta(days=place // on_one_note),
            f"delivery note {1100 + place // on_one_note}",
            f"PO {place // on_one_note}" if place % 2 else None,
        )
        for place, one in enumerate(codes)
    )
    reason = "the hardener in them did not cure"
    return RecallLetter("recall letter", 7, customer, reason, pieces, "Heron Yard", "Europe/Copenhagen")


def _pages(pdf: bytes) -> list[str]:
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pypdfium2.PdfDocument(pdf)]


@pytest.mark.parametrize("parts", [1, MOST_ROWS, MOST_ROWS + 1, 300])
def test_every_serial_is_on_the_letter_within_its_page_and_the_signature_is_never_alone(parts: int) -> None:
    letter = _letter(parts)
    pdf = letters_pdf([letter], AT)
    pages = _pages(pdf)
    said = " ".join(pages).replace("\u00a0", " ")
    assert [one.code for one in letter.pieces if code(one.code) not in said] == []
    assert len(pages) <= (2 if parts > MOST_ROWS else 1 + parts // 20)
    assert "Please take" in pages[-1]
    assert "for Heron Yard, recall 7" in pages[-1]
    for page in pypdfium2.PdfDocument(pdf):
        text = page.get_textpage()
        boxes = [text.get_rect(n) for n in range(text.count_rects())]
        assert max(right for _, _, right, _ in boxes) <= page.get_width() - 40, "cut at the edge"


def test_a_letter_of_many_names_its_table_only_where_it_has_one() -> None:
    many = _letter(MOST_ROWS + 1)
    table = "The table that is attached to this letter"
    assert table in " ".join(_pages(letter_pdf(many, AT)))
    assert table not in " ".join(_pages(letters_pdf([many], AT)))
    assert table not in " ".join(_pages(letter_pdf(_letter(2), AT)))


def test_a_letter_of_many_names_each_delivery_once_and_is_short_though_each_part_came_alone() -> None:
    said = " ".join(_pages(letters_pdf([_letter(300)], AT)))
    assert said.count("delivery note 1103") == 2, "once for each name of a part"
    alone = _pages(letters_pdf([_letter(300, on_one_note=1)], AT))
    assert len(alone) <= 5
    assert all(f" {1100 + place}" in " ".join(alone) for place in range(300))
