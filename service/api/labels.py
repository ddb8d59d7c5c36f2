"""Labels: a POST issues one, a GET draws it again."""

import functools
import inspect
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from flask import Response, current_app, request
from flask_smorest import abort

from schemas.labels import LabelIn, ReplacementIn
from schemas.words import LabelSize
from service import reach
from service.api.base import Blueprint
from service.api.files import PDF, as_file, file_doc
from service.database import reading
from service.operations.door.operation import KeptAnswer
from service.operations.ledger import labelling

blp = Blueprint(
    "labels",
    "Labels: issued, copied, replaced; print them on film with a resin ribbon, since heat blackens direct thermal "
    "stock and acetone wipes it",
    right="read_work",
)


def _origin() -> str:
    return str(current_app.extensions["settings"].address)


def with_origin(operation: Callable[..., Any]) -> Callable[..., Any]:
    """The printed code leads to the service's address, a setting and no field of the request; a doubt of it is told."""

    @functools.wraps(operation)
    def run(act: Any, **fields: Any) -> Any:
        return _told(operation(act, origin=_origin(), **fields), _doubt())

    asked = inspect.signature(operation)
    kept = [parameter for name, parameter in asked.parameters.items() if name != "origin"]
    run.__signature__ = asked.replace(parameters=kept)  # type: ignore[attr-defined]
    return run


def _told(made: Any, notice: str | None) -> Any:
    if isinstance(made, KeptAnswer):
        return KeptAnswer(_told(made.value, notice))
    if isinstance(made, list | tuple):
        return [_told(one, notice) for one in made]
    return {**made, "notice": notice} if isinstance(made, dict) else replace(made, notice=notice)


def _doubt() -> str | None:
    """Why the codes would not open, asked until they do: once something answers, it is not asked again."""
    opens = current_app.extensions.setdefault("codes_open", set())
    if _origin() in opens:
        return None
    found = reach.doubt(_origin())
    if found is None:
        opens.add(_origin())
    return found


def draw_label(code: str, issue: int) -> Response:
    """The PDF of a label; copies of one issue say the same, and HOLD or FAILED across it while that is so."""
    from labels.render import a4_pdf, label_pdf

    at = current_app.extensions["clock"]()
    with reading():
        facts, size, issued_at = labelling.facts_for_copy(code, issue, origin=_origin(), at=at)
    sheet = _sheet()
    with labelling.fitting(held=bool(facts.held)):
        if sheet is not None:
            content = a4_pdf([facts], sheet[0], start=sheet[1], at=issued_at)
        else:
            content = label_pdf(facts, size, at=issued_at, frame=_frame("sheet", "start"))
    return _pdf(content, f"label-{code}-{issue}")


def draw_hold_tag(code: str) -> Response:
    """A tag for what is on hold or failed, to be put beside its label and taken off when the hold is lifted."""
    from labels.render import label_pdf

    size, at = _size(), current_app.extensions["clock"]()
    with reading():
        facts = labelling.facts_for_hold_tag(code, origin=_origin(), at=at)
    with labelling.fitting():
        content = label_pdf(facts, size, at=at)
    return _pdf(content, f"hold-{code}")


def _size() -> str:
    size = request.args.get("size", "100x50")
    if size not in list(LabelSize) or set(request.args) - {"size"}:
        abort(422, messages={"query": {"size": [f"Give one of {', '.join(LabelSize)}."]}})
    return size


def draw_lot_labels(lot: str) -> Response:
    """The labels of a lot's containers as one roll, 50 at most; the header `Link` leads to the next ones."""
    from labels.render import a4_pdf, sheet_pdf

    page, sheet, at = _page(), _sheet(), current_app.extensions["clock"]()
    with reading():
        roll = labelling.facts_for_roll(lot, origin=_origin(), page=page, at=at)
    with labelling.fitting(held=any(one.held for one in roll.labels)):
        if sheet is not None:
            pdf = a4_pdf(roll.labels, sheet[0], start=sheet[1], at=roll.issued_at)
        else:
            pdf = sheet_pdf(roll.labels, roll.size, at=roll.issued_at, frame=_frame("page", "sheet", "start"))
    response = _pdf(pdf, f"labels-{lot}" if page == 1 else f"labels-{lot}-{page}")
    if roll.more:
        response.headers["Link"] = f'<{request.path}?{urlencode({**request.args, "page": page + 1})}>; rel="next"'
    return response


