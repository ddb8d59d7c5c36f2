"""Documents kept as they came."""

from typing import Any
from urllib.parse import quote

from flask import Response, request
from flask_smorest import abort

from schemas.journal import DocumentOut
from service.api.access import current_act
from service.api.base import IDEMPOTENCY, Blueprint
from service.database import reading
from service.operations.ledger import documents

blp = Blueprint("documents", "Certificates, photos, logger files: kept as they came, named by their SHA-256")


def document_name() -> str:
    """The name in the query, without anything that a file system could mistake."""
    name = "".join(c for c in request.args.get("name", "") if c.isprintable() and c not in '/\\:*?"<>|')[:120].strip(
        ". "
    )
    if not name:
        abort(422, messages={"query": {"name": ["Give the document's name."]}})
    return name


def keep_document() -> Any:
    """Keep a certificate or a photo."""
    view = documents.keep_document(current_act({}), name=document_name(), content=request.get_data())
    return DocumentOut().dump(view), 201


def read_document(document: int) -> Response:
    """A document's content, as it came."""
    with reading():
        row = documents.read_document(document)
    response = Response(row.content, mimetype=row.media_type)
    response.headers["Content-Disposition"] = f"attachment; filename*=UTF-8''{quote(row.name)}"
    response.headers["Repr-Digest"] = f"sha-256={row.sha256}"
    return response


_NAME = {
    "name": "name",
    "in": "query",
    "required": True,
    "schema": {"type": "string", "minLength": 1, "maxLength": 120},
}
_CONTENT = {"type": "string", "format": "binary"}

blp.custom(
    "/documents",
    keep_document,
    right="keep_document",
    method="POST",
    doc={
        "parameters": [IDEMPOTENCY, _NAME],
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": _CONTENT, "example": "%PDF-1.7 …"}},
        },
        "responses": {
            "201": {
                "description": "Kept",
                "content": {"application/json": {"schema": DocumentOut, "example": DocumentOut.EXAMPLE}},
            }
        },
    },
)
blp.custom(
    "/documents/<number:document>",
    read_document,
    right="read_documents",
    doc={
        "responses": {
            "200": {"description": "The content", "content": {"application/octet-stream": {"schema": _CONTENT}}}
        }
    },
)
