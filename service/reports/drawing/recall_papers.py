"""The papers of a recall: the pick-up list as PDF, CSV and workbook, and a letter for each customer."""

import io
import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from schemas.words import IssuedKind, Kind, State
from service.operations.ledger.issuing import document_number
from service.operations.ledger.recall import MOST_PIECES, RecallPieceView
from service.operations.ledger.sparing import MOST_SPARED, Spared
from service.reports.document import canonical
from service.reports.drawing.genealogy import Kin
from service.reports.drawing.paper import PICTURE_SCHEME, Stamp, drawing_tools, pages, templates
from service.reports.drawing.pictures import Pictures, Stored
from service.reports.drawing.sheets import MARK, as_csv, cells
from service.reports.recall import RecallLetter, RecallPaper
from service.reports.wording import code

# The columns of the pick-up list, in this order, in the table and in the workbook; they stay as they are. The last two
# say which issue of which document a row is from, and are empty in a live view.
COLUMNS = (
    "recall", "where", "kind", "code", "name", "state", "place", "customer", "mass_g", "on_hold", "to_fetch", "found",
    "found_at", "remark", "document", "issue",
)  # fmt: skip
_KINDS = {"C": "container", "M": "pot", "K": "kit", "P": "part", "R": "cure"}
# And those of the table beside a letter.
LETTER_COLUMNS = ("recall", "customer", "serial", "part", "found", "remark", "document", "issue")
_CODE = re.compile(r"\b[LCKMPTSRA]\d{5,12}[0-9A-Z]\b")

MOST_ATTACHED = 10_000
"""A longer list has its table and workbook beside it, as documents of their own, and not in it once more."""

MOST_ROWS = 60
"""So many parts of a letter have a line each; more are told by their names, in a tenth of the pages and of the time."""

Cell = str | float | None


def rows(paper: RecallPaper, stamp: Stamp | None = None) -> Iterable[tuple[Cell, ...]]:
    """One row for each piece, in the order of the list, by the columns above."""
    issue = _issue(stamp)
    return ((*_row(paper.recall.id, piece), *issue) for piece in paper.recall.pieces)


def _issue(stamp: Stamp | None) -> tuple[Cell, Cell]:
    return (None, None) if stamp is None else (stamp.document, stamp.issue)


def _row(recall: int, piece: RecallPieceView) -> tuple[Cell, ...]:
    return (
        recall,
        piece.where,
        _KINDS.get(piece.kind, str(piece.kind)),
        piece.code,
        piece.name,
        piece.state,
        piece.place_name,
        piece.customer,
        None if piece.mass_mg is None else piece.mass_mg / 1000,
        "yes" if piece.on_hold else "no",
        "yes" if piece.to_fetch else "no",
        piece.found,
        None if piece.found_at is None else piece.found_at.isoformat(),
        piece.remark,
    )


def pick_up_csv(paper: RecallPaper, at: datetime, *, stamp: Stamp | None = None, **_: object) -> bytes:
    """RFC 4180, in UTF-8 with a mark, so that a spreadsheet reads its letters."""
    return _csv(COLUMNS, rows(paper, stamp))


def _csv(columns: Sequence[str], lines: Iterable[Sequence[Cell]]) -> bytes:
    return (MARK + as_csv([columns, *lines])).encode()


def pick_up_workbook(paper: RecallPaper, at: datetime, *, stamp: Stamp | None = None, **_: object) -> bytes:
    """The same columns as a workbook, its head kept in sight; what looks like a formula is text."""
    widths = (8, 10, 10, 12, 34, 12, 20, 24, 11, 9, 9, 11, 26, 40, 12, 8)
    return _workbook(f"Recall {paper.recall.id}", COLUMNS, widths, rows(paper, stamp), paper.shop, at)


def _workbook(
    title: str, columns: Sequence[str], widths: Sequence[int], lines: Iterable[Sequence[Cell]], shop: str, at: datetime
) -> bytes:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    for place, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    heads = []
    for column in columns:
        head = WriteOnlyCell(sheet, value=column)
        head.font = Font(bold=True)
        heads.append(head)
    sheet.append(heads)
    for line in lines:
        sheet.append(cells(sheet, line))
    out = io.BytesIO()
    book.properties.creator = shop
    book.properties.created = book.properties.modified = at.replace(tzinfo=None)
    book.save(out)
    return out.getvalue()


