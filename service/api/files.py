"""Answers that are files: drawings and papers, under their own type or, to who asks for it, as plain bytes.

Many generators of clients know no type of a file but `application/octet-stream`; they make a function of a route only
where that stands beside.
"""

from typing import Any
from urllib.parse import quote

from flask import Response, request

BYTES = "application/octet-stream"
PDF = "application/pdf"
SVG = "image/svg+xml"
CSV = "text/csv"
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

_CONTENT = {"type": "string", "format": "binary"}


def file_doc(description: str, *media_types: str, **more: Any) -> dict[str, Any]:
    """What the description says of a route that answers a file. What is kept as JSON may hold anything.

    A client reads a type with a JSON of its own, such as JSON-LD, as JSON: to it that is an object and no bytes.
    """
    content = {kind: {"schema": _schema(kind)} for kind in dict.fromkeys((*media_types, BYTES))}
    return {"responses": {"200": {"description": description, "content": content}}, **more}


def _schema(kind: str) -> dict[str, str]:
    if kind == "application/json":
        return {}
    return {"type": "object"} if kind.endswith("+json") else _CONTENT


def as_file(content: bytes | str, media_type: str, *, name: str | None = None, kept: bool = False) -> Response:
    """A file, shown where it can be; one that was ``kept`` as it came is handed over to be saved."""
    asked = request.accept_mimetypes.best_match([media_type, BYTES])
    response = Response(content, mimetype=BYTES if asked == BYTES else media_type)
    if kept:
        response.headers["Content-Disposition"] = f"attachment; filename*=UTF-8''{quote(name or '')}"
    elif name is not None:
        response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return response
