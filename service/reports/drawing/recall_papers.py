"""The papers of a recall: the pick-up list as PDF, CSV and workbook, and a letter for each customer."""

import io
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from schemas.words import IssuedKind, Kind, State
from service.operations.ledger.issuing import document_number
from service.operations.ledger.recall_pieces import MOST_PIECES, RecallPieceView
from service.operations.ledger.sparing import MOST_SPARED, Spared
from service.reports.document import canonical
from service.reports.drawing.genealogy import Kin
from service.reports.drawing.paper import PICTURE_SCHEME, Stamp, drawing_tools, pages, templates
from service.reports.drawing.pictures import Pictures, Stored
from service.reports.drawing.sheets import MARK, as_csv, cells
from service.reports.recall import Delivery, LetterPart, RecallLetter, RecallPaper
from service.reports.wording import code, day

# The columns of the pick-up list, in this order, in the table and in the workbook; they stay where they are, and more
# come after them. Document and issue say which issue of which document a row is from, and are empty in a live view.
COLUMNS = (
    "recall", "where", "kind", "code", "name", "state", "place", "customer", "mass_g", "on_hold", "to_fetch", "found",
    "found_at", "remark", "document", "issue", "length_mm", "amount_pieces", "shipped_on", "shipped_with", "order",
    "part_number", "order_serial",
)  # fmt: skip
_KINDS = {"C": "container", "M": "pot", "K": "kit", "P": "part", "R": "cure"}
# And those of the table beside a letter.
LETTER_COLUMNS = (
    "recall", "customer", "serial", "part", "found", "remark", "document", "issue", "shipped_on", "shipped_with",
    "order", "part_number", "order_serial",
)  # fmt: skip
_CODE = re.compile(r"\b[LCKMPTSRA]\d{5,12}[0-9A-Z]\b")

MOST_ATTACHED = 10_000
"""A longer list has its table and workbook beside it, as documents of their own, and not in it once more."""

MOST_ROWS = 60
"""So many parts of a letter have a line each; more are told by their names, in a tenth of the pages and of the time."""

Cell = str | float | None


def rows(paper: RecallPaper, stamp: Stamp | None = None) -> Iterable[tuple[Cell, ...]]:
    """One row for each piece, in the order of the list, by the columns above."""
    issue = _issue(stamp)
    return (
        (*_row(paper.recall.id, piece), *issue, piece.length_mm, piece.amount_pieces, *_looked_up(piece))
        for piece in paper.recall.pieces
    )


def _issue(stamp: Stamp | None) -> tuple[Cell, Cell]:
    return (None, None) if stamp is None else (stamp.document, stamp.issue)


def _looked_up(piece: RecallPieceView | LetterPart) -> tuple[Cell, ...]:
    """By what its customer looks it up."""
    on = None if piece.shipped_on is None else piece.shipped_on.isoformat()
    return on, piece.shipped_with, piece.order, piece.part_number, piece.serial


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
    widths = (8, 10, 10, 12, 34, 12, 20, 24, 11, 9, 9, 11, 26, 40, 12, 8, 11, 8, 12, 24, 16, 14, 14)
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
        measured=any(one.length_mm is not None for one in paper.recall.totals),
        counted=any(p.length_mm is not None or p.amount_pieces is not None for p in fetch),
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
    widths = (8, 24, 12, 34, 24, 40, 12, 8, 12, 24, 16, 14, 14)
    return _workbook(title, LETTER_COLUMNS, widths, _letter_rows(letters, stamp), shop, at)


def _letter_rows(letters: Sequence[RecallLetter], stamp: Stamp | None) -> Iterable[tuple[Cell, ...]]:
    issue = _issue(stamp)
    return (
        (one.recall, one.customer, part.code, part.name, None, None, *issue, *_looked_up(part))
        for one in letters
        for part in one.pieces
    )


def _letters(letters: Sequence[RecallLetter], **facts: Any) -> str:
    return _html("recall_letters.html", letters=letters, most_rows=MOST_ROWS, **facts)


def _grouped(text: str) -> str:
    """A sentence with the codes in it in their groups."""
    return _CODE.sub(lambda found: code(found[0]), text)


def _by_name(parts: Iterable[LetterPart]) -> list[tuple[str, list[LetterPart]]]:
    """Parts of one name and number together."""
    found: dict[tuple[str, str], list[LetterPart]] = {}
    for part in parts:
        found.setdefault((part.name, part.part_number or ""), []).append(part)
    return [(name, some) for (name, _), some in sorted(found.items())]


def _with_serials(parts: Iterable[LetterPart]) -> str:
    """Codes in a row, each with the serial that the order gave the part, if it gave one."""
    return ", ".join(f"{_together([one.code])}{f' ({one.serial})' if one.serial else ''}" for one in parts)


def _together(codes: Iterable[str]) -> str:
    """Codes in a row, each of which stays on one line."""
    return ", ".join(code(one).replace(" ", "\u00a0") for one in codes)


def _delivered(delivery: Delivery) -> str:
    """When a part was shipped, with which paper and for which order, as far as that is known."""
    on, paper, order = delivery
    said = (day(on) if on else "", f"with {paper}" if paper else "", f"order {order}" if order else "")
    return ", ".join(one for one in said if one) or "no shipment on record"


def _by_delivery(parts: Iterable[LetterPart]) -> list[tuple[Delivery, list[LetterPart]]]:
    """Parts that came together, the first that came before all others."""
    found: dict[Delivery, list[LetterPart]] = {}
    for part in parts:
        found.setdefault(part.delivery, []).append(part)
    return sorted(found.items(), key=lambda one: (one[0][0] or date.min, one[0][1] or "", one[0][2] or ""))


def _html(template: str, **facts: Any) -> str:
    tools = {
        "grouped": _grouped, "together": _together, "with_serials": _with_serials, "delivered": _delivered,
        "by_delivery": _by_delivery, "by_name": _by_name, **drawing_tools(),
    }  # fmt: skip
    html: str = templates().get_template(template).render(**facts, **tools)
    return html


def _pdf(html: str, stored: Stored, at: datetime, attached: Sequence[tuple[str, bytes, str]]) -> bytes:
    from weasyprint import Attachment

    files = [
        Attachment(string=content, name=name, description=said, created=at, modified=at, relationship="Data")
        for name, content, said in attached
    ]
    return pages(html, stored, attachments=files, pdf_variant="pdf/a-3a")
