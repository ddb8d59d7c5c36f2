"""A table that somebody keeps in a spreadsheet: CSV, or the first sheet of a workbook; each row with its line.

The first row that is not empty has the names of the columns. Lines are counted from 1, as the spreadsheet counts them.
A CSV file's columns end with a comma, a semicolon or a tab, whichever its first row has most of; where it is not the
comma, numbers may have a decimal comma. Encoding as in ``text``.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from .text import UnreadableFile, decode, shown

MOST_ROWS = 1000
MOST_COLUMNS = 200
# A workbook is a zip; what is larger unpacked holds something else than a thousand rows.
_UNPACKED_BYTES = 100_000_000


@dataclass(frozen=True)
class Sheet:
    """The columns, and every row that is not empty with the line that it begins on; empty cells are left out."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, Any]], ...]
    decimal_comma: bool = False


def read_sheet(raw: bytes) -> Sheet:
    """The table in a file; ``UnreadableFile`` names line and column of what stands in the way.

    >>> read_sheet(b"name;approved\\r\\nFenwick Resins;yes\\r\\n").rows
    ((2, {'name': 'Fenwick Resins', 'approved': 'yes'}),)
    """
    if raw.startswith(b"PK\x03\x04"):
        return _sheet(_workbook(raw), decimal_comma=False)
    delimiter, rows = _csv(raw)
    return _sheet(rows, decimal_comma=delimiter != ",")


def _csv(raw: bytes) -> tuple[str, Iterator[tuple[int, list[Any]]]]:
    lines = decode(raw).lines
    head = next(line for line in lines if line.strip())
    delimiter = max(",;\t", key=head.count)

    def rows() -> Iterator[tuple[int, list[Any]]]:
        read = csv.reader((f"{line}\n" for line in lines), delimiter=delimiter, strict=True)
        line = 1
        try:
            for cells in read:
                yield line, [cell.strip() or None for cell in cells]
                line = read.line_num + 1
        except csv.Error:
            raise UnreadableFile("A cell begins with a quotation mark that nothing ends.", line) from None

    return delimiter, rows()


def _workbook(raw: bytes) -> Iterator[tuple[int, list[Any]]]:
    from openpyxl import load_workbook
    from openpyxl.cell.cell import ERROR_CODES

    last = MOST_ROWS + 100
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            if sum(info.file_size for info in packed.infolist()) > _UNPACKED_BYTES:
                raise UnreadableFile("This workbook is larger than a table of a thousand rows can be.")
        book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        found = [
            (line, [_cell(value) for value in cells])
            for line, cells in enumerate(sheet.iter_rows(values_only=True, max_row=last), 1)
        ]
        book.close()
        for line, cells in found:
            for column, value in enumerate(cells, 1):
                if value in ERROR_CODES:
                    raise UnreadableFile(f"This cell shows {value} in place of a value.", line, column)
        # What another program wrote has formulas and not what they come to: that would be read as empty.
        book = load_workbook(io.BytesIO(raw), read_only=True)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for (line, values), cells in zip(found, sheet.iter_rows(max_row=last), strict=False):
            for column, (value, cell) in enumerate(zip(values, cells, strict=False), 1):
                if value is None and cell.data_type == "f":
                    raise UnreadableFile(
                        "This formula was never worked out; open the table, save it, and send it again.", line, column
                    )
        book.close()
    except UnreadableFile:
        raise
    except (zipfile.BadZipFile, LookupError, ValueError, TypeError, AttributeError, OSError, SyntaxError):
        # What the reader of workbooks says of a damaged one depends on where it is damaged.
        raise UnreadableFile("This workbook cannot be read; save it anew as .xlsx, or as CSV.") from None
    return iter(found)


def _cell(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value if value is None or isinstance(value, bool | int | float) else str(value)


def _sheet(rows: Iterable[tuple[int, list[Any]]], *, decimal_comma: bool) -> Sheet:
    columns: tuple[str, ...] = ()
    found: list[tuple[int, dict[str, Any]]] = []
    for line, cells in rows:
        while cells and cells[-1] is None:
            cells.pop()
        if not cells:
            continue
        if not columns:
            columns = _columns(line, cells)
            continue
        if len(cells) > len(columns):
            raise UnreadableFile(f"{shown(str(cells[-1]))} stands in a column without a name.", line, len(cells))
        if len(found) == MOST_ROWS:
            raise UnreadableFile(f"The table has more than {MOST_ROWS:,} rows; send it in several.", line)
        found.append((line, {name: cell for name, cell in zip(columns, cells, strict=False) if cell is not None}))
    if not found:
        raise UnreadableFile("There is no row below the names of the columns.")
    return Sheet(columns, tuple(found), decimal_comma)


def _columns(line: int, cells: list[Any]) -> tuple[str, ...]:
    if len(cells) > MOST_COLUMNS:
        raise UnreadableFile(f"There are {len(cells)} columns; at most {MOST_COLUMNS} are read.", line)
    names: list[str] = []
    for place, cell in enumerate(cells, 1):
        if cell is None:
            raise UnreadableFile("This column has no name.", line, place)
        if str(cell) in names:
            raise UnreadableFile(f"{shown(str(cell))} is the name of two columns.", line, place)
        names.append(str(cell))
    return tuple(names)
