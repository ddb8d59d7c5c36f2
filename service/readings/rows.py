"""The lines of a file that hold readings: where they begin, what is left out, and how many cells they must have."""

from collections.abc import Callable, Iterator, Sequence

from .profile import ReadingProfile
from .text import Text, UnreadableFile, shown, splitter, times

MAX_ROWS = 200_000
_HEADER_SEARCHED = 200

Row = tuple[int, list[str]]
"""The number of a line, and its cells."""


class DataRows:
    """Iterates over the rows with readings, and notes what it left out."""

    def __init__(self, text: Text, profile: ReadingProfile, time_trouble: Callable[[list[str]], str | None]) -> None:
        self.notes: list[str] = []
        self._text = text
        self._profile = profile
        self._split = splitter(profile.delimiter)
        self._time_trouble = time_trouble
        self._used = _used_columns(profile)
        self._needed = _needed_width(profile)
        self.header_line = self._find_header()

    def __iter__(self) -> Iterator[Row]:
        lines, profile, split = self._text.lines, self._profile, self._split
        start = self._first_data_line()
        width: int | None = None
        if self.header_line is not None and profile.layout == "wide" and profile.delimiter == ",":
            # A header shows that commas in the numbers were taken for delimiters.
            width = max(len(profile.header) or len(split(lines[self.header_line - 1])), self._needed)
        count = repeated = ignored = 0
        for number in range(start, len(lines) + 1):
            line = lines[number - 1]
            if not line or line.isspace():
                continue
            if profile.ignored_starts and line.lstrip(' \t"').startswith(profile.ignored_starts):
                ignored += 1
                continue
            cells = split(line)
            if len(cells) < self._needed or (width is not None and len(cells) > width):
                if not any(cell.strip() for cell in cells):
                    continue
                if len(cells) < self._needed:
                    if number == len(lines) and not self._text.ends_with_line_break and count:
                        self.notes.append(f"Line {number}, the last, is cut short and was left out.")
                        continue
                    raise UnreadableFile(
                        f"The line has {_columns(len(cells))} where the profile needs {self._needed}.",
                        number,
                        len(cells),
                    )
                extra = next((i for i in range(width or 0, len(cells)) if cells[i].strip()), None)
                if extra is not None:
                    raise UnreadableFile(
                        f"{shown(cells[extra])} stands in a column of its own; the lines before have "
                        f"{_columns(width or 0)}. A decimal comma may have been taken for the delimiter.",
                        number,
                        extra + 1,
                    )
            if profile.header and self._is_header(cells):
                repeated += 1
                continue
            if width is None and profile.layout != "pairs":
                width = len(cells)
            if not cells[profile.time_columns[0]].strip() and not any(cell.strip() for cell in cells):
                continue
            count += 1
            if count > MAX_ROWS:
                raise UnreadableFile(f"The file has more than {MAX_ROWS} rows of readings.", number)
            yield number, cells
        if repeated:
            self.notes.append(f"The header stands {times(repeated)} among the readings and was left out.")
        if ignored:
            self.notes.append(f"Left out, as the profile says how such lines begin: {ignored} of them.")

    def _find_header(self) -> int | None:
        profile, lines = self._profile, self._text.lines
        if profile.header_line is None:
            return None
        if not profile.header:
            if profile.header_line > len(lines):
                raise UnreadableFile(
                    f"The file ends before line {profile.header_line}, where the profile expects the header.",
                    len(lines),
                )
            return profile.header_line
        if profile.header_line <= len(lines) and self._is_header(self._split(lines[profile.header_line - 1])):
            return profile.header_line
        for number, line in enumerate(lines[:_HEADER_SEARCHED], 1):
            if self._is_header(self._split(line)):
                self.notes.append(f"The header stands on line {number}, not {profile.header_line} as in the profile.")
                return number
        self._refuse_header()
        return None

    def _refuse_header(self) -> None:
        profile, lines = self._profile, self._text.lines
        number = min(profile.header_line or 1, len(lines))
        cells = self._split(lines[number - 1])
        for column in self._used:
            expected = profile.header[column] if column < len(profile.header) else ""
            given = cells[column] if column < len(cells) else ""
            if not _same(expected, given):
                raise UnreadableFile(
                    f"The header reads {shown(given)} where the profile expects {shown(expected)}; "
                    "the file is of another logger or its columns have changed.",
                    number,
                    column + 1,
                )
        raise UnreadableFile("The header that the profile expects isn't in the file.", number)

    def _is_header(self, cells: Sequence[str]) -> bool:
        header = self._profile.header
        return all(
            column < len(cells) and column < len(header) and _same(cells[column], header[column])
            for column in self._used
        )

    def _first_data_line(self) -> int:
        profile, lines = self._profile, self._text.lines
        if profile.first_data_line is not None:
            moved = (self.header_line or 0) - (profile.header_line or 0)
            return profile.first_data_line + moved
        if self.header_line is not None:
            return self.header_line + 1
        for number, line in enumerate(lines, 1):
            if self._time_trouble(self._split(line)) is None:
                return number
        column = profile.time_columns[0] + 1
        written = [number for number, line in enumerate(lines, 1) if line.strip()]
        typical = written[len(written) // 2]
        trouble = self._time_trouble(self._split(lines[typical - 1]))
        raise UnreadableFile(
            f"No line holds a time in column {column}, as the profile says. {trouble}", typical, column
        )


def _same(one: str, other: str) -> bool:
    return one == other or " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def _columns(count: int) -> str:
    return "1 column" if count == 1 else f"{count} columns"


def _used_columns(profile: ReadingProfile) -> tuple[int, ...]:
    columns = [*profile.time_columns, *(p.column for p in profile.probes if p.column is not None)]
    if profile.layout == "long":
        columns += [c for c in (profile.name_column, profile.value_column) if c is not None]
    return tuple(columns)


def _needed_width(profile: ReadingProfile) -> int:
    used = [*_used_columns(profile)]
    if profile.layout == "pairs" and profile.name_column is not None:
        used.append(profile.name_column + 1)
    return max(used) + 1
