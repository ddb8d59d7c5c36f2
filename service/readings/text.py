"""From the bytes of a file to its lines and cells.

Lines end with CR LF, LF or CR and are counted from 1, as an editor counts them; columns are the cells of a line, also
counted from 1 when a person is told of them. A quoted cell may hold the delimiter but not a line break, so that one
stray quotation mark spoils one line and never the rest of the file.
"""

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass

MAX_BYTES = 20_000_000
MAX_LINE_LENGTH = 20_000

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_SIGNATURES = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"PK\x03\x04", "a workbook or a zip archive"),
    (b"\xd0\xcf\x11\xe0", "a workbook in a binary format"),
    (b"\x1f\x8b", "a compressed file"),
    (b"SQLite format 3", "a database"),
)


class UnreadableFile(ValueError):
    """The file can't be read as the profile says. ``line`` and ``column`` count from 1; the column is a cell."""

    def __init__(self, sentence: str, line: int = 1, column: int = 1) -> None:
        self.sentence = sentence
        self.line = line
        self.column = column
        super().__init__(f"Line {line}, column {column}: {sentence}")


@dataclass(frozen=True)
class Text:
    lines: list[str]
    encoding: str
    ends_with_line_break: bool


def decode(raw: bytes) -> Text:
    """Find the encoding and split into lines.

    A byte order mark decides; without one the file is UTF-8 if it is valid UTF-8, otherwise Windows-1252.
    """
    if len(raw) > MAX_BYTES:
        raise UnreadableFile(f"The file has {len(raw) / 1e6:.1f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read.")
    for signature, what in _SIGNATURES:
        if raw.startswith(signature):
            raise UnreadableFile(f"This is {what}, not a text file. Export the readings as CSV or text.")
    text, encoding = _decoded(raw)
    text = text.rstrip("\x1a").lstrip("\ufeff")
    found = _CONTROL.search(text)
    if found:
        line = len(re.findall(r"\r\n|\r|\n", text[: found.start()])) + 1
        raise UnreadableFile(
            f"There is a control character (U+{ord(found.group()):04X}) that no text file has. "
            "The file is binary, damaged, or UTF-16 without its mark.",
            line,
        )
    if not text.strip():
        raise UnreadableFile("The file is empty.")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    ends_with_line_break = lines[-1] == ""
    while lines and not lines[-1]:
        lines.pop()
    for number, line_text in enumerate(lines, 1):
        if len(line_text) > MAX_LINE_LENGTH:
            raise UnreadableFile(
                f"This line has {len(line_text)} characters; at most {MAX_LINE_LENGTH} are read.", number
            )
    return Text(lines=lines, encoding=encoding, ends_with_line_break=ends_with_line_break)


def _decoded(raw: bytes) -> tuple[str, str]:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return raw.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError as error:
            raise UnreadableFile("The file says that it is UTF-16, and isn't valid UTF-16.") from error
    try:
        text = raw.decode("utf-8")
        return text, "UTF-8 with a byte order mark" if raw.startswith(b"\xef\xbb\xbf") else "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return raw.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError as error:
        line = len(re.findall(rb"\r\n|\r|\n", raw[: error.start])) + 1
        raise UnreadableFile(
            f"The byte {raw[error.start]:02X} belongs to no text in UTF-8 or Windows-1252. "
            "The file is binary or damaged.",
            line,
        ) from error


def splitter(delimiter: str) -> Callable[[str], list[str]]:
    """A function that splits one line into its cells. The delimiter ``" "`` stands for any run of white space."""

    def split_at_white_space(line: str) -> list[str]:
        if '"' not in line:
            return line.split()
        return _quoted(" ".join(line.split()), " ")

    def split_at_delimiter(line: str) -> list[str]:
        if '"' not in line:
            return line.split(delimiter)
        return _quoted(line, delimiter)

    return split_at_white_space if delimiter == " " else split_at_delimiter


def _quoted(line: str, delimiter: str) -> list[str]:
    return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])


def times(count: int) -> str:
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"


def shown(cell: str) -> str:
    """A cell as a sentence can quote it: trimmed, and cut after 40 characters."""
    cell = cell.strip()
    return f"“{cell if len(cell) <= 40 else cell[:39] + '…'}”"
