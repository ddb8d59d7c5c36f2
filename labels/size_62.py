"""The 62 mm roll: everything, as long as its words need."""

from math import ceil

from labels import qr
from labels.blocks import (
    PICTOGRAM_SIDES_MM,
    THIN_MM,
    BoxType,
    alert_block,
    code_block,
    hazard_row,
    issue_text,
    on_dots,
    symbol_drawing,
)
from labels.column import QUIET_MM, Page, Printed, Type, box, head, notes, refusal
from labels.errors import DoesNotFit
from labels.fonts import REGULAR
from labels.layout import Bar, Block, moved, spaced, stacked, text_block

WIDTH_MM = 62.0
SHORTEST_MM, LONGEST_MM = 24.0, 200.0

_TYPE = Type(title=14, details=8.5, notes=7.5, box=BoxType(caption=7.5, value=17, least_value=9, side=11), alert=9)
_MARGIN = 16 * qr.DOT_MM
_STATEMENT_PT = 7.5
_GAP = 1.6


def arrange(printed: Printed) -> Page:
    """Set a label of this width.

    Raises:
        DoesNotFit: a text is too wide for the roll at its least size, or the label would be unreasonably long.
    """
    words = printed.words
    width = WIDTH_MM - 2 * _MARGIN
    blocks = [_top(printed, width)]
    if words.box:
        boxes = (box(words.box, width, _TYPE, step / 20) for step in range(20, 11, -1))
        fitting = next((block for block in boxes if block), None)
        if fitting is None:
            raise refusal("62", words, "use shorter texts")
        blocks.append(fitting)
    if words.hazard.statements:
        blocks.append(_hazards(printed, width))
    blocks.extend(notes(words.notes_with(courtesy=True), width, _TYPE.notes))
    body = stacked(blocks, _GAP)
    height = max(SHORTEST_MM, float(ceil(body.height + 2 * _MARGIN)))
    if height > LONGEST_MM:
        raise refusal("62", words, f"it would be {height:.0f} mm long")
    return Page(WIDTH_MM, height, moved(body.marks, _MARGIN, _MARGIN))


def _top(printed: Printed, width: float) -> Block:
    """The alert if any, then the symbol with code, title and details beside it."""
    words = printed.words
    symbol = symbol_drawing(printed.symbol, printed.address)
    column_x = symbol.height + QUIET_MM + 1.0
    column_width = width - column_x
    code = code_block(printed.code, column_width, 20, 7)
    if code is None:
        raise DoesNotFit(f"The code {printed.code} is too long for a label.")
    issue = issue_text(printed.issue, words.noun)
    column = stacked(
        [code, *([text_block([spaced(issue, REGULAR)], 7)] if issue else []), _head(printed, column_width)], 1.7
    )
    alert = alert_block(words.alert, width, _TYPE.alert * words.alert_scale) if words.alert else Block((), 0.0)
    # Below an alert the quiet zone of the symbol stays white, and its modules stay on whole dots.
    top = on_dots(alert.height) + QUIET_MM if words.alert else 0.0
    height = max(symbol.height + QUIET_MM - _GAP, column.height)
    return Block(
        (*alert.marks, *moved(symbol.marks, 0, top), *moved(column.marks, column_x, top)),
        top + height,
    )


def _head(printed: Printed, width: float) -> Block:
    for title_lines, scale in ((1, 1.0), (2, 1.0), (2, 0.9), (2, 0.8), (3, 0.8), (4, 0.75)):
        block = head(printed.words, width, _TYPE, scale, title_lines, shorten=False)
        if block:
            return block
    shortest = head(printed.words, width, _TYPE, 0.75, 4, shorten=True)
    assert shortest is not None
    return shortest


def _hazards(printed: Printed, width: float) -> Block:
    hazard = printed.words.hazard
    if not printed.frame and hazard.pictograms:
        raise DoesNotFit("Pre-printed frames have no fixed place on a roll: use black frames, or 100x50 labels.")
    # Side by side while they are nearly full size; more of them are set into each other's corners.
    ways = [(side, False) for side in PICTOGRAM_SIDES_MM[:2]] + [(side, True) for side in PICTOGRAM_SIDES_MM]
    rows = (hazard_row(hazard, width, side, _STATEMENT_PT, frame=True, zigzag=zigzag) for side, zigzag in ways)
    row = next((block for block in rows if block), None)
    if row is None:
        raise refusal("62", printed.words, "use 100x50")
    return stacked([Block((Bar(0, 0, width, THIN_MM),), THIN_MM), row], 1.4)
