"""The blocks that labels are made of: code, title, the box with the date that matters, hazards, alert, QR code."""

from dataclasses import dataclass

from labels import qr
from labels.codes import grouped
from labels.fonts import BLACK, BOLD, CAP_HEIGHT, MM_PER_PT, REGULAR, SEMIBOLD, width_mm
from labels.hazards import Hazard
from labels.layout import (
    Bar,
    Block,
    Drawing,
    Line,
    Mark,
    Outline,
    Word,
    line_width,
    moved,
    spaced,
    stacked,
    text_block,
    wrapped,
)
from labels.pictograms import FRAME, PICTOGRAMS
from labels.wording import Box

THIN_MM = 2 * qr.DOT_MM
THICK_MM = 4 * qr.DOT_MM
WRITE_IN_MM, WIDE_WRITE_IN_MM = 21.0, 32.0
"""Room to write a date by hand: at least, and where there is more of it."""

FULL_PICTOGRAM_MM = 14.2
"""Corner to corner of a square of 1 cm², the smallest on a package: CLP, Annex I, table 1.3 (reachonline.eu/clp)."""

PICTOGRAM_SIDES_MM = (FULL_PICTOGRAM_MM, 13.0, 12.0, 11.0, 10.0)
"""Sizes that pictograms may step down to [mm]."""

_PICTOGRAM_GAP = 0.5
_BESIDE_GAP = 1.6
_SYMBOL_PAD = 2


def on_dots(length_mm: float) -> float:
    """The nearest whole number of printer dots [mm], so that modules print evenly."""
    return round(length_mm / qr.DOT_MM) * qr.DOT_MM


def symbol_side(symbol: qr.Symbol) -> float:
    """Side of the symbol without its quiet zone [mm]."""
    return symbol.modules * qr.MODULE_MM


def symbol_drawing(symbol: qr.Symbol, address: str) -> Block:
    """The QR symbol without its quiet zone; the drawing has a rim so that no edge is trimmed by rounding."""
    rim = _SYMBOL_PAD * qr.MODULE_MM
    size = symbol.modules + 2 * _SYMBOL_PAD
    svg = f'<path d="{qr.path(symbol)}"/>'
    return Block(
        (Drawing(-rim, -rim, size * qr.MODULE_MM, f"{-_SYMBOL_PAD} {-_SYMBOL_PAD} {size} {size}", svg, address),),
        symbol_side(symbol),
    )


def code_block(code: str, width: float, largest_pt: float, smallest_pt: float) -> Block | None:
    """The code to read, check character apart, as large as the width allows."""
    em = width_mm(grouped(code), BLACK, 1)
    size = min(largest_pt, width / em)
    if size < smallest_pt:
        return None
    return text_block([spaced(grouped(code), BLACK)], size, zero=True)


def issue_text(issue: int, noun: str) -> str:
    """Which label of the item this is; the first one needs no words."""
    return f"label {issue} of this {noun}" if issue > 1 else ""


def alert_block(text: str, width: float, size_pt: float) -> Block:
    """A warning that can't be overlooked: white on black."""
    pad = 0.34 * size_pt * MM_PER_PT
    lines = wrapped(spaced(text, BLACK), width - 4 * pad, size_pt)
    inner = text_block(lines, size_pt)
    height = inner.height - 0.22 * size_pt * MM_PER_PT + 2 * pad
    marks: list[Mark] = [Bar(0, 0, width, height)]
    for mark in moved(inner.marks, 2 * pad, pad):
        assert isinstance(mark, Line)
        marks.append(Line(mark.x, mark.baseline, mark.size_pt, mark.words, white=True))
    return Block(tuple(marks), height)


@dataclass(frozen=True)
class BoxType:
    """Sizes of type inside the box [pt], and the least the value may shrink to."""

    caption: float
    value: float
    least_value: float
    side: float


