"""Documents that are issued: each with a number, an issue, who, when and the head that it follows, byte for byte.

What is drawn and signed comes from the reports, which hand in a press; this is the door through which it is kept. Equal
facts are not issued twice: the issue that has them is answered again.
"""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from peewee import JOIN, fn

from schemas.words import IssuedKind
from service.operations.door.act import Act
from service.operations.door.operation import Work, beforehand, operation
from service.operations.door.refusals import AlreadyThere, UnknownThing, Unprocessable
from service.operations.door.views import Page, page
from service.operations.ledger.sealed import printed
from service.records.base import as_word
from service.records.issues import LARGEST_BYTES, DocumentIssue, SigningCertificate
from service.records.items import Item
from service.records.journal import Deed
from service.records.lookups import another
from service.records.people import Person

_PREFIX = {
    IssuedKind.PART_RECORD: "PR",
    IssuedKind.CONFORMITY: "CC",
    IssuedKind.INVESTIGATION: "IR",
    IssuedKind.RECALL: "RC",
    IssuedKind.RECALL_TABLE: "RT",
    IssuedKind.RECALL_WORKBOOK: "RW",
    IssuedKind.RECALL_LETTER: "RL",
    IssuedKind.LETTERS_TABLE: "LT",
    IssuedKind.LETTERS_WORKBOOK: "LW",
}


@dataclass(frozen=True, slots=True)
class Drawn:
    """A document as the press gives it.

    ``content`` is nothing if the last issue has the very same facts. ``head`` is the number and hash of the last entry
    of the journal when it was read. A table bears no signature, and has no ``certificate``. ``not_drawn`` says for what
    words the machine has no font.
    """

    subject: str
    issue: int
    data_sha256: str
    content: bytes | None = None
    head: tuple[int, str] = (0, "")
    fingerprint: str = ""
    certificate: str = ""
    not_drawn: str | None = None


@dataclass(frozen=True, slots=True)
class IssueView:
    """One issue of a document.

    Attributes
    ----------
    document
        The document's number: the same for all its issues.
    issue
        1 for the first, one more whenever the facts had changed.
    subject
        What it is about, such as the code of a part.
    issued_at
        By the server's clock.
    issued_by
        Name of the person.
    head
        The last entry of the journal before it, as the paper prints it.
    sha256
        Of the file.
    data_sha256
        Of the facts in it.
    size
        Bytes of the file.
    superseded
        A later issue has taken its place.
    unchanged
        It was there already: nothing had changed since it was issued.
    not_drawn
        As it is issued: for which words it has boxes, since the machine has no font for them, and what to do.
    """

    id: int
    document: str
    issue: int
    kind: IssuedKind
    subject: str
    issued_at: datetime
    issued_by: str
    head: str
    sha256: str
    data_sha256: str
    size: int
    superseded: bool
    unchanged: bool = False
    not_drawn: str | None = None


@dataclass(frozen=True, slots=True)
class IssueStanding:
    """What anyone is told who has the hash of an issued document: that it is ours, and whether it still stands.

    Attributes
    ----------
    document
        The document's number.
    issue
        Which issue of it this is.
    superseded
        A later issue has taken its place.
    """

    document: str
    issue: int
    superseded: bool


Press = Callable[[IssuedKind, str, Act], Drawn]
_press: Press | None = None


def set_press(press: Press) -> None:
    """Say who draws and signs what is issued."""
    global _press
    _press = press


def document_number(kind: IssuedKind, subject: str) -> str:
    """The number of a document, from its kind and what it is about.

    >>> document_number(IssuedKind.PART_RECORD, "P00001R")
    'PR-P00001R'
    """
    return f"{_PREFIX[kind]}-{subject}"


