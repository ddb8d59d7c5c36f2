"""Finding the table in a file: delimiter, decimal sign, where readings begin, and what kind of thing a column holds."""

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .profile import MAX_COLUMNS, MISSING_WORDS, DecimalSign, Delimiter
from .stamps import clock, date_tokens, elapsed_hms, split_stamp
from .temperatures import number
from .text import Text, UnreadableFile, splitter

Kind = Literal["date_time", "date", "clock", "number", "text", "none"]

# In this order they win when two explain the file equally well.
_TRIED: tuple[Delimiter, ...] = ("\t", ";", "|", ",", " ")
_SAMPLED = 300  # lines from the beginning, and as many again from all over the rest
_MISSING = frozenset(MISSING_WORDS)
_DECIMAL_COMMA = re.compile(r"\s*[+\-−]?\d+,\d+\s*(?:°?\s*[CFK])?\s*")
_DECIMAL_POINT = re.compile(r"\s*[+\-−]?\d+\.\d+\s*(?:°?\s*[CFK])?\s*")
_SEPARATOR_LINE = re.compile(r"\"?sep=(.)\"?", re.I)
_EPOCH_LOW, _EPOCH_HIGH = 631_152_000, 4_102_444_800  # the years 1990 to 2099


@dataclass(frozen=True)
class Table:
    """The rows with readings, sampled from the first on, and what stands before them.

    ``kinds`` has one kind a column; ``counting`` are the columns of numbers that only rise; ``first`` is the number
    of the first line with readings.
    """

    delimiter: Delimiter
    decimal: DecimalSign
    kinds: tuple[Kind, ...]
    rows: tuple[tuple[int, list[str]], ...]
    time_columns: tuple[int, ...]
    counting: tuple[int, ...]
    first: int

    def column(self, place: int) -> list[str]:
        return [cells[place].strip() for _, cells in self.rows if place < len(cells)]


def is_missing(cell: str) -> bool:
    return cell.strip().casefold() in _MISSING


def kind_of(cell: str, decimal: DecimalSign) -> Kind:
    """What a cell holds, taken by itself; "none" for a word that stands for no value."""
    cell = cell.strip()
    if is_missing(cell):
        return "none"
    if cell.isascii() and cell.isdigit() and len(cell) in (8, 12, 14) and cell.startswith(("19", "20")):
        if len(cell) == 8 and 1 <= int(cell[4:6]) <= 12 and 1 <= int(cell[6:]) <= 31:
            return "date"
        if len(cell) > 8 and split_stamp(cell):
            return "date_time"
    try:
        number(cell, decimal)
        return "number"
    except ValueError:
        pass
    stamp = split_stamp(cell)
    if stamp and date_tokens(stamp[0]):
        return "date_time"
    if date_tokens(cell):
        return "date"
    if clock(cell):
        return "clock"
    try:
        elapsed_hms(cell)
        return "clock"
    except ValueError:
        return "text"


