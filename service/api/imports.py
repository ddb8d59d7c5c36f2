"""Tables from a spreadsheet: tried, row by row, and taken in, all rows or none."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from flask import request
from flask_smorest import abort

from schemas import tables
from schemas.answers import schema_of
from schemas.base import ActIn
from schemas.cures import LogHeader
from schemas.words import ImportedTable, RowFate
from service.api.access import current_act
from service.api.base import Blueprint, answered
from service.api.examples import example_of
from service.api.files import CSV, WORKBOOK
from service.database import reading
from service.operations import taking_in
from service.operations.door.act import Act
from service.operations.stock.registers import numbers_of
from service.operations.taking_in import FateOfRow, Imported, OnlyTried, Places
from service.readings.sheets import read_sheet
from service.readings.text import UnreadableFile

blp = Blueprint("imports", "What a shop kept in spreadsheets before: tried, and taken in")

_FILE = {
    "requestBody": {
        "required": True,
        "content": {
            kind: {"schema": {"type": "string", "format": "binary"}}
            for kind in (CSV, WORKBOOK, "application/octet-stream")
        },
    }
}
_TABLE = f"<any({','.join(repr(str(name)) for name in ImportedTable)}):table>"


@blp.arguments(LogHeader, location="headers")
@blp.arguments(ActIn, location="query")
@blp.response(201, schema_of(Imported), example=example_of(Imported))
def import_rows(header: dict[str, Any], asked: dict[str, Any], table: str) -> Any:
    """Take in a table, as CSV or as a workbook: all of its rows, or none.

    The first row names the columns, which are called as the fields of the body that adds one of these things; what lies
    deeper has dots (`containers.net_g`, `plies.material`), or its last word alone where that says it. A row that
    repeats the name (or part number and revision, lot, or reference of an order) of the row before it goes on with the
    same thing and adds to its lists. Materials, suppliers and places are named or numbered. Words of a list stand with
    commas between them. At most 1,000 rows.
    """
    act = current_act(asked)
    found, wrong = _read(table)
    if wrong:
        raise taking_in.all_or_none(_tried(act, table, found, wrong))
    made = taking_in.import_rows(act, **_asked(table, found))
    return answered(made, Imported, 201)


@blp.arguments(ActIn, location="query")
@blp.response(200, schema_of(Imported), example=example_of(Imported))
def try_import(asked: dict[str, Any], table: str) -> Any:
    """Try a table out: what would become of each of its rows. Nothing is written.

    Each row is tried after those before it, so that what stands twice in the file shows.
    """
    fates = _tried(current_act(asked), table, *_read(table))
    refused = sum(fate.fate == RowFate.REFUSED for fate in fates)
    said = Imported(ImportedTable(table), done=False, rows=len(fates), refused=refused, fates=tuple(fates))
    return answered(said, Imported)


def _tried(act: Act, table: str, found: list[tables.Entry], wrong: list[FateOfRow]) -> list[FateOfRow]:
    """The fate of each row, in the order of the file, what cannot be read among them; all that was begun is undone.

    Without the request's key: what was answered to an import under it is no answer to a trial.
    """
    fates = list(wrong)
    if found:
        try:
            taking_in.import_rows(replace(act, idempotency_key=None), **_asked(table, found), only_try=True)
        except OnlyTried as tried:
            fates += tried.fates
    return sorted(fates, key=lambda fate: fate.line)


def _asked(table: str, found: Iterable[tables.Entry]) -> dict[str, Any]:
    return {
        "table": ImportedTable(table),
        "rows": [entry.loaded for entry in found],
        "places": [_places(entry) for entry in found],
    }


def _places(entry: tables.Entry) -> Places:
    return Places(entry.lines, entry.places)


def _read(table: str) -> tuple[list[tables.Entry], list[FateOfRow]]:
    """What can be read of the file; and the rows that cannot."""
    try:
        sheet = read_sheet(request.get_data())
        entries = tables.entries(table, sheet.columns, sheet.rows, decimal_comma=sheet.decimal_comma)
    except UnreadableFile as trouble:
        abort(422, messages={"file": {f"line {trouble.line}, column {trouble.column}": [trouble.sentence]}})
    except LookupError as strange:
        columns = ", ".join(tables.columns_of(table))
        abort(422, message=f"There is no column {strange.args[0][:60]} here; there are {columns}.")
    with reading():
        numbers = numbers_of(**tables.names_in(table, entries))
    tables.put_numbers(table, entries, numbers)
    good, wrong = [], []
    for entry in entries:
        fates = _wrong(table, entry)
        wrong += fates
        if not fates:
            good.append(entry)
    return good, wrong


def _wrong(table: str, entry: tables.Entry) -> list[FateOfRow]:
    """A row's first fault, if it has any: the others may well follow from it."""
    places = _places(entry)
    found = tables.load(table, entry)
    if entry.wrong:
        first = entry.wrong[0]
        return places.refused(first.line, first.column, first.detail)
    if found:
        pointer, detail = found[0]
        line, column = places.of(pointer)
        name = pointer.rpartition("/")[2]
        return places.refused(line, column or (None if name.isdigit() else name or None), detail)
    return []


blp.custom(f"/imports/{_TABLE}", import_rows, right="import_rows", method="POST", doc=_FILE)
blp.custom(f"/imports/{_TABLE}/dry-run", try_import, right="import_rows", method="POST", doc=_FILE)
