"""The 50 x 25 mm label: code, name, details and the one date, for bottles, parts and places.

It has no storage, no ratio and no room to write. A can's hazards are set in full or the size is refused (shop rule
40); a mixed pot, which stands beside its cans for an hour, has signal word and pictograms. Council Directive
92/58/EEC, annex III 1, lets containers that are used for brief periods be signed otherwise (read in MGN 556, annex 3,
which takes it over: gov.uk).
"""

from labels import qr
from labels.blocks import BoxType, alert_block, code_block, hazard_line, hazard_row, issue_text, symbol_drawing
from labels.column import QUIET_MM, Page, Printed, Type, box, head, low_box, refusal, scaled
from labels.errors import DoesNotFit
from labels.fonts import REGULAR
from labels.layout import Block, Mark, moved, spaced, stacked, text_block, wrapped
from labels.wording import Box

WIDTH_MM, HEIGHT_MM = 50.0, 25.0

_TYPE = Type(title=10, details=7, notes=6, box=BoxType(caption=6, value=10.5, least_value=6, side=7), alert=6.5)
_MARGIN = 16 * qr.DOT_MM
_PICTOGRAM_MM = 10.0
_SMALL_PICTOGRAM_MM = 5.5
_GAP, _WIDEST_GAP = 0.9, 2.2
_SCALES = tuple(step / 20 for step in range(24, 13, -1))

# How the column may be set, best first: lines of the title, scale, title loses words, box on one line.
_SETTINGS = (
    *((1, scale, False, False) for scale in _SCALES if scale >= 1.0),
    *((2, scale, False, False) for scale in _SCALES if scale >= 0.85),
    *((2, scale, False, low) for scale in _SCALES for low in (True, False)),
    *((2, scale, True, low) for scale in _SCALES for low in (False, True)),
    *((1, scale, True, True) for scale in _SCALES if scale < 0.9),
)


def arrange(printed: Printed) -> Page:
    """Set a label of this size.

    Raises:
        DoesNotFit: not even the smallest setting holds everything.
    """
    words = printed.words
    if words.hazard.pictograms and not printed.frame:
        raise DoesNotFit("Pre-printed frames have no place on 50x25 labels: use 100x50.")
    symbol = symbol_drawing(printed.symbol, printed.address)
    marks: list[Mark] = list(moved(symbol.marks, _MARGIN, _MARGIN))
    height = HEIGHT_MM - 2 * _MARGIN
    issue = issue_text(printed.issue, words.noun)
    if issue:
        note = text_block(wrapped(spaced(issue, REGULAR), symbol.height, 5.5), 5.5)
        if symbol.height + QUIET_MM + note.height > height + 1.0:
            raise refusal("50x25", words, "use 100x50, or a shorter host name for a smaller QR code")
        marks.extend(moved(note.marks, _MARGIN, _MARGIN + symbol.height + QUIET_MM))

    column_x = _MARGIN + symbol.height + QUIET_MM
    for title_lines, scale, shorten, low in _SETTINGS:
        column = _column(printed, WIDTH_MM - _MARGIN - column_x, scale, title_lines, shorten=shorten, low=low)
        if column is None:
            continue
        spare = height - sum(block.height for block in column)
        gaps = len(column) - 1
        if spare >= gaps * _GAP:
            stack = stacked(column, min(_WIDEST_GAP, spare / max(1, gaps)))
            return Page(WIDTH_MM, HEIGHT_MM, (*marks, *moved(stack.marks, column_x, _MARGIN)))
    raise refusal("50x25", words, "use 100x50")


def _column(
    printed: Printed, width: float, scale: float, title_lines: int, *, shorten: bool, low: bool
) -> list[Block] | None:
    words = printed.words
    blocks: list[Block | None] = []
    if words.alert:
        blocks.append(alert_block(words.alert, width, scaled(_TYPE.alert * min(words.alert_scale, 2.0), scale)))
    blocks.append(code_block(printed.code, width, 15 * scale, 7))
    blocks.append(head(words, width, _TYPE, scale, title_lines, shorten=shorten, brief=True))
    if words.box:
        date_only = Box(words.box.caption, words.box.value)
        blocks.append((low_box if low else box)(date_only, width, _TYPE, scale))
    if words.hazard.statements:
        if words.statements_on_the_cans:
            blocks.append(hazard_line(words.hazard, width, _SMALL_PICTOGRAM_MM, scaled(6, scale)))
        else:
            blocks.append(hazard_row(words.hazard, width, _PICTOGRAM_MM, scaled(6, scale), frame=True))
    there = [block for block in blocks if block]
    return there if len(there) == len(blocks) else None
