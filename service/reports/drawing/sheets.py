"""Tables for spreadsheets: CSV and cells in which text stays text, whatever it begins with."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

# A spreadsheet takes what begins with these for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
# What a cell of a workbook takes.
_MOST_LETTERS = 32_767
MARK = "\ufeff"
"""By it a spreadsheet knows UTF-8."""


def as_csv(rows: Iterable[Sequence[Any]]) -> str:
    """Rows by RFC 4180. Text that would be taken for a formula stands behind an apostrophe.

    >>> as_csv([["=1+1", -2, None]])
    "'=1+1,-2,\\r\\n"
    """
    out = io.StringIO()
    csv.writer(out).writerows([_plain(value) for value in row] for row in rows)
    return out.getvalue()


def _plain(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value


def cells(sheet: Any, row: Iterable[Any]) -> list[Any]:
    """A row of a workbook that is being written; a letter that no workbook takes is told by a mark."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    made = []
    for value in row:
        if isinstance(value, str):
            cell = WriteOnlyCell(sheet, ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)[:_MOST_LETTERS])
            cell.data_type = "s"
            made.append(cell)
        else:
            made.append(value)
    return made
