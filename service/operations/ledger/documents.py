"""Documents kept as they came: certificates, photos, logger files, frozen systems, designs and schedules."""

import hashlib
from dataclasses import dataclass

import rfc8785

from service.operations.door.operation import Work, operation
from service.operations.door.plain import plain
from service.operations.door.refusals import UnknownThing, Unprocessable
from service.records.journal import Document

# By their first bytes, not by what the sender calls them.
_SIGNATURES = ((b"%PDF-", "application/pdf"), (b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))


@dataclass(frozen=True, slots=True)
class DocumentView:
    id: int
    name: str
    media_type: str
    size: int
    sha256: str


@operation
def keep_document(work: Work, *, name: str, content: bytes) -> DocumentView:
    """Keep a certificate or a photo: PDF, JPEG, PNG or CSV, told by its content. The same content is kept once."""
    row = store(work, name=name, content=content, media_type=_media_type(content))
    return view_document(row)


def _media_type(content: bytes) -> str:
    if not content:
        raise Unprocessable("The document is empty.")
    for start, media_type in _SIGNATURES:
        if content.startswith(start):
            return media_type
    if b"\x00" not in content[:4096]:
        return "text/csv"
    raise Unprocessable("Only PDF, JPEG, PNG and CSV are kept, told by what is in the file, not by its name.")


def store(work: Work, *, name: str, content: bytes, media_type: str) -> Document:
    """Keep a document within another operation."""
    sha256 = hashlib.sha256(content).hexdigest()
    known = Document.get_or_none(Document.sha256 == sha256)
    row = known or Document.create(
        sha256=sha256, media_type=media_type, name=name, size=len(content), content=content, deed=work.deed
    )
    work.note(document=row.id, sha256=sha256, name=name)
    return row


def freeze(work: Work, name: str, facts: object) -> Document:
    """Keep facts as canonical JSON (RFC 8785), so that their hash says later that they are the same."""
    return store(work, name=f"{name}.json", content=rfc8785.dumps(plain(facts)), media_type="application/json")


def read_document(document: int) -> Document:
    row = Document.get_or_none(Document.id == document)
    if row is None:
        raise UnknownThing(f"There is no document {document} here.")
    return row


def view_document(row: Document) -> DocumentView:
    return DocumentView(id=row.id, name=row.name, media_type=row.media_type, size=row.size, sha256=row.sha256)