def _value_lines(text: str, width: float, sizes: BoxType) -> tuple[list[tuple[Word, ...]], float]:
    words = spaced(text, BLACK)
    one_line = line_width(words, 1)
    size = max(min(sizes.value, width / one_line), sizes.least_value)
    return wrapped(words, width, size), size


def box_block(box: Box, width: float, sizes: BoxType, extra: float = 0.0) -> Block | None:
    """The date that matters, framed, with room beside it to write the opening date.

    None if the two cells don't fit side by side at these sizes.
    """
    pad = 1.3 + 0.04 * sizes.value
    em = sizes.caption * MM_PER_PT
    side_caption = ", ".join(part for part in (box.side_caption, box.side_note) if part)
    side_width = 0.0
    if box.write_in:
        side_caption = box.side_caption
        least = max(WRITE_IN_MM, width_mm(box.side_note, REGULAR, sizes.caption) + 2 * pad)
        free = width - width_mm(box.value, BLACK, sizes.value) - 2 * pad
        side_width = max(least, min(free, WIDE_WRITE_IN_MM))
    elif side_caption or box.side_value:
        wide = max(width_mm(side_caption, REGULAR, sizes.caption), width_mm(box.side_value, BOLD, sizes.side))
        side_width = wide + 2 * pad
    main_width = width - side_width
    room = main_width - 2 * pad
    if room < max(width_mm(box.caption, REGULAR, sizes.caption), 8.0):
        return None
    lines, value_pt = _value_lines(box.value, room, sizes)
    if len(lines) > (1 if side_width else 3):
        return None
    value = text_block(lines, value_pt)
    gap = 0.42 * em + 0.5
    top = pad + CAP_HEIGHT * em
    value_top = top + gap + extra
    bottom = value_top + value.height - 0.22 * value_pt * MM_PER_PT
    height = bottom + pad
    marks: list[Mark] = [
        Outline(0, 0, width, height, THICK_MM, 1.3),
        Line(pad, top, sizes.caption, (Word(box.caption, REGULAR),)),
        *moved(value.marks, pad, value_top),
    ]
    if side_width:
        left = main_width + pad
        marks.append(Bar(main_width, pad, THIN_MM, height - 2 * pad))
        marks.append(Line(left, top, sizes.caption, (Word(side_caption, REGULAR),)))
        if box.write_in and box.side_note:
            marks.append(Line(left, bottom, sizes.caption, (Word(box.side_note, REGULAR),)))
        elif box.side_value:
            marks.append(Line(left, bottom, sizes.side, (Word(box.side_value, BOLD),)))
    return Block(tuple(marks), height)


def inline_box(box: Box, width: float, sizes: BoxType) -> Block | None:
    """Caption and value on one line in a frame, where height is short; None if they don't fit this width."""
    pad = 1.2
    caption_width = width_mm(box.caption, REGULAR, sizes.caption)
    room = width - 2 * pad - caption_width - 1.2
    size = min(sizes.value, room / width_mm(box.value, BLACK, 1))
    if size < sizes.least_value:
        return None
    baseline = pad + CAP_HEIGHT * size * MM_PER_PT
    marks: tuple[Mark, ...] = (
        Outline(0, 0, width, baseline + pad, THICK_MM, 1.1),
        Line(pad, baseline, sizes.caption, (Word(box.caption, REGULAR),)),
        Line(pad + caption_width + 1.2, baseline, size, tuple(spaced(box.value, BLACK))),
    )
    return Block(marks, baseline + pad)


def _pictogram_row(pictograms: tuple[str, ...], side: float, *, frame: bool, zigzag: bool) -> tuple[Block, float]:
    """The pictograms and the width they take, side by side or set into each other's corners."""
    step = (side + _PICTOGRAM_GAP) / 2 if zigzag else side + _PICTOGRAM_GAP
    drop = step if zigzag and len(pictograms) > 1 else 0.0
    marks = tuple(
        Drawing(
            x=number * step,
            y=drop * (number % 2),
            side=side,
            view_box="-50 -50 100 100",
            svg=(FRAME if frame else "") + PICTOGRAMS[pictogram].drawing,
            says=f"{pictogram}: {PICTOGRAMS[pictogram].name}",
        )
        for number, pictogram in enumerate(pictograms)
    )
    if not marks:
        return Block((), 0.0), 0.0
    return Block(marks, side + drop), side + (len(marks) - 1) * step


