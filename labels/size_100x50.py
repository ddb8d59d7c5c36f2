"""The 100 x 50 mm label: everything, for cans, drums, pots and kits.

Symbol and code on the left, the column of title, details, box and notes on the right, hazards along the foot.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from labels import qr
from labels.blocks import (
    FULL_PICTOGRAM_MM,
    PICTOGRAM_SIDES_MM,
    THIN_MM,
    BoxType,
    alert_block,
    code_block,
    hazard_row,
    issue_text,
    on_dots,
    symbol_drawing,
    symbol_side,
)
from labels.column import LEAST_PT, QUIET_MM, Page, Printed, Type, box, head, notes, refusal, scaled
from labels.errors import DoesNotFit
from labels.fonts import REGULAR, SEMIBOLD
from labels.layout import Bar, Block, Mark, breaks, moved, spaced, stacked, text_block, wrapped
from labels.wording import Words

WIDTH_MM, HEIGHT_MM = 100.0, 50.0

_TYPE = Type(title=16, details=9, notes=7.5, box=BoxType(caption=7.5, value=17, least_value=9, side=12), alert=9)
_MARGIN = 20 * qr.DOT_MM
_CODE_WIDTH = 22.0
_SCALES = tuple(step / 20 for step in range(30, 12, -1))
_WRITE_IN_EXTRA = 6.0
"""How much the box may grow where there is room, so that a date is easily written into it [mm]."""

# What gives way, and in which order: least scale of the column, least pictogram [mm], least type of statements [pt].
_YIELDING = (
    (1.0, FULL_PICTOGRAM_MM, 7.5),
    (0.9, FULL_PICTOGRAM_MM, 6.5),
    (0.8, 12.0, 6.0),
    (0.7, 10.0, 5.5),
    (0.65, 10.0, LEAST_PT),
)
_STATEMENT_PT = (9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5, LEAST_PT)

# How a column may be set, best first: lines of the title, scale, title loses words, the courtesy note stands.
_SETTINGS = (
    *((1, scale, False, True) for scale in _SCALES if scale >= 0.95),
    *((2, scale, False, True) for scale in _SCALES),
    *((2, scale, False, False) for scale in _SCALES if scale < 0.8),
    *((2, scale, True, False) for scale in _SCALES if scale < 0.8),
    *((1, scale, True, False) for scale in _SCALES if scale < 0.8),
)


def arrange(printed: Printed, width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> Page:
    """Set a label of this size, or of another that is as wide and as high as is said.

    Raises:
        DoesNotFit: not even the smallest setting holds everything.
    """
    words = printed.words
    side = symbol_side(printed.symbol)
    left = _left(printed, max(side, _CODE_WIDTH))
    column_x = _MARGIN + max(side + QUIET_MM, _CODE_WIDTH) + 2.5
    width, height = width_mm - 2 * _MARGIN, height_mm - 2 * _MARGIN
    column_width = width_mm - _MARGIN - column_x
    columns = _columns(words, column_width)

    whole = [column for column in columns if not column.shortened]
    # A name is kept whole as long as the statements stay at 5.5 pt; only then may it lose words.
    for yielding, choice in ((_YIELDING[:-1], whole), (_YIELDING, columns)):
        for least_scale, least_pictogram, least_pt in yielding:
            for strip in _strips(printed, width, least_pictogram, least_pt):
                room = height - (strip.height + 3.2 if strip.height else 0.0)
                fitting = next((column for column in choice if column.height <= room), None)
                if left.height > room or fitting is None or fitting.scale < least_scale:
                    continue
                marks = list(moved(left.marks, _MARGIN, _MARGIN))
                marks.extend(moved(_spread(words, fitting, room, column_width), column_x, _MARGIN))
                if strip.height:
                    top = height_mm - _MARGIN - strip.height
                    marks.append(Bar(_MARGIN, on_dots(top - 1.6), width, THIN_MM))
                    marks.extend(moved(strip.marks, _MARGIN, top))
                return Page(width_mm, height_mm, tuple(marks))
    if not printed.frame and words.hazard.pictograms:
        raise refusal("100x50", words, "pre-printed frames take too much room, so use black ones or the 62 mm roll")
    raise refusal("100x50", words, "use the 62 mm roll")


def _left(printed: Printed, width: float) -> Block:
    """Symbol, code and issue below each other."""
    code = code_block(printed.code, width, 17, 7)
    if code is None:
        raise DoesNotFit(f"The code {printed.code} is too long for this label: use the 62 mm roll.")
    blocks = [code]
    issue = issue_text(printed.issue, printed.words.noun)
    if issue:
        blocks.append(text_block(wrapped(spaced(issue, REGULAR), width, 7), 7))
    return stacked([symbol_drawing(printed.symbol, printed.address), stacked(blocks, 1.0)], QUIET_MM + 0.4)


@dataclass(frozen=True)
class _Column:
    """One way to set the column beside the symbol."""

    scale: float
    height: float
    blocks: tuple[Block, ...]
    shortened: bool


def _gap(scale: float) -> float:
    return 1.5 * scale


def _columns(words: Words, width: float) -> list[_Column]:
    """Every way to set the column, best first."""
    found = []
    for title_lines, scale, shorten, courtesy in _SETTINGS:
        texts = words.notes_with(courtesy=courtesy)
        notes_pt = scaled(_TYPE.notes, scale)
        if scale > 1 and (
            breaks(words.details, SEMIBOLD, width, _TYPE.details * scale) or breaks(texts, REGULAR, width, notes_pt)
        ):
            continue
        top = head(words, width, _TYPE, scale, title_lines, shorten=shorten)
        middle = box(words.box, width, _TYPE, scale) if words.box else None
        if top is None or (words.box and middle is None):
            continue
        alert_pt = scaled(_TYPE.alert * words.alert_scale, scale)
        blocks = [alert_block(words.alert, width, alert_pt)] if words.alert else []
        blocks.extend(block for block in (top, middle) if block)
        blocks.extend(notes(texts, width, notes_pt))
        height = sum(block.height for block in blocks) + _gap(scale) * (len(blocks) - 1)
        found.append(_Column(scale, height, tuple(blocks), shorten))
    return found


def _spread(words: Words, column: _Column, room: float, width: float) -> tuple[Mark, ...]:
    """The column with the spare height in its gaps and, where a date is to be written, in its box."""
    blocks, spare = list(column.blocks), room - column.height
    if words.box and words.box.write_in:
        extra = min(_WRITE_IN_EXTRA, spare / 2)
        spare -= extra
        plain = box(words.box, width, _TYPE, column.scale)
        grown = box(words.box, width, _TYPE, column.scale, extra)
        assert grown is not None
        blocks = [grown if block == plain else block for block in blocks]
    return stacked(blocks, _gap(column.scale) + min(1.6, spare / max(1, len(blocks) - 1))).marks


def _strips(printed: Printed, width: float, least_pictogram: float, least_pt: float) -> Iterator[Block]:
    """The hazard strip, the largest statements first; on stock with printed frames the pictograms can't shrink."""
    hazard = printed.words.hazard
    if not hazard.statements:
        yield Block((), 0.0)
        return
    sides = PICTOGRAM_SIDES_MM if printed.frame and hazard.pictograms else (FULL_PICTOGRAM_MM,)
    arrangements = [(side, False) for side in sides]
    if printed.frame and len(hazard.pictograms) > 2:
        arrangements = [(side, zigzag) for side in sides for zigzag in (False, True)]
    for text_pt in _STATEMENT_PT:
        for side, zigzag in arrangements:
            if text_pt >= least_pt and side >= least_pictogram:
                strip = hazard_row(hazard, width, side, text_pt, frame=printed.frame, zigzag=zigzag)
                if strip is not None:
                    yield strip
