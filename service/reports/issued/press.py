"""The press: what kinds of documents are issued, and how each is read, drawn, numbered and signed.

A new kind is a word in `IssuedKind`, its prefix in ledger/issuing.py, and one row of `PAPERS` here.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from labels.codes import parse
from labels.errors import Misread
from schemas.words import IssuedKind
from service.database import reading
from service.operations.door.act import Act
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.ledger.heads import last_entry
from service.operations.ledger.issuing import Drawn, document_number, last_issue
from service.operations.ledger.sealed import printed
from service.records.people import Person
from service.reports.conformity import conformity
from service.reports.document import canonical, fingerprint
from service.reports.drawing.fontless import told, words_without_a_font
from service.reports.drawing.paper import Stamp, conformity_pdf, investigation_pdf, record_pdf
from service.reports.drawing.recall_papers import (
    letter_pdf,
    letters_csv,
    letters_workbook,
    pick_up_csv,
    pick_up_pdf,
    pick_up_workbook,
)
from service.reports.investigation import Investigation, investigate
from service.reports.issued.signer import CannotSign, Signer, sign_pdf
from service.reports.issued.statement import Statement
from service.reports.recall import RecallLetter, recall_letter, recall_paper, some_letters
from service.reports.record import part_record


def _part(subject: str) -> str:
    try:
        return parse(subject).text
    except Misread as misread:
        raise Unprocessable(str(misread), pointer="/subject") from None


def _recall(subject: str) -> str:
    if not (subject.isascii() and subject.isdigit() and len(subject) < 16):
        raise Unprocessable("Name the recall by its number, such as 3.", pointer="/subject")
    return str(int(subject))


def _letter(subject: str) -> str:
    recall, _, place = subject.partition("-")
    if not all(one.isascii() and one.isdigit() and len(one) < 16 for one in (recall, place)):
        raise Unprocessable(
            "Name the letter by its recall and the customer's place in it, such as 3-1 for the first.",
            pointer="/subject",
        )
    return f"{int(recall)}-{int(place)}"


def _read_letter(subject: str, *, at: datetime) -> RecallLetter:
    recall, _, place = subject.partition("-")
    return recall_letter(int(recall), int(place))


def _but_for_the_time(report: Investigation) -> bytes:
    """An investigation says when it was made, by which alone nothing has changed."""
    return canonical(replace(report, at=datetime.min.replace(tzinfo=UTC)))


@dataclass(frozen=True, slots=True)
class Paper:
    """One kind of document.

    ``subject`` makes what was typed canonical; ``read`` reads all of it within one snapshot; ``facts`` are what has to
    differ for a new issue; ``draw`` gives the file; ``right`` opens it. ``ending`` is that of its name: what is no PDF
    is a table, which bears no signature.
    """

    subject: Callable[[str], str]
    read: Callable[..., Any]
    draw: Callable[..., bytes]
    facts: Callable[[Any], bytes] = canonical
    right: str = "read_account"
    ending: str = "pdf"


def _drawn_at(draw: Callable[..., bytes]) -> Callable[..., bytes]:
    """A paper that needs no address: nothing printed on it leads anywhere."""
    return lambda report, *, origin, at, head, stamp: draw(report, at, head=head, stamp=stamp)


def _table(read: Callable[[int], Any], draw: Callable[..., bytes], ending: str) -> Paper:
    return Paper(_recall, lambda subject, *, at: read(int(subject)), _drawn_at(draw), right="read_work", ending=ending)


PAPERS: dict[IssuedKind, Paper] = {
    IssuedKind.PART_RECORD: Paper(_part, part_record, record_pdf),
    IssuedKind.CONFORMITY: Paper(_part, conformity, conformity_pdf),
    IssuedKind.INVESTIGATION: Paper(
        _part, investigate, investigation_pdf, facts=_but_for_the_time, right="read_investigation"
    ),
    IssuedKind.RECALL: Paper(
        _recall, lambda subject, *, at: recall_paper(int(subject)), _drawn_at(pick_up_pdf), right="read_work"
    ),
    IssuedKind.RECALL_TABLE: _table(recall_paper, pick_up_csv, "csv"),
    IssuedKind.RECALL_WORKBOOK: _table(recall_paper, pick_up_workbook, "xlsx"),
    IssuedKind.RECALL_LETTER: Paper(_letter, _read_letter, _drawn_at(letter_pdf), right="read_work"),
    IssuedKind.LETTERS_TABLE: _table(some_letters, letters_csv, "csv"),
    IssuedKind.LETTERS_WORKBOOK: _table(some_letters, letters_workbook, "xlsx"),
}


@dataclass(frozen=True, slots=True)
class Press:
    """What draws and signs; ``origin`` gives the address that printed codes lead to, ``signer`` key and certificate."""

    origin: Callable[[], str]
    signer: Callable[[], Signer]

    def __call__(self, kind: IssuedKind, asked: str, act: Act) -> Drawn:
        """The document as it would be issued now; only its facts if the last issue has the same."""
        paper, at = PAPERS[kind], act.recorded_at
        subject = paper.subject(asked)
        document = document_number(kind, subject)
        with reading():
            report = paper.read(subject, at=at)
            facts = paper.facts(report)
            boxes = words_without_a_font(facts.decode()) if paper.ending == "pdf" else ()
            # With boxes in it, it is another paper than with all letters, and is issued anew once there is a font.
            data = fingerprint(facts if not boxes else facts + "\n".join(boxes).encode())
            last = last_issue(document)
            issue = last.issue + 1 if last is not None else 1
            if last is not None and last.data_sha256 == data:
                return Drawn(subject, last.issue, data, not_drawn=told(boxes))
            entry, founding = last_entry()
            by = Person.get_by_id(act.person).name
        stamp = Stamp(document, issue, by)
        # Drawn outside of the snapshot and of any transaction: it takes a second.
        origin = self.origin()
        if paper.ending != "pdf":
            content = paper.draw(report, origin=origin, at=at, head=printed(*entry), stamp=stamp)
            return Drawn(subject, issue, data, content, entry)
        try:
            signer = self.signer()
        except CannotSign as trouble:
            raise WrongState(str(trouble), way_out="An administrator of the machine sees to the files.") from None
        pdf = paper.draw(report, origin=origin, at=at, head=printed(*entry), stamp=stamp)
        statement = Statement(document, issue, report.shop, at, fingerprint(facts), *entry, founding)
        content = sign_pdf(pdf, signer, reason=statement.text(), shop=report.shop)
        return Drawn(subject, issue, data, content, entry, signer.fingerprint, signer.pem, told(boxes))
