"""Tables taken in: what a shop kept in spreadsheets before, all rows or none, and tried first."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import ImportedTable, RowFate
from service.operations.door.operation import Work, operation, tried_within
from service.operations.door.refusals import Refusal, Unprocessable
from service.operations.orders.placing import OrderPlaced, place_order
from service.operations.parts.designs import add_design
from service.operations.stock.receiving import receive_delivery, record_opening_stock
from service.operations.stock.registers import add_material, add_supplier

_ACTS: dict[ImportedTable, Callable[..., Any]] = {
    ImportedTable.SUPPLIERS: add_supplier,
    ImportedTable.MATERIALS: add_material,
    ImportedTable.LOTS: receive_delivery,
    ImportedTable.OPENING_STOCK: record_opening_stock,
    ImportedTable.DESIGNS: add_design,
    ImportedTable.ORDERS: place_order,
}
_GOES_WITH = "It goes with line"


@dataclass(frozen=True, slots=True)
class FateOfRow:
    """What becomes of one row of a table.

    Attributes
    ----------
    line
        Where it stands in the file, counted from 1 with the names of the columns.
    column
        The cell that stands in the way, if it is one.
    code
        What was made of it, by its code; or by its number, where it has no code.
    """

    line: int
    fate: RowFate
    column: str | None
    detail: str | None
    way_out: str | None
    code: str | None
    number: int | None


@dataclass(frozen=True, slots=True)
class Imported:
    """A table that was taken in, or only tried: row by row.

    Attributes
    ----------
    done
        False where it was tried: nothing was written.
    """

    table: ImportedTable
    done: bool
    rows: int
    refused: int
    fates: tuple[FateOfRow, ...]


@dataclass(frozen=True, slots=True)
class Places:
    """Where in the file one thing stands: its lines, and for each field the line and the name of its column."""

    lines: Sequence[int]
    fields: Mapping[str, tuple[int, str]]

    def fates(self, made: Any, at: str) -> list[FateOfRow]:
        """One for each of its lines; a refusal stands on the line that it is about."""
        if not isinstance(made, Refusal):
            fate = RowFate.THERE if isinstance(made, OrderPlaced) and made.already_there else RowFate.NEW
            row = made.order if isinstance(made, OrderPlaced) else made
            code, number = getattr(row, "code", None), getattr(row, "id", None)
            none = None if code else number
            return [FateOfRow(line, fate, None, None, None, code, none) for line in self.lines]
        line, column = self.of((made.pointer or "").removeprefix(at))
        return self.refused(line, column, made.sentence, made.way_out)

    def refused(self, line: int, column: str | None, detail: str, way_out: str | None = None) -> list[FateOfRow]:
        """That of all its lines, since they go together."""
        with_it = f"{_GOES_WITH} {line}."
        return [
            FateOfRow(each, RowFate.REFUSED, column, detail, way_out, None, None)
            if each == line
            else FateOfRow(each, RowFate.REFUSED, None, with_it, None, None, None)
            for each in self.lines
        ]

    def of(self, pointer: str) -> tuple[int, str | None]:
        """Line and column of the field that a pointer leads to, or of what it stands in."""
        while pointer:
            if pointer in self.fields:
                return self.fields[pointer]
            within = next((known for known in self.fields if known.startswith(f"{pointer}/")), None)
            if within is not None:
                return self.fields[within][0], None
            pointer = pointer.rpartition("/")[0]
        return self.lines[0], None


class OnlyTried(Exception):
    """How it would have gone; with it, all that was begun is undone."""

    def __init__(self, fates: tuple[FateOfRow, ...]) -> None:
        self.fates = fates
        super().__init__()


@operation
def import_rows(
    work: Work,
    *,
    table: ImportedTable,
    rows: Sequence[Mapping[str, Any]],
    places: Sequence[Places],
    only_try: bool = False,
) -> Imported:
    """Take in a table, each row by the rules that it is entered by alone: all of them, or none."""
    fates: list[FateOfRow] = []
    for n, (row, place) in enumerate(zip(rows, places, strict=True)):
        made = tried_within(work, _ACTS[table], f"/rows/{n}", **row)
        fates += place.fates(made, f"/rows/{n}")
    if only_try:
        raise OnlyTried(tuple(fates))
    if any(fate.fate == RowFate.REFUSED for fate in fates):
        raise all_or_none(fates)
    return Imported(table, done=True, rows=len(fates), refused=0, fates=tuple(fates))


def all_or_none(fates: Sequence[FateOfRow]) -> Unprocessable:
    """Nothing was taken in, since of some rows nothing can be made."""
    refused = [fate for fate in fates if fate.fate == RowFate.REFUSED]
    # A row that only goes with another says nothing of what is wrong.
    first = next((fate for fate in refused if not (fate.detail or "").startswith(_GOES_WITH)), refused[0])
    column = f", {first.column}" if first.column else ""
    return Unprocessable(
        f"Nothing was taken in: {len(refused)} of {len(fates)} rows cannot be. "
        f"Line {first.line}{column}: {first.detail}",
        way_out=first.way_out or "Put them right and send the whole table again; a dry run shows what becomes of each.",
        lines=[{"line": fate.line, "column": fate.column, "detail": fate.detail} for fate in refused[:50]],
    )
