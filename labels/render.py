"""Facts -> HTML -> PDF.

The HTML places every mark by its millimetres; the PDF engine (WeasyPrint, loaded when first used) only draws it. It may
fetch the four font files of the label's typeface and nothing else, so a label never waits for a network.
"""

import os
from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from html import escape
from threading import Lock
from typing import Any

from labels import qr
from labels.arrange import SIZES, arrange
from labels.column import Page, Printed
from labels.errors import DoesNotFit
from labels.facts import Facts
from labels.fonts import ASCENT, DESCENT, FAMILY, MM_PER_PT, WEIGHTS, font_configuration, font_file
from labels.layout import Bar, Drawing, Line, Mark, Outline, Word
from labels.sheets import A4_MM, STOCKS, arranged, placed
from labels.typesetting import set_alone
from labels.wording import words

__all__ = ["SIZES", "STOCKS", "a4_pdf", "label_html", "label_pdf", "sheet_pdf"]

FRAMES = ("black", "red")
"""Frames round pictograms: black are printed; red are on the stock already, and only the symbol is printed inside."""

_FONT_SCHEME = "label-font:"
_ENGINE = Lock()


def _style(pages: Sequence[Page]) -> str:
    faces = "".join(
        f'@font-face{{font-family:"{FAMILY}";font-weight:{weight};src:url("{_FONT_SCHEME}{weight}")}}'
        for weight in WEIGHTS
    )
    sheets = "".join(
        f"@page p{number}{{size:{_mm(page.width_mm)} {_mm(page.height_mm)};margin:0}}.p{number}{{page:p{number}}}"
        for number, page in enumerate(pages)
    )
    return (
        f'{faces}{sheets}html,body{{margin:0;color:#000;font-family:"{FAMILY}"}}'
        f".label{{position:relative;overflow:hidden;break-inside:avoid;line-height:{ASCENT + DESCENT:.3f}}}"
        ".label+.label{break-before:page}.label *{position:absolute;white-space:pre}"
        ".label b,.label i,.label svg *{position:static;font-style:normal}"
        ".zero{font-feature-settings:'zero'}.bar{background:#000}.white{color:#fff}"
    )


def _mm(length: float) -> str:
    return f"{length:.4f}".rstrip("0").rstrip(".") + "mm"


def _place(x: float, y: float, width: float, height: float) -> str:
    return f"left:{_mm(x)};top:{_mm(y)};width:{_mm(width)};height:{_mm(height)}"


def _runs(line: Sequence[Word], weight: int) -> str:
    """Words of a line; only those of another weight than the line's are marked."""
    return " ".join(
        escape(word.text) if word.weight == weight else f'<b style="font-weight:{word.weight}">{escape(word.text)}</b>'
        for word in line
    )


def _mark_html(mark: Mark) -> str:
    if isinstance(mark, Line):
        weight = mark.words[-1].weight
        top = mark.baseline - ASCENT * mark.size_pt * MM_PER_PT
        classes = " ".join(["t", *(["zero"] if mark.zero else []), *(["white"] if mark.white else [])])
        place = f"left:{_mm(mark.x)};top:{_mm(top)};font-size:{mark.size_pt:.2f}pt;font-weight:{weight}"
        return f'<div class="{classes}" style="{place}">{_runs(mark.words, weight)}</div>'
    if isinstance(mark, Bar):
        return f'<div class="bar" style="{_place(mark.x, mark.y, mark.width, mark.height)}"></div>'
    if isinstance(mark, Outline):
        inner = _place(mark.x, mark.y, mark.width - 2 * mark.stroke, mark.height - 2 * mark.stroke)
        return f'<div style="{inner};border:{_mm(mark.stroke)} solid #000;border-radius:{_mm(mark.radius)}"></div>'
    return _drawing_html(mark)


def _drawing_html(mark: Drawing) -> str:
    return (
        f'<svg role="img" aria-label="{escape(mark.says)}" viewBox="{mark.view_box}" '
        f'style="{_place(mark.x, mark.y, mark.side, mark.side)}">{mark.svg}</svg>'
    )


def _page(facts: Facts, size: str, frame: str) -> Page:
    if size not in SIZES:
        raise DoesNotFit(f"size must be one of {', '.join(SIZES)}, not “{size}”.")
    return arrange(_printed(facts, frame), size)


def _printed(facts: Facts, frame: str) -> Printed:
    if frame not in FRAMES:
        raise DoesNotFit(f"frame must be one of {', '.join(FRAMES)}, not “{frame}”.")
    return Printed(
        words=words(facts),
        code=facts.code,
        issue=facts.issue,
        address=facts.address,
        symbol=qr.symbol(facts.address),
        frame=frame == "black",
    )