def pick_up_pdf(
    paper: RecallPaper, at: datetime, *, head: str | None = None, stamp: Stamp | None = None, **_: object
) -> bytes:
    """The list to go round with, a box for each piece; what is spared and why; its tables are attached."""
    pieces = paper.recall.pieces
    attaches = len(pieces) <= MOST_ATTACHED
    fetch = sorted((p for p in pieces if p.to_fetch), key=lambda p: p.found is not None)
    stored: Stored = {}
    kin = [Kin(p.code, p.kind, failed=p.failed or p.state == State.FAILED, held=p.on_hold) for p in pieces]
    if paper.recall.item is not None and paper.recall.item.startswith(Kind.LOT):
        kin.append(Kin(paper.recall.item, Kind.LOT, held=paper.lot_on_hold))
    drawn = Pictures(stored, PICTURE_SCHEME).genealogy(kin, paper.links)
    html = _html(
        "recall.html", recall=paper.recall, zone=paper.zone, shop=paper.shop, printed=at, head=head, stamp=stamp,
        fetch=fetch[:MOST_PIECES], more=max(0, len(fetch) - MOST_PIECES), gone=_gone(pieces), kinds=_KINDS,
        weighed={p.where for p in pieces if p.mass_mg is not None},
        spared=_by_reason(paper.recall.spared), most_spared=MOST_SPARED,
        genealogy=drawn, attaches=attaches, tables=_tables_of(paper.recall.id),
    )  # fmt: skip
    name = f"recall-{paper.recall.id}-pick-up-list"
    attached: tuple[tuple[str, bytes, str], ...] = ()
    if attaches:
        attached = (
            (f"{name}.json", canonical(paper), "The recall as canonical JSON (RFC 8785)"),
            (f"{name}.csv", pick_up_csv(paper, at, stamp=stamp), "The pick-up list as a table"),
            (f"{name}.xlsx", pick_up_workbook(paper, at, stamp=stamp), "The pick-up list as a workbook"),
        )
    return _pdf(html, stored, at, attached)


def _by_reason(spared: Iterable[Spared]) -> list[tuple[str, list[Spared]]]:
    """What is spared for the same reason together, in the order of the first of each."""
    found: dict[str, list[Spared]] = {}
    for one in spared:
        found.setdefault(one.because, []).append(one)
    return list(found.items())


def _tables_of(recall: int) -> str:
    """Where a list has its table that is too long to go round with it."""
    issued = (document_number(kind, str(recall)) for kind in (IssuedKind.RECALL_TABLE, IssuedKind.RECALL_WORKBOOK))
    return f"{' and '.join(issued)}, at /v1/recalls/{recall}/pick-up-list.csv and .xlsx"


def _gone(pieces: Sequence[RecallPieceView]) -> dict[str, list[str]]:
    """What is no more there to find, by kind and state."""
    found: dict[str, list[str]] = {}
    for piece in pieces:
        if not piece.to_fetch:
            found.setdefault(f"{_KINDS.get(piece.kind, piece.kind)}, {piece.state}", []).append(piece.code)
    return found


def letters_pdf(
    letters: Sequence[RecallLetter], at: datetime, *, head: str | None = None, stamp: Stamp | None = None, **_: object
) -> bytes:
    """A letter for each customer to whom pieces were shipped, each on pages of its own and naming no other."""
    html = _letters(letters, attached=False, printed=at, head=head, stamp=stamp)
    return _pdf(html, {}, at, ())


def letter_pdf(
    letter: RecallLetter, at: datetime, *, head: str | None = None, stamp: Stamp | None = None, **_: object
) -> bytes:
    """The letter to one customer, their pieces beside it as a table and as a workbook, to be filled in."""
    html = _letters([letter], attached=True, printed=at, head=head, stamp=stamp)
    name = f"recall-{letter.recall}-parts"
    attached = (
        (f"{name}.json", canonical(letter), "The letter as canonical JSON (RFC 8785)"),
        (f"{name}.csv", letters_csv([letter], at, stamp=stamp), "The parts as a table"),
        (f"{name}.xlsx", letters_workbook([letter], at, stamp=stamp), "The parts as a workbook"),
    )
    return _pdf(html, {}, at, attached)


def letters_csv(letters: Sequence[RecallLetter], at: datetime, *, stamp: Stamp | None = None, **_: object) -> bytes:
    """What the letters say, one row for each part, by the columns above."""
    return _csv(LETTER_COLUMNS, _letter_rows(letters, stamp))


def letters_workbook(
    letters: Sequence[RecallLetter], at: datetime, *, stamp: Stamp | None = None, **_: object
) -> bytes:
    """The same as a workbook."""
    title, shop = f"Recall {letters[0].recall}", letters[0].shop
    widths = (8, 24, 12, 34, 24, 40, 12, 8)
    return _workbook(title, LETTER_COLUMNS, widths, _letter_rows(letters, stamp), shop, at)


def _letter_rows(letters: Sequence[RecallLetter], stamp: Stamp | None) -> Iterable[tuple[Cell, ...]]:
    issue = _issue(stamp)
    return (
        (one.recall, one.customer, serial, name, None, None, *issue) for one in letters for serial, name in one.pieces
    )


def _letters(letters: Sequence[RecallLetter], **facts: Any) -> str:
    return _html("recall_letters.html", letters=letters, most_rows=MOST_ROWS, **facts)


def _grouped(text: str) -> str:
    """A sentence with the codes in it in their groups."""
    return _CODE.sub(lambda found: code(found[0]), text)


def _together(codes: Iterable[str]) -> str:
    """Codes in a row, each of which stays on one line."""
    return ", ".join(code(one).replace(" ", "\u00a0") for one in codes)


def _html(template: str, **facts: Any) -> str:
    tools = {"grouped": _grouped, "together": _together, **drawing_tools()}
    html: str = templates().get_template(template).render(**facts, **tools)
    return html


def _pdf(html: str, stored: Stored, at: datetime, attached: Sequence[tuple[str, bytes, str]]) -> bytes:
    from weasyprint import Attachment

    files = [
        Attachment(string=content, name=name, description=said, created=at, modified=at, relationship="Data")
        for name, content, said in attached
    ]
    return pages(html, stored, attachments=files, pdf_variant="pdf/a-3a")
