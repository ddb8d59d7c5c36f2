"""Heads of the journal on paper: a number and twenty figures each, to be kept where no computer reaches."""

from collections.abc import Sequence
from datetime import datetime

from service.operations.ledger.heads import HeadView
from service.reports.drawing.paper import drawing_tools, pages, templates


def heads_pdf(heads: Sequence[HeadView], *, now: str, shop: str, zone: str, at: datetime) -> bytes:
    """The sheet as an A4 PDF; ``now`` is the head at the time of printing, as it is printed."""
    page = templates().get_template("heads.html").render(heads=heads, now=now, shop=shop, zone=zone, printed=at,
                                                         **drawing_tools())  # fmt: skip
    return pages(page, {})
