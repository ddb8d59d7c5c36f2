"""What the three sizes share: the printed thing, type sizes, and the column of title, details, box and notes."""

from dataclasses import dataclass

from labels import qr
from labels.blocks import BoxType, box_block, inline_box
from labels.errors import DoesNotFit
from labels.fonts import BLACK, REGULAR, SEMIBOLD
from labels.layout import Block, Mark, joined, shortened, spaced, stacked, text_block, wrapped
from labels.wording import Box, Words

LEAST_PT = 5.0
QUIET_MM = qr.QUIET_MODULES * qr.MODULE_MM


@dataclass(frozen=True)
class Page:
    """One label, ready to be written as HTML."""

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Printed:
    """What a layout gets: the words, the code and its symbol, and whether to draw frames round pictograms."""

    words: Words
    code: str
    issue: int
    address: str
    symbol: qr.Symbol
    frame: bool


@dataclass(frozen=True)
class Type:
    """Sizes of type of a column at scale 1 [pt]."""

    title: float
    details: float
    notes: float
    box: BoxType
    alert: float


def scaled(size_pt: float, scale: float) -> float:
    """A size of type, never below the least that a 203 dpi printer sets legibly."""
    return max(LEAST_PT, size_pt * scale)


def _box_type(sizes: Type, scale: float) -> BoxType:
    return BoxType(
        caption=scaled(sizes.box.caption, scale),
        value=scaled(sizes.box.value, scale),
        least_value=scaled(sizes.box.least_value, scale),
        side=scaled(sizes.box.side, scale),
    )


def box(content: Box, width: float, sizes: Type, scale: float, extra: float = 0.0) -> Block | None:
    """The box at this scale, or None."""
    return box_block(content, width, _box_type(sizes, scale), extra)


def low_box(content: Box, width: float, sizes: Type, scale: float) -> Block | None:
    """Caption and value alone, on one line, at this scale, or None."""
    return inline_box(content, width, _box_type(sizes, scale))


def head(
    words: Words, width: float, sizes: Type, scale: float, title_lines: int, *, shorten: bool, brief: bool = False
) -> Block | None:
    """Title and details, the brief ones where asked for; None if the title needs more lines and may not lose words."""
    title_pt, details_pt = sizes.title * scale, scaled(sizes.details, scale)
    title = wrapped(spaced(words.title, BLACK), width, title_pt)
    if len(title) > title_lines:
        if not shorten:
            return None
        title = shortened(words.title, BLACK, width, title_pt, title_lines)
    blocks = [text_block(title, title_pt)]
    told = words.brief if brief and words.brief is not None else words.details
    details = joined(told, SEMIBOLD, width, details_pt)
    if details:
        blocks.append(text_block(details, details_pt, zero=True))
    return stacked(blocks, 0.1 * details_pt)


def notes(texts: tuple[str, ...], width: float, size_pt: float) -> list[Block]:
    """Storage, ratio and the like in one block, or none."""
    return [text_block(joined(texts, REGULAR, width, size_pt), size_pt)] if texts else []


def refusal(size: str, words: Words, way_out: str) -> DoesNotFit:
    """Why a label can't be had in this size."""
    what = "its hazard statements" if words.hazard.statements else "its text"
    return DoesNotFit(f"The label of “{words.title[:60]}” does not fit {size} with all of {what}: {way_out}.")
