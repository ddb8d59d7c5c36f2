"""Setting type on a label: marks at known places in millimetres, blocks of them, and the rules of fitting.

Every text is measured before it is set. What is too wide is wrapped; what is still too tall is set smaller by the
layouts, down to a limit; after that only a title may lose whole words from its end. Nothing is ever cut off.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from labels.fonts import CAP_HEIGHT, MM_PER_PT, width_mm

LEADING = 1.16
_TAIL = 0.22
"""Room below the last baseline for descenders, of the em."""


@dataclass(frozen=True)
class Word:
    """A piece of text that stays on one line, with its weight; `leads` keeps it on the line of the word after it."""

    text: str
    weight: int
    leads: bool = False


@dataclass(frozen=True)
class Line:
    """One line of text on its baseline; `zero` sets slashed zeros."""

    x: float
    baseline: float
    size_pt: float
    words: tuple[Word, ...]
    zero: bool = False
    white: bool = False


@dataclass(frozen=True)
class Bar:
    """A filled black rectangle: a rule, or the ground of an alert."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Outline:
    """A rounded frame; x, y, width and height are those of its outer edge."""

    x: float
    y: float
    width: float
    height: float
    stroke: float
    radius: float


@dataclass(frozen=True)
class Drawing:
    """A square vector drawing with its words for those who can't see it."""

    x: float
    y: float
    side: float
    view_box: str
    svg: str
    says: str


Mark = Line | Bar | Outline | Drawing


@dataclass(frozen=True)
class Block:
    """Marks that belong together, placed from their own top left corner."""

    marks: tuple[Mark, ...]
    height: float


def moved(marks: Iterable[Mark], dx: float, dy: float) -> tuple[Mark, ...]:
    """The marks, further right and down."""
    return tuple(
        replace(mark, x=mark.x + dx, baseline=mark.baseline + dy)
        if isinstance(mark, Line)
        else replace(mark, x=mark.x + dx, y=mark.y + dy)
        for mark in marks
    )


def line_width(words: Sequence[Word], size_pt: float) -> float:
    """Width of words on one line with spaces between them [mm]."""
    return sum(width_mm(word.text, word.weight, size_pt) for word in words) + sum(
        width_mm(" ", word.weight, size_pt) for word in words[:-1]
    )


def _broken(word: Word, width: float, size_pt: float) -> list[Word]:
    """A word wider than the line, in pieces that fit: all its characters are still printed."""
    pieces = [""]
    for char in word.text:
        if pieces[-1] and width_mm(pieces[-1] + char, word.weight, size_pt) > width:
            pieces.append("")
        pieces[-1] += char
    return [Word(piece, word.weight) for piece in pieces]


def wrapped(words: Iterable[Word], width: float, size_pt: float) -> list[tuple[Word, ...]]:
    """Words in lines no wider than `width` [mm]."""
    lines: list[list[Word]] = [[]]
    # What the words of the last line take, and what the spaces after them take: measured once each.
    text = spaces = 0.0
    for word in words:
        for piece in _broken(word, width, size_pt) if width_mm(word.text, word.weight, size_pt) > width else [word]:
            own = width_mm(piece.text, piece.weight, size_pt)
            if lines[-1] and text + own + spaces > width:
                led = len(lines[-1]) > 1 and lines[-1][-1].leads
                if led and line_width([lines[-1][-1], piece], size_pt) <= width:
                    lines.append([lines[-1].pop()])
                else:
                    lines.append([])
                text = sum(width_mm(kept.text, kept.weight, size_pt) for kept in lines[-1])
                spaces = sum(width_mm(" ", kept.weight, size_pt) for kept in lines[-1])
            lines[-1].append(piece)
            text += own
            spaces += width_mm(" ", piece.weight, size_pt)
    return [tuple(line) for line in lines if line]


def spaced(text: str, weight: int) -> list[Word]:
    """A text as words."""
    return [Word(part, weight) for part in text.split(" ") if part]


def breaks(parts: Sequence[str], weight: int, width: float, size_pt: float) -> bool:
    """Whether a part is too wide to stay on one line."""
    return any(line_width(spaced(part, weight), size_pt) > width for part in parts)


def joined(parts: Sequence[str], weight: int, width: float, size_pt: float) -> list[tuple[Word, ...]]:
    """Parts on as few lines as they need, with a middle dot between two on one line.

    A part breaks only if it is wider than a line, and then nothing follows on its last line.
    """
    lines: list[tuple[Word, ...]] = []
    open_line = False
    for part in parts:
        own = wrapped(spaced(part, weight), width, size_pt)
        together = (*lines[-1], Word("·", weight), *own[0]) if open_line and len(own) == 1 else ()
        if together and line_width(together, size_pt) <= width:
            lines[-1] = together
        else:
            lines.extend(own)
            open_line = len(own) == 1
    return lines


def shortened(text: str, weight: int, width: float, size_pt: float, most_lines: int) -> list[tuple[Word, ...]]:
    """A title in at most so many lines: whole words go from its end, and an ellipsis says so."""
    words = spaced(text, weight)
    lines = wrapped(words, width, size_pt)
    while len(lines) > most_lines and len(words) > 1:
        words = words[:-1]
        lines = wrapped([*words[:-1], Word(words[-1].text.rstrip(",;:-–") + "…", weight)], width, size_pt)
    stem = words[0].text
    while len(lines) > most_lines and len(stem) > 1:
        stem = stem[:-1]
        lines = wrapped([Word(stem + "…", weight)], width, size_pt)
    return lines


def text_height(lines: int, size_pt: float) -> float:
    """From the top of the first capitals to the last descender [mm]."""
    return (CAP_HEIGHT + (lines - 1) * LEADING + _TAIL) * size_pt * MM_PER_PT


def text_block(lines: Sequence[Sequence[Word]], size_pt: float, *, zero: bool = False) -> Block:
    """Lines of one size, flush left."""
    em = size_pt * MM_PER_PT
    return Block(
        tuple(
            Line(0, (CAP_HEIGHT + row * LEADING) * em, size_pt, tuple(line), zero=zero)
            for row, line in enumerate(lines)
        ),
        text_height(len(lines), size_pt),
    )


def stacked(blocks: Sequence[Block], gap: float) -> Block:
    """Blocks below each other."""
    marks: list[Mark] = []
    y = 0.0
    for number, block in enumerate(blocks):
        y += gap if number else 0.0
        marks.extend(moved(block.marks, 0, y))
        y += block.height
    return Block(tuple(marks), y)
