"""Documents kept as they came."""

from typing import Any

import marshmallow as ma
from flask import Response, request
from flask_smorest import abort

from schemas.answers import schema_of
from schemas.fields import Text
from service.api.access import current_act
from service.api.base import OF_AN_ACT, Blueprint, answered
from service.api.bodies import digest_header
from service.api.examples import example_of
from service.api.files import as_file, file_doc
from service.database import reading
from service.operations.ledger import documents

blp = Blueprint("documents", "Certificates, photos, logger files: kept as they came, named by their SHA-256")


_LONGEST_NAME = 120


def document_name() -> str:
    """The name in the query, without anything that a file system could mistake; what nobody sees is refused by name."""
    given = request.args.get("name", "")
    try:
        text = Text(longest=_LONGEST_NAME, empty=True).deserialize(given)
    except ma.ValidationError as wrong:
        abort(422, messages={"query": {"name": wrong.messages}})
    name = "".join(c for c in text if c not in '/\\:*?"<>|').strip(". ")
    if not name:
        abort(422, messages={"query": {"name": ["Give the document's name."]}})
    return name


def keep_document() -> Any:
    """Keep a certificate or a photo."""
    view = documents.keep_document(current_act({}), name=document_name(), content=request.get_data())
    return answered(view, documents.DocumentView, 201)


def read_document(document: int) -> Response:
    """A document's content, as it came."""
    with reading():
        row = documents.read_document(document)
    response = as_file(row.content, row.media_type, name=row.name, kept=True)
    response.headers["Repr-Digest"] = digest_header(row.sha256)
    return response


_NAME = {
    "name": "name",
    "in": "query",
    "required": True,
    "description": "The file's name.",
    "schema": {"type": "string", "minLength": 1, "maxLength": _LONGEST_NAME},
}
_KEPT = {"schema": schema_of(documents.DocumentView), "example": example_of(documents.DocumentView)}
_CONTENT = {"type": "string", "format": "binary"}
_KINDS = ("application/pdf", "image/jpeg", "image/png", "text/csv", "application/json")

blp.custom(
    "/documents",
    keep_document,
    right="keep_document",
    method="POST",
    doc={
        "parameters": [*OF_AN_ACT, _NAME],
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": _CONTENT}},
        },
        "responses": {
            "201": {
                "description": "Kept",
                "content": {"application/json": _KEPT},
            }
        },
    },
)
blp.custom(
    "/documents/<number:document>",
    read_document,
    right="read_documents",
    doc=file_doc("The content", *_KINDS),
)
