"""Tables from spreadsheets: what a cell does not hold is never read as empty."""

import io
from datetime import date
from typing import Any

import pytest
from openpyxl import Workbook

from service.readings.sheets import read_sheet
from service.readings.text import UnreadableFile


def _book(*rows: list[Any], merged: str | None = None) -> bytes:
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    if merged is not None:
        book.active.merge_cells(merged)
    book.save(out)
    return out.getvalue()


def test_a_formula_that_was_never_worked_out_and_a_cell_that_shows_an_error_are_named_not_left_out() -> None:
    heads = ["makers_lot", "expires_on", "count"]
    read = read_sheet(_book(heads, ["26-1", date(2027, 9, 30), 2.0]))
    assert read.rows == ((2, {"makers_lot": "26-1", "expires_on": "2027-09-30", "count": 2}),)
    for rows, line, column, said in (
        ([["26-1", date(2027, 9, 30), "=1+1"]], 2, 3, "never worked out; open the table, save it"),
        ([["26-1", date(2027, 9, 30), 1], ["26-2", "#N/A", 1]], 3, 2, "This cell shows #N/A in place of a value."),
    ):
        with pytest.raises(UnreadableFile, match=said) as found:
            read_sheet(_book(heads, *rows))
        assert (found.value.line, found.value.column) == (line, column)


def test_of_merged_cells_the_first_has_the_value_and_the_others_are_empty() -> None:
    read = read_sheet(_book(["name", "supplier"], ["Alder 10", "Fenwick"], ["Alder 11", None], merged="B2:B3"))
    assert read.rows == ((2, {"name": "Alder 10", "supplier": "Fenwick"}), (3, {"name": "Alder 11"}))
