"""Labels of anything with a code: printed the first time, copied, replaced, for a whole lot, on rolls or A4 sheets."""

from datetime import datetime
from typing import Any

from flask import request

from schemas.labels import LabelIn, ReplacementIn
from schemas.words import Kind, LabelSize
from service.api.labels import with_origin
from service.operations.ledger.labelling import MOST_AT_ONCE, issue_label, issue_lot_labels, read_labels, replace_label
from service.operations.ledger.lot_labels import lot_labels
from service.operations.ledger.tracing import read_item
from service.pages.base import Pages

# Sheet -> how many cells it has; what a page offers beside rolls.
_SHEETS = {"3x8": 24, "2x7": 14}


def _labels(code: str, *, at: datetime) -> dict[str, Any]:
    item, rows = read_item(code), read_labels(code)
    standing = next((row for row in rows if not row.void), None)
    lot = lot_labels(code) if code.startswith(Kind.LOT) else None
    sheet, start = request.args.get("sheet", ""), request.args.get("start", "1")
    begun = f"sheet={sheet}&start={start}" if sheet in _SHEETS and start.isdigit() else ""
    return {
        "item": item, "standing": standing, "sizes": list(LabelSize), "sheets": _SHEETS, "lot": lot, "begun": begun,
        "at_once": MOST_AT_ONCE,
    }  # fmt: skip


def add_printing(pages: Pages) -> Pages:
    """The page of labels of one kind of thing, and its forms."""
    pages.show("labels", _labels, "labels.html")
    pages.act("labels", with_origin(issue_label), LabelIn, page="labels", then=_back)
    pages.act("labels/replacement", with_origin(replace_label), ReplacementIn, page="labels", then=_back)
    if pages.kind == Kind.LOT:
        pages.act("labels/lot", with_origin(issue_lot_labels), LabelIn, page="labels", then=lambda _: request.path[:-4])
    return pages


def _back(label: Any) -> str:
    return f"/I/{label['code'] if isinstance(label, dict) else label.code}/labels"


# Things that have no page of their own but their label's.
OTHERS = (add_printing(Pages(Kind.BADGE)),)
