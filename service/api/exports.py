"""Every table of the account as CSV, as a workbook, or as JSON lines; streamed, however large it is."""

import json
import tempfile
from collections.abc import Iterator
from itertools import islice
from typing import Any

import orjson
from flask import Response, g, request

from service.api.access import may, require
from service.api.base import Blueprint
from service.api.files import BYTES, CSV, WORKBOOK, file_doc
from service.database import reading
from service.operations.ledger import exporting
from service.operations.ledger.exporting import TABLES, ExportedTable, Value, columns_of, rows_of_table
from service.reports.drawing.sheets import MARK, as_csv, cells

blp = Blueprint("exports", "Every table of the account, for spreadsheets and other programs", right="export_account")

# What only those may fetch who may read what things cost.
_OF_COSTS = ("price", "hourly_rate")
LINES = "application/x-ndjson"
_KINDS = {"csv": CSV, "xlsx": WORKBOOK, "ndjson": LINES}
_AT_ONCE = 500
_BLOCK = 65_536
# What a sheet takes.
_MOST_ROWS = 1_000_000


def read_exports() -> list[ExportedTable]:
    """Which tables can be fetched with this key, with their columns."""
    shut = () if may(g.visitor, "read_costs") else _OF_COSTS
    return [table for table in exporting.read_exports() if table.name not in shut]


def export_table(table: str, kind: str) -> Response:
    """A table of the account, all of its rows: as CSV, as a workbook, or as JSON lines.

    Things are named by their codes, times in UTC, masses in grams (a movement's and an item's own amount in the unit
    beside it). Text that a spreadsheet would take for a formula stands behind an apostrophe in CSV, and is text in a
    workbook.
    """
    if table in _OF_COSTS:
        require(g.visitor, "read_costs")
    stream = {"csv": _csv, "xlsx": _workbook, "ndjson": _lines}[kind]
    asked = request.accept_mimetypes.best_match([_KINDS[kind], BYTES])
    response = Response(stream(table), mimetype=BYTES if asked == BYTES else _KINDS[kind])
    response.headers["Content-Disposition"] = f'attachment; filename="{table}.{kind}"'
    return response


def _lines(table: str) -> Iterator[bytes]:
    columns = columns_of(table)
    with reading():
        rows = rows_of_table(table)
        while block := list(islice(rows, _AT_ONCE)):
            yield b"".join(
                orjson.dumps(dict(zip(columns, row, strict=True)), option=orjson.OPT_APPEND_NEWLINE) for row in block
            )


def _csv(table: str) -> Iterator[bytes]:
    # With the mark by which spreadsheets know UTF-8. The heads go out before the account is asked for anything.
    yield (MARK + as_csv([columns_of(table)])).encode()
    with reading():
        rows = rows_of_table(table)
        while block := list(islice(rows, _AT_ONCE)):
            yield as_csv([[_flat(value) for value in row] for row in block]).encode()


def _flat(value: Value) -> Any:
    """What has an inside, as JSON; true and false as the import reads them."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, list | dict) else value


def _workbook(table: str) -> Iterator[bytes]:
    """Written into a file first, row by row, since a workbook is a zip; so memory stays flat."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    with tempfile.TemporaryFile() as file:
        with reading():
            rows = rows_of_table(table)
            for number in range(1, 1000):
                sheet = book.create_sheet(table[:25] if number == 1 else f"{table[:25]} {number}")
                sheet.freeze_panes = "A2"
                sheet.append(columns_of(table))
                written = 0
                for row in islice(rows, _MOST_ROWS):
                    sheet.append(cells(sheet, (v if isinstance(v, bool) else _flat(v) for v in row)))
                    written += 1
                if written < _MOST_ROWS:
                    break
        book.save(file)
        file.seek(0)
        while block := file.read(_BLOCK):
            yield block


_TABLE = f"<any({','.join(repr(name) for name in sorted(TABLES))}):table>"

blp.read("/exports", read_exports)
blp.custom(
    f"/exports/{_TABLE}.<any('csv','ndjson','xlsx'):kind>",
    export_table,
    right="export_account",
    doc=file_doc("The table", CSV, LINES, WORKBOOK),
)
