"""What stands above the readings: title lines, the line with the columns' names, a line with their units."""

from dataclasses import dataclass

from .sniff import Table, kind_of
from .text import Text, shown, splitter
from .words import is_unit_cell

_LONGEST_NAME = 200


@dataclass(frozen=True)
class Heading:
    """``cells`` has one name a column, empty without a header; a line of units is joined to it.

    ``named`` counts the cells of the last line above the readings, ``named_line``, whether it is a header or not.
    """

    line: int | None
    cells: tuple[str, ...]
    titles: tuple[str, ...]
    found: tuple[str, ...]
    named: int = 0
    named_line: int = 1
    units: tuple[str, ...] = ()


def find_heading(text: Text, table: Table) -> Heading:
    split = splitter(table.delimiter)
    width = len(table.kinds)
    above = [(n, split(line)) for n, line in enumerate(text.lines[: table.first - 1], 1) if line.strip()]
    units: tuple[str, ...] = ()
    if len(above) > 1 and _is_units(above[-1][1], table):
        units = tuple(cell.strip() for cell in (*above[-1][1], *[""] * width)[:width])
        above = above[:-1]
    empty = ("",) * width
    if not above:
        return Heading(None, empty, (), ("The file has no header.",))
    line, cells = above[-1]
    trimmed = list(cells)
    while trimmed and not trimmed[-1].strip():
        trimmed.pop()
    if len(trimmed) <= width and _is_header(trimmed, table):
        names = tuple(cell.strip() for cell in (*trimmed, *[""] * width)[:width])
        titles = tuple(text.lines[n - 1].strip() for n, _ in above[:-1])
        found = [f"The columns are named on line {line}."]
        if titles:
            found.append(
                f"{len(titles)} title lines stand before it." if len(titles) > 1 else "A title line stands before it."
            )
        if units:
            found.append("A line of units follows it.")
        return Heading(line, names, titles, tuple(found), len(trimmed), line, units)
    titles = tuple(text.lines[n - 1].strip() for n, _ in above)
    what = f"{shown(titles[-1])} names no columns" if len(titles) == 1 else f"{len(titles)} title lines name no columns"
    return Heading(None, empty, titles, (f"{what}; the file has no header.",), len(trimmed), line)


def _is_units(cells: list[str], table: Table) -> bool:
    others = [
        cell
        for place, cell in enumerate(cells[: len(table.kinds)])
        if place not in table.time_columns and table.kinds[place] != "text" and cell.strip()
    ]
    return bool(others) and all(is_unit_cell(cell) for cell in others)


def _is_header(cells: list[str], table: Table) -> bool:
    """Names, not readings: text above the time, a name for all columns but one, and not two equal numbers."""
    width = len(table.kinds)
    filled = [cell.strip() for cell in cells if cell.strip()]
    if len(filled) < max(2, width - 1 - table.kinds.count("none")) or max(map(len, filled)) > _LONGEST_NAME:
        return False
    place = table.time_columns[0]
    first = cells[place].strip() if place < len(cells) else ""
    if kind_of(first, table.decimal) not in ("text", "none"):
        return False
    named = [cell.strip() for i, cell in enumerate(cells) if i not in table.time_columns and cell.strip()]
    has_words = any(kind_of(cell, table.decimal) == "text" for cell in named)
    return has_words or (len(named) > 1 and len(set(named)) == len(named))