def find_table(text: Text) -> Table:
    """The table that explains most of the file's lines; refused if none holds a time and a number."""
    numbered = [(number, line) for number, line in enumerate(text.lines, 1) if line.strip()]
    told = _SEPARATOR_LINE.fullmatch(numbered[0][1].strip()) if numbered else None
    tried = [d for d in _TRIED if told and d == told[1]] or list(_TRIED)
    rest = numbered[_SAMPLED:]
    sampled = [*numbered[:_SAMPLED], *rest[:: len(rest) // _SAMPLED + 1]]
    best: tuple[tuple[int, int], Table] | None = None
    for delimiter in tried:
        found = _table(sampled, delimiter)
        if found and (best is None or found[0] > best[0]):
            best = found
    if best is None:
        line, column = (numbered[0][0], 1) if numbered else (1, 1)
        raise UnreadableFile("No line of this file holds a time and a temperature beside each other.", line, column)
    return best[1]


def _table(numbered: Sequence[tuple[int, str]], delimiter: Delimiter) -> tuple[tuple[int, int], Table] | None:
    split = splitter(delimiter)
    rows = [(number, split(line)) for number, line in numbered]
    widths = Counter(len(cells) for _, cells in rows if 1 < len(cells) <= MAX_COLUMNS)
    if not widths:
        return None
    most = max(widths.values())
    width = max(w for w, count in widths.items() if count == most)
    rows = [(number, cells) for number, cells in rows if len(cells) == width]
    later = rows[len(rows) // 3 :]
    decimal = _decimal(later)
    kinds = tuple(_column_kind([cells[place] for _, cells in later], decimal) for place in range(width))
    counting = tuple(p for p, kind in enumerate(kinds) if kind == "number" and _rises(later, p, decimal))
    time_columns, rank = _time_columns(kinds, counting, later, decimal)
    others = [place for place in range(width) if place not in time_columns and kinds[place] == "number"]
    if not time_columns or not others:
        return None
    start = next((i for i, (_, cells) in enumerate(rows) if _is_reading(cells, kinds, time_columns, decimal)), None)
    if start is None:
        return None
    rows = [row for row in rows[start:] if _is_reading(row[1], kinds, time_columns, decimal)]
    table = Table(
        delimiter=delimiter,
        decimal=decimal,
        kinds=kinds,
        rows=tuple(rows),
        time_columns=time_columns,
        counting=counting,
        first=rows[0][0],
    )
    return (rank, len(rows)), table


def _decimal(rows: Sequence[tuple[int, list[str]]]) -> DecimalSign:
    cells = [cell for _, row in rows for cell in row]
    commas = sum(bool(_DECIMAL_COMMA.fullmatch(cell)) for cell in cells)
    points = sum(bool(_DECIMAL_POINT.fullmatch(cell)) for cell in cells)
    return "," if commas > points else "."


def _column_kind(cells: Sequence[str], decimal: DecimalSign) -> Kind:
    counts = Counter(kind_of(cell, decimal) for cell in cells)
    empty = counts.pop("none", 0)
    if not counts:
        return "none" if empty else "text"
    kind, count = counts.most_common(1)[0]
    return kind if count >= 0.6 * sum(counts.values()) else "text"


def _time_columns(
    kinds: Sequence[Kind], counting: Sequence[int], rows: Sequence[tuple[int, list[str]]], decimal: DecimalSign
) -> tuple[tuple[int, ...], int]:
    """The columns that tell the time, and how plainly they do: 3 date and clock, 2 since 1970 or a clock, 1 a count."""
    if "date_time" in kinds:
        return (kinds.index("date_time"),), 3
    if "date" in kinds and "clock" in kinds:
        return (kinds.index("date"), kinds.index("clock")), 3
    for place in counting:
        if epoch_kind(numbers_in([cells[place] for _, cells in rows], decimal)):
            return (place,), 2
    if "clock" in kinds:
        return (kinds.index("clock"),), 2
    return (tuple(counting[:1]), 1) if counting else ((), 0)


def numbers_in(cells: Sequence[str], decimal: DecimalSign) -> list[float]:
    """The cells that are numbers, without the others."""
    values = []
    for cell in cells:
        try:
            values.append(number(cell, decimal)[0])
        except ValueError:
            continue
    return values


def _rises(rows: Sequence[tuple[int, list[str]]], place: int, decimal: DecimalSign) -> bool:
    values = numbers_in([cells[place] for _, cells in rows], decimal)
    steps = [later - earlier for earlier, later in itertools.pairwise(values)]
    return bool(steps) and all(step >= 0 for step in steps) and sum(steps) > 0


def epoch_kind(values: Sequence[float]) -> Literal["epoch_s", "epoch_ms"] | None:
    """Seconds or milliseconds since 1970, if all numbers lie in the years 1990 to 2099 as one of them."""
    if not values:
        return None
    if all(_EPOCH_LOW <= value < _EPOCH_HIGH for value in values):
        return "epoch_s"
    if all(_EPOCH_LOW <= value / 1000 < _EPOCH_HIGH for value in values):
        return "epoch_ms"
    return None


def _is_reading(cells: list[str], kinds: Sequence[Kind], time_columns: Sequence[int], decimal: DecimalSign) -> bool:
    for place in time_columns:
        kind = kind_of(cells[place], decimal)
        # A spreadsheet writes midnight as a date alone.
        if kind != kinds[place] and not (kind == "date" and kinds[place] == "date_time"):
            return False
    numeric = [kind_of(cells[i], decimal) for i, kind in enumerate(kinds) if kind == "number" and i not in time_columns]
    return any(kind in ("number", "none") for kind in numeric)