def _document(labels: Sequence[Facts], size: str, frame: str, at: datetime | None) -> str:
    if not labels:
        raise DoesNotFit("There is no label to print.")
    pages = [_page(facts, size, frame) for facts in labels]
    made = f'<meta name="dcterms.created" content="{at.isoformat(timespec="seconds")}">' if at else ""
    title = labels[0].code if len(labels) == 1 else f"{labels[0].code} to {labels[-1].code}"
    bodies = "".join(
        f'<section class="label p{number}" style="width:{_mm(page.width_mm)};height:{_mm(page.height_mm)}">'
        f"{''.join(_mark_html(mark) for mark in page.marks)}</section>"
        for number, page in enumerate(pages)
    )
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>{made}'
        f"<style>{_style(pages)}</style></head><body>{bodies}</body></html>"
    )


def label_html(facts: Facts, size: str, *, frame: str = "black", at: datetime | None = None) -> str:
    """One label as a page of HTML.

    Raises:
        DoesNotFit: the facts don't fit this size; the sentence names the size to take.
        BadFact: the label font has no glyph for a character.
    """
    return _document([facts], size, frame, at)


@lru_cache(maxsize=1)
def _engine(process: int) -> tuple[Any, Any]:
    """Fonts and fetcher, once a process: a child must not share the parent's font folder."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class FontsOnly(URLFetcher):
        """Hands out the label's font files and refuses every other address."""

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
            for weight in WEIGHTS:
                if url == f"{_FONT_SCHEME}{weight}":
                    return URLFetcherResponse(url, font_file(weight).read_bytes(), {"Content-Type": "font/ttf"})
            raise ValueError(f"A label fetches nothing but its fonts, not {url}.")

    return font_configuration(), FontsOnly()


def _pdf(html: str) -> bytes:
    from weasyprint import HTML

    def draw() -> bytes:
        fonts, fetcher = _engine(os.getpid())
        pdf: bytes = HTML(string=html, url_fetcher=fetcher).write_pdf(font_config=fonts)
        return pdf

    return set_alone(_ENGINE, draw)


def label_pdf(facts: Facts, size: str, *, at: datetime, frame: str = "black") -> bytes:
    """One label as a PDF of one page; `at` is the creation date in the PDF, and nothing else depends on the hour.

    Raises:
        DoesNotFit: the facts don't fit this size; the sentence names the size to take.
        BadFact: the label font has no glyph for a character.
    """
    return _pdf(_document([facts], size, frame, at))


def sheet_pdf(labels: Sequence[Facts], size: str, *, at: datetime, frame: str = "black") -> bytes:
    """Several labels as one PDF, one page each, for a roll.

    Raises:
        DoesNotFit: there is no label, or one doesn't fit this size.
        BadFact: the label font has no glyph for a character.
    """
    return _pdf(_document(labels, size, frame, at))


def a4_pdf(labels: Sequence[Facts], stock: str, *, start: int, at: datetime) -> bytes:
    """Labels on A4 sheets of a stock, the first in cell `start` of the first sheet, counted from 1 along the rows.

    Raises:
        DoesNotFit: there is no label, no such stock or cell, or a label has too much to say for a cell.
        BadFact: the label font has no glyph for a character.
    """
    if stock not in STOCKS or not 1 <= start <= STOCKS[stock].cells:
        raise DoesNotFit(f"A sheet is one of {', '.join(STOCKS)}, and begins at one of its cells.")
    if not labels:
        raise DoesNotFit("There is no label to print.")
    pages = [arranged(_printed(facts, "black"), stock) for facts in labels]
    sheets: dict[int, list[str]] = {}
    for sheet, x, y, page in placed(pages, stock, start):
        marks = "".join(_mark_html(mark) for mark in page.marks)
        cell = _place(x, y, page.width_mm, page.height_mm)
        sheets.setdefault(sheet, []).append(f'<div style="{cell}">{marks}</div>')
    paper = Page(*A4_MM, ())
    size = f"width:{_mm(paper.width_mm)};height:{_mm(paper.height_mm)}"
    bodies = "".join(
        f'<section class="label p0" style="{size}">{"".join(cells)}</section>' for cells in sheets.values()
    )
    return _pdf(
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{labels[0].code} and on</title>'
        f'<meta name="dcterms.created" content="{at.isoformat(timespec="seconds")}">'
        f"<style>{_style([paper])}</style></head><body>{bodies}</body></html>"
    )
