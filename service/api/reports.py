"""The two reports on a part: the shop's own investigation, and the record for its customer; as JSON and as PDF."""

from base64 import b64encode
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from typing import Any

from flask import Response, current_app

from schemas.answers import schema_of, to_bytes
from service.api.base import Blueprint
from service.api.examples import example_of
from service.api.files import PDF, as_file, file_doc
from service.database import reading
from service.operations.ledger.heads import printed_head
from service.reports.document import as_document, canonical
from service.reports.drawing.paper import investigation_pdf, record_pdf
from service.reports.investigation import Investigation, investigate
from service.reports.record import PartRecord, part_record

blp = Blueprint("reports", "Reports on a part: the shop's own investigation, the record for its customer")

_PART = "/parts/<code(P):part>"


def _now() -> datetime:
    at: datetime = current_app.extensions["clock"]()
    return at


def read_investigation(part: str) -> Response:
    """What may bear on a part: what stands out first, suspects with their numbers, and who else shares what."""
    with reading():
        report = investigate(part, at=_now())
    return Response(to_bytes(as_document(report)), mimetype="application/json")


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
            report, head = read(part, at=at), printed_head()
        origin = str(current_app.extensions["settings"].address)
        kind = report.kind.replace(" ", "-")
        return as_file(draw(report, origin=origin, at=at, head=head), PDF, name=f"{kind}-{report.code}.pdf")

    view.__name__, view.__doc__ = name, summary
    return view


def _json_doc(description: str, cls: type) -> dict[str, Any]:
    content = {"application/json": {"schema": schema_of(cls), "example": example_of(cls)}}
    return {"responses": {"200": {"description": description, "content": content}}}


blp.custom(
    f"{_PART}/investigation",
    read_investigation,
    right="read_investigation",
    doc=_json_doc("The shop's own report", Investigation),
)
blp.custom(
    f"{_PART}/investigation.pdf",
    _paper("print_investigation", "The investigation report on paper (PDF/A-3).", investigate, investigation_pdf),
    right="read_investigation",
    doc=file_doc("The shop's own report, its JSON attached", PDF),
)
blp.custom(
    f"{_PART}/record",
    read_part_record,
    right="read_account",
    doc=_json_doc("The record, in canonical JSON", PartRecord),
)
blp.custom(
    f"{_PART}/record.pdf",
    _paper("print_part_record", "The part record on paper (PDF/A-3).", part_record, record_pdf),
    right="read_account",
    doc=file_doc("The record for the customer, its JSON attached", PDF),
)
