"""The paper form for when nothing works: the steps and fields of the calls in their order, to be typed in later.

An act that is entered from it carries the time at which it happened, and is marked late by itself (shop rule 3).
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass

from service.reports.drawing.paper import ENGINE, drawing_tools, engine, templates


@dataclass(frozen=True, slots=True)
class Step:
    """One call as lines to be written on: its title, its fields, and how often it may be needed on one sheet."""

    title: str
    fields: tuple[str, ...]
    times: int = 1


def form_pdf(*, title: str, steps: Sequence[Step], shop: str) -> bytes:
    """The form as an A4 PDF."""
    from weasyprint import HTML

    page = templates().get_template("form.html").render(title=title, steps=steps, shop=shop, **drawing_tools())
    with ENGINE:
        fonts, fetcher = engine(os.getpid())
        pdf: bytes = HTML(string=page, url_fetcher=fetcher({})).write_pdf(font_config=fonts)
    return pdf