def _drawn(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    if _press is None:
        raise LookupError("nobody has said who draws what is issued")
    drawn = _press(asked["kind"], asked["subject"], act)
    return {**asked, "subject": drawn.subject, "drawn": drawn}


@operation
@beforehand(_drawn, gives="drawn")
def issue_document(work: Work, *, kind: IssuedKind, subject: str, drawn: Drawn) -> IssueView:
    """Issue a document: it gets the next issue's number, is signed, and is kept byte for byte from then on.

    If nothing has changed since the last issue, that one is answered. A table or workbook bears no signature: its hash
    stands in the journal and in every later head.
    """
    document = document_number(kind, subject)
    last = last_issue(document)
    if last is not None and last.data_sha256 == drawn.data_sha256:
        return replace(_view(last, superseded=False, unchanged=True), not_drawn=drawn.not_drawn)
    if drawn.content is None or drawn.issue != (last.issue if last is not None else 0) + 1:
        raise AlreadyThere(
            f"{document} was issued by somebody else at the same moment.", way_out="Send it again, if it is needed."
        )
    if len(drawn.content) > LARGEST_BYTES:
        raise Unprocessable(
            f"{document} would have {len(drawn.content) / 1e6:.1f} MB; "
            f"at most {LARGEST_BYTES // 1_000_000} MB are kept of a document.",
            way_out="Read it by its own address, such as a recall's pick-up-list.csv: nothing is left out there.",
        )
    row = DocumentIssue.create(
        document=document,
        issue=drawn.issue,
        kind=kind,
        subject=subject,
        sha256=hashlib.sha256(drawn.content).hexdigest(),
        data_sha256=drawn.data_sha256,
        size=len(drawn.content),
        content=drawn.content,
        head_number=drawn.head[0],
        head_hash=drawn.head[1],
        certificate=_certificate(work, drawn) if drawn.certificate else None,
        deed=work.deed,
    )
    # Heads of the journal list what was issued by this note.
    work.note(issued={"document": document, "issue": row.issue, "sha256": row.sha256}, data_sha256=row.data_sha256)
    item = Item.get_or_none(Item.code == subject)
    if item is not None:
        work.touch(item)
    issued = _view(row, superseded=False, issued_at=work.act.recorded_at, issued_by=work.who)
    return replace(issued, not_drawn=drawn.not_drawn)


def _certificate(work: Work, drawn: Drawn) -> int:
    known = SigningCertificate.get_or_none(SigningCertificate.fingerprint == drawn.fingerprint)
    made = known or SigningCertificate.create(
        fingerprint=drawn.fingerprint, certificate=drawn.certificate, deed=work.deed
    )
    return int(made.id)


# All but the file.
_FACTS = tuple(field for field in DocumentIssue._meta.sorted_fields if field.name != "content")


def last_issue(document: str) -> DocumentIssue | None:
    """The newest issue of a document."""
    query = DocumentIssue.select(*_FACTS).where(DocumentIssue.document == document)
    return query.order_by(DocumentIssue.issue.desc()).first()


def list_issues(
    *, after: int | None, limit: int, kind: IssuedKind | None = None, subject: str | None = None
) -> Page[IssueView]:
    """What was issued, in its order."""
    query = _with_deeds()
    if kind is not None:
        query = query.where(DocumentIssue.kind == kind)
    if subject is not None:
        query = query.where(DocumentIssue.subject == subject)
    return page(query, DocumentIssue.id, after=after, limit=limit, view=_listed)


def _with_deeds() -> Any:
    later = another(DocumentIssue, "later")
    newer = later.select(later.id).where(
        (later.document == DocumentIssue.document) & (later.issue == DocumentIssue.issue + 1)
    )
    query: Any = (
        DocumentIssue.select(*_FACTS, Deed.recorded_at.alias("at"), Person.name.alias("by"), newer.alias("newer"))
        # Every issue has both. Joined as if it might not, the issues come first: where statistics were gathered while
        # there were none, SQLite takes them for many and goes through all acts instead.
        .join(Deed, JOIN.LEFT_OUTER, on=(DocumentIssue.deed == Deed.id))
        .join(Person, JOIN.LEFT_OUTER, on=(Deed.person == Person.id))
        .objects()
    )
    return query


def newest_issues(documents: Sequence[str], series: str, *, most: int) -> tuple[IssueView, ...]:
    """The newest issue of these documents and of each whose number begins with those letters, the first so many."""
    document_is = DocumentIssue.document
    query = _with_deeds().where(document_is.in_(documents) | document_is.startswith(series))
    # Each document has its number with its first issue, and keeps its place.
    later = another(DocumentIssue, "later_still")
    newest = query.where(
        ~fn.EXISTS(
            later.select(later.id).where(
                (later.document == DocumentIssue.document) & (later.issue == DocumentIssue.issue + 1)
            )
        )
    )
    return tuple(_listed(row) for row in newest.order_by(DocumentIssue.id).limit(most))


def last_issued(documents: Sequence[str], series: str) -> dict[str, int]:
    """Which of these documents, and of those whose number begins with those letters, were issued, and the last act."""
    document_is = DocumentIssue.document
    rows = DocumentIssue.select(document_is, fn.MAX(DocumentIssue.deed))
    rows = rows.where(document_is.in_(documents) | document_is.startswith(series)).group_by(document_is)
    return dict(rows.tuples())


def _listed(row: Any) -> IssueView:
    return _view(row, superseded=row.newer is not None, issued_at=row.at, issued_by=row.by)


def issue_standing(sha256: str) -> IssueStanding:
    """Is a file with this SHA-256 a document that was issued here, which issue of it, and has another taken its place?

    Open without a key, and no more than that is told.
    """
    row = _by_hash(sha256)
    later = last_issue(row.document)
    return IssueStanding(row.document, row.issue, superseded=later is not None and later.issue > row.issue)


def _by_hash(sha256: str) -> DocumentIssue:
    figures = sha256.strip().lower()
    if len(figures) != 64 or not set(figures) <= set("0123456789abcdef"):
        raise UnknownThing(
            "This is not the SHA-256 of a file: 64 figures, 0 to 9 and a to f.",
            way_out="Give the file itself at /verify, which works it out.",
        )
    row = DocumentIssue.select(*_FACTS).where(DocumentIssue.sha256 == figures).first()
    if row is None:
        raise UnknownThing(
            "No document with this SHA-256 was issued here: it is not ours, or it was changed; a byte is enough.",
            way_out="Ask who gave it to you for the file as it was issued; a copy that was saved anew is another file.",
        )
    return row


def read_issue(sha256: str) -> DocumentIssue:
    """An issued document with its bytes."""
    return DocumentIssue.get_by_id(_by_hash(sha256).id)


def used_certificates() -> tuple[str, ...]:
    """All certificates (PEM) that documents were signed with, newest first."""
    query = SigningCertificate.select(SigningCertificate.certificate).order_by(SigningCertificate.id.desc())
    return tuple(row.certificate for row in query)


def _view(
    row: DocumentIssue,
    *,
    superseded: bool,
    unchanged: bool = False,
    issued_at: datetime | None = None,
    issued_by: str | None = None,
) -> IssueView:
    if issued_at is None or issued_by is None:
        deed = Deed.select(Deed, Person.name.alias("by")).join(Person).where(Deed.id == row.deed_id).objects().get()
        issued_at, issued_by = deed.recorded_at, deed.by
    return IssueView(
        id=row.id,
        document=row.document,
        issue=row.issue,
        kind=as_word(IssuedKind, row.kind),
        subject=row.subject,
        issued_at=issued_at,
        issued_by=issued_by,
        head=printed(row.head_number, row.head_hash),
        sha256=row.sha256,
        data_sha256=row.data_sha256,
        size=row.size,
        superseded=superseded,
        unchanged=unchanged,
    )
