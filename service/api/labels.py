"""Labels: a POST issues one, a GET draws it again."""

import functools
from collections.abc import Callable
from typing import Any

from flask import Response, current_app

from schemas.labels import LabelIn, LabelOut, ReplacementIn
from service.api.base import Blueprint
from service.database import reading
from service.operations import labelling

blp = Blueprint("labels", "Labels: issued, copied, replaced")


def _host() -> str:
    return str(current_app.extensions["settings"].host)


def _with_host(operation: Callable[..., Any]) -> Callable[..., Any]:
    """The printed code names the host, which is a setting of the service and not of the request."""

    @functools.wraps(operation)
    def run(act: Any, **fields: Any) -> Any:
        return operation(act, host=_host(), **fields)

    return run


def draw_label(code: str, issue: int) -> Response:
    """The PDF of a label; copies of one issue are equal."""
    from labels.render import label_pdf

    with reading():
        facts, size, issued_at = labelling.facts_for_copy(code, issue, host=_host())
    response = Response(label_pdf(facts, size, at=issued_at), mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="label-{code}-{issue}.pdf"'
    return response


blp.read("/items/<code:code>/labels", labelling.read_labels, LabelOut, many=True)
blp.write("/items/<code:code>/labels", _with_host(labelling.issue_label), LabelOut, LabelIn)
blp.write("/items/<code:code>/labels/replacement", _with_host(labelling.replace_label), LabelOut, ReplacementIn)
blp.custom(
    "/items/<code:code>/labels/<number:issue>.pdf",
    draw_label,
    right="read_account",
    doc={
        "responses": {
            "200": {
                "description": "The label",
                "content": {"application/pdf": {"schema": {"type": "string", "format": "binary"}}},
            }
        }
    },
)
