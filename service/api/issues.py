"""Documents that are issued, and what anyone may ask who holds one."""

from contextlib import suppress
from typing import Any

from flask import Response, current_app, g

from schemas.answers import schema_of
from schemas.issues import IssueIn, IssueQuery
from schemas.words import IssuedKind
from service.api.access import require
from service.api.base import Blueprint, answered
from service.api.bodies import digest_header
from service.api.examples import example_of
from service.api.files import CSV, PDF, WORKBOOK, as_file, file_doc
from service.config import Settings, signing_files
from service.database import reading
from service.operations.door.refusals import UnknownThing
from service.operations.ledger import issuing
from service.reports.issued.press import PAPERS, Press
from service.reports.issued.signer import CannotSign, Signer, load_signer

blp = Blueprint("issues", "Documents that are issued: numbered, signed, kept byte for byte")
# What answers without a key stands apart, so that nothing is opened by mistake.
open_blp = Blueprint("open-issues", "What anyone may ask who holds an issued document; no key is needed")

PEM = "application/x-pem-file"
_MEDIA = {"pdf": PDF, "csv": CSV, "xlsx": WORKBOOK}
_OPEN: dict[str, Any] = {"security": []}


def _settings() -> Settings:
    settings: Settings = current_app.extensions["settings"]
    return settings


def signer() -> Signer:
    """The key and certificate of this service, as the files have them now."""
    return load_signer(*signing_files(_settings()))


issuing.set_press(Press(origin=lambda: str(_settings().address), signer=signer))

blp.write("/issues", issuing.issue_document, IssueIn)
blp.listing("/issues", issuing.list_issues, IssueQuery, right="read_work")


def read_issue(sha256: str) -> Response:
    """An issued document as it was issued, byte for byte."""
    with reading():
        row = issuing.read_issue(sha256)
    paper = PAPERS[IssuedKind(row.kind)]
    require(g.visitor, paper.right)
    name = f"{row.document}-{row.issue}.{paper.ending}"
    response = as_file(bytes(row.content), _MEDIA[paper.ending], name=name, kept=True)
    response.headers["Repr-Digest"] = digest_header(row.sha256)
    return response


def issue_standing(sha256: str) -> Response:
    """Is a file with this SHA-256 a document that was issued here, which issue of it, and has another taken its place?

    Open without a key, and nothing else is told.
    """
    with reading():
        standing = issuing.issue_standing(sha256)
    return answered(standing, issuing.IssueStanding)


def read_certificate() -> Response:
    """The certificates with which documents are and were signed (PEM), the one in use first. Open without a key."""
    with reading():
        used = issuing.used_certificates()
    now: list[str] = []
    with suppress(CannotSign):
        now.append(signer().pem)
    every = "".join(dict.fromkeys((*now, *used)))
    if not every:
        raise UnknownThing(
            "There is no certificate here yet: nothing was signed.", way_out="`potmark signer` makes a key and one."
        )
    return as_file(every, PEM, name="potmark-signing.crt")


blp.custom(
    "/issues/<sha256>/file",
    read_issue,
    right="read_account",
    doc=file_doc("The document, signed; or the table", PDF, CSV, WORKBOOK),
)
open_blp.custom(
    "/issues/<sha256>",
    issue_standing,
    right="read_account",
    doc={
        "responses": {
            "200": {
                "description": "It was issued here",
                "content": {
                    "application/json": {
                        "schema": schema_of(issuing.IssueStanding),
                        "example": example_of(issuing.IssueStanding),
                    }
                },
            }
        },
        **_OPEN,
    },
)
open_blp.custom(
    "/certificate", read_certificate, right="read_account", doc=file_doc("Certificates in PEM", PEM, **_OPEN)
)