def hazard_row(
    hazard: Hazard, width: float, pictogram_mm: float, text_pt: float, *, frame: bool, zigzag: bool = False
) -> Block | None:
    """Signal word, all pictograms and every statement (shop rule 40); None if they don't fit this width.

    Pictograms stand on the left; where the text beside them would be too narrow to read, it stands below.
    """
    count = len(hazard.pictograms)
    row, row_width = _pictogram_row(hazard.pictograms, pictogram_mm, frame=frame, zigzag=zigzag)
    if row_width > width:
        return None
    paragraph = [
        word for code, text in hazard.statements for word in (Word(code, BOLD, leads=True), *spaced(text, SEMIBOLD))
    ]
    beside = width - row_width - (_BESIDE_GAP if count else 0.0)
    signal_pt = max(1.5 * text_pt, 8.0)
    if count and beside < 15 * text_pt * MM_PER_PT:
        return _hazards_below(hazard, row, paragraph, width, row_width, text_pt)
    blocks = []
    if hazard.signal_word:
        blocks.append(text_block([[Word(hazard.signal_word, BLACK)]], signal_pt))
    blocks.append(text_block(wrapped(paragraph, beside, text_pt), text_pt))
    text = stacked(blocks, 0.25 * text_pt * MM_PER_PT)
    height = max(row.height, text.height)
    # Pre-printed frames have their place at the foot of the label; drawn ones go where the reading starts.
    row_top = 0.0 if frame else height - row.height
    text_top = max(0.0, (height - text.height) / 2)
    return Block((*moved(row.marks, 0, row_top), *moved(text.marks, width - beside, text_top)), height)


def hazard_line(hazard: Hazard, width: float, pictogram_mm: float, text_pt: float) -> Block | None:
    """Pictograms and signal word alone, for a cup that stands beside its cans; None if they don't fit this width."""
    row, row_width = _pictogram_row(hazard.pictograms, pictogram_mm, frame=True, zigzag=False)
    beside = width - row_width - (_BESIDE_GAP if row_width else 0.0)
    said = [text_block([[Word(hazard.signal_word, BLACK)]], 1.3 * text_pt)] if hazard.signal_word else []
    said.append(text_block(wrapped(spaced("statements on the cans", REGULAR), max(beside, 1.0), text_pt), text_pt))
    if beside < width_mm("statements", REGULAR, text_pt):
        return None
    text = stacked(said, 0.2 * text_pt * MM_PER_PT)
    height = max(row.height, text.height)
    return Block((*moved(row.marks, 0, 0), *moved(text.marks, width - beside, (height - text.height) / 2)), height)


def _hazards_below(
    hazard: Hazard, row: Block, paragraph: list[Word], width: float, row_width: float, text_pt: float
) -> Block:
    """Pictograms in a row, with the signal word beside them if it has room there, and the statements below."""
    blocks = [row]
    if hazard.signal_word:
        signal = Word(hazard.signal_word, BLACK)
        size = min(2.2 * text_pt, (width - row_width - _BESIDE_GAP) / width_mm(signal.text, BLACK, 1))
        if size >= 1.3 * text_pt:
            block = text_block([[signal]], size)
            middle = (row.height - CAP_HEIGHT * size * MM_PER_PT) / 2
            blocks = [Block((*row.marks, *moved(block.marks, row_width + _BESIDE_GAP, middle)), row.height)]
        else:
            blocks.append(text_block([[signal]], max(1.5 * text_pt, 8.0)))
    blocks.append(text_block(wrapped(paragraph, width, text_pt), text_pt))
    return stacked(blocks, 1.0)
