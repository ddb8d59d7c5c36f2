"""The two reports on a part: the shop's own investigation, and the record for its customer; as JSON and as PDF."""

from base64 import b64encode
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from typing import Any

from flask import Response, current_app

from schemas.reports import InvestigationOut, PartRecordOut
from service.api.base import Blueprint
from service.database import reading
from service.reports.document import as_document, canonical
from service.reports.drawing.paper import investigation_pdf, record_pdf
from service.reports.investigation import investigate
from service.reports.record import part_record

blp = Blueprint("reports", "Reports on a part: the shop's own investigation, the record for its customer")

_PART = "/parts/<code(P):part>"


def _now() -> datetime:
    at: datetime = current_app.extensions["clock"]()
    return at


def read_investigation(part: str, *, at: datetime) -> Any:
    """What may bear on a part: what stands out first, suspects with their numbers, and who else shares what."""
    return as_document(investigate(part, at=at))


def read_part_record(part: str) -> Response:
    """The record of one part: materials, weighings, plies, cures, findings, signatures; nothing of any other part.

    The body is canonical JSON (RFC 8785): its SHA-256 is that which the PDF prints.
    """
    with reading():
        record = part_record(part, at=_now())
    content = canonical(record)
    response = Response(content, mimetype="application/json")
    response.headers["Repr-Digest"] = f"sha-256=:{b64encode(sha256(content).digest()).decode()}:"
    return response


def _paper(name: str, summary: str, read: Callable[..., Any], draw: Callable[..., bytes]) -> Callable[[str], Response]:
    """A route that reads in one snapshot and draws outside of it."""

    def view(part: str) -> Response:
        at = _now()
        with reading():
            report = read(part, at=at)
        origin = str(current_app.extensions["settings"].address)
        response = Response(draw(report, origin=origin, at=at), mimetype="application/pdf")
        kind = report.kind.replace(" ", "-")
        response.headers["Content-Disposition"] = f'inline; filename="{kind}-{report.code}.pdf"'
        return response

    view.__name__, view.__doc__ = name, summary
    return view


def _pdf_doc(description: str) -> dict[str, Any]:
    content = {"application/pdf": {"schema": {"type": "string", "format": "binary"}}}
    return {"responses": {"200": {"description": description, "content": content}}}


blp.read(f"{_PART}/investigation", read_investigation, InvestigationOut, right="read_investigation")
blp.custom(
    f"{_PART}/investigation.pdf",
    _paper("print_investigation", "The investigation report on paper (PDF/A-3).", investigate, investigation_pdf),
    right="read_investigation",
    doc=_pdf_doc("The shop's own report, its JSON attached"),
)
blp.custom(
    f"{_PART}/record",
    read_part_record,
    right="read_account",
    doc={
        "responses": {
            "200": {
                "description": "The record, in canonical JSON",
                "content": {"application/json": {"schema": PartRecordOut, "example": PartRecordOut.EXAMPLE}},
            }
        }
    },
)
blp.custom(
    f"{_PART}/record.pdf",
    _paper("print_part_record", "The part record on paper (PDF/A-3).", part_record, record_pdf),
    right="read_account",
    doc=_pdf_doc("The record for the customer, its JSON attached"),
)