def _page() -> int:
    text = request.args.get("page", "1")
    if not (text.isascii() and text.isdigit() and len(text) < 7 and int(text)):
        abort(422, messages={"query": {"page": ["Give the number of a page, from 1."]}})
    return int(text)


def _sheet() -> tuple[str, int] | None:
    """On an A4 sheet of labels: which, and its first cell that is still there."""
    from labels.sheets import STOCKS

    stock, start = request.args.get("sheet"), request.args.get("start", "1")
    if stock is not None and stock not in STOCKS:
        abort(422, messages={"query": {"sheet": [f"Give one of {', '.join(STOCKS)}."]}})
    cells = max(one.cells for name, one in STOCKS.items() if stock in (None, name))
    if not (start.isascii() and start.isdigit() and len(start) < 3 and 1 <= int(start) <= cells):
        abort(422, messages={"query": {"start": [f"Give the number of a cell, 1 to {cells}."]}})
    if stock is None:
        return None
    _frame("page", "sheet", "start")
    return stock, int(start)


def _frame(*others: str) -> str:
    """Black frames are printed; on stock with red frames already on it only the symbol is."""
    frame = request.args.get("frame", "black")
    if frame not in ("black", "red") or set(request.args) - {"frame", *others}:
        abort(422, messages={"query": {"frame": ["Give black or red."]}})
    return frame


def _pdf(content: bytes, name: str) -> Response:
    return as_file(content, PDF, name=f"{name}.pdf")


blp.read("/items/<code:code>/labels", labelling.read_labels)
blp.write("/items/<code:code>/labels", with_origin(labelling.issue_label), LabelIn)
blp.write("/items/<code:code>/labels/replacement", with_origin(labelling.replace_label), ReplacementIn)
blp.write("/lots/<code(L):lot>/labels", with_origin(labelling.issue_lot_labels), LabelIn)

_FRAME = {
    "name": "frame",
    "in": "query",
    "description": "red: only the symbols are printed, for stock with red frames on it already (100x50).",
    "schema": {"type": "string", "enum": ["black", "red"]},
}
_PAGE = {
    "name": "page",
    "in": "query",
    "description": "50 labels a page; the header Link of one leads to the next.",
    "schema": {"type": "integer", "minimum": 1, "maximum": 999_999},
}
_SHEET = {
    "name": "sheet",
    "in": "query",
    "description": "On A4 sheets with so many labels across and down.",
    "schema": {"type": "string", "enum": ["3x8", "2x7"]},
}
_START = {
    "name": "start",
    "in": "query",
    "description": "The first cell of the sheet that is still there, counted from 1 along the rows.",
    "schema": {"type": "integer", "minimum": 1, "maximum": 24},
}
_DOC = file_doc("As printed", PDF, parameters=[_FRAME, _SHEET, _START])
blp.custom("/items/<code:code>/labels/<number:issue>.pdf", draw_label, right="read_work", doc=_DOC)
_SIZE = {"name": "size", "in": "query", "schema": {"type": "string", "enum": list(LabelSize)}}
blp.custom(
    "/items/<code:code>/hold-tag.pdf",
    draw_hold_tag,
    right="read_work",
    doc=file_doc("A tag that says HOLD or FAILED, and why", PDF, parameters=[_SIZE]),
)
blp.custom(
    "/lots/<code(L):lot>/labels.pdf",
    draw_lot_labels,
    right="read_work",
    doc=file_doc("As printed", PDF, parameters=[_FRAME, _PAGE, _SHEET, _START]),
)
