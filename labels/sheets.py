"""A4 sheets of labels for a printer of paper: 3 × 8 and 2 × 7, filled from a cell that is still there.

The cells are where such sheets commonly have them (from memory); a sheet that was begun goes on at any of its cells.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from labels import size_50x25, size_100x50
from labels.column import Page, Printed
from labels.errors import DoesNotFit

A4_MM = (210.0, 297.0)


@dataclass(frozen=True)
class Stock:
    """A sheet: how many cells across and down, where the first begins, how far it is to the next, how large each is."""

    across: int
    down: int
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float
    width_mm: float
    height_mm: float

    @property
    def cells(self) -> int:
        return self.across * self.down

    def corner(self, cell: int) -> tuple[float, float]:
        """Where a cell begins, counted from 0 along the rows [mm]."""
        row, column = divmod(cell, self.across)
        return self.left_mm + column * self.pitch_x_mm, self.top_mm + row * self.pitch_y_mm


STOCKS: dict[str, Stock] = {
    "3x8": Stock(3, 8, 0.0, 0.5, 70.0, 37.0, 70.0, 37.0),
    "2x7": Stock(2, 7, 4.65, 15.15, 101.6, 38.1, 99.1, 38.1),
}
# Paper printers leave so much white at the edge of a sheet.
_EDGE_MM = 5.0


def arranged(printed: Printed, stock: str) -> Page:
    """A label in a cell of the sheet; one that has no hazards to show may be the small one.

    Raises:
        DoesNotFit: with what to print it on instead.
    """
    cell = STOCKS[stock]
    width = cell.width_mm - (2 * _EDGE_MM if cell.left_mm < _EDGE_MM else 0.0)
    try:
        return size_100x50.arrange(printed, width, cell.height_mm)
    except DoesNotFit:
        if not printed.words.hazard.statements:
            return size_50x25.arrange(printed)
        other = "a sheet of 2 × 7, " if stock == "3x8" else ""
        raise DoesNotFit(
            f"The label of “{printed.words.title[:60]}” has more to say of its hazards than a cell of {stock} holds: "
            f"use {other}100x50 labels or the 62 mm roll."
        ) from None


def placed(pages: Iterable[Page], stock: str, start: int) -> Iterator[tuple[int, float, float, Page]]:
    """Each label with its sheet and its corner on it, centred in its cell; `start` counts from 1."""
    cell = STOCKS[stock]
    for number, page in enumerate(pages, start - 1):
        x, y = cell.corner(number % cell.cells)
        spare_x, spare_y = (cell.width_mm - page.width_mm) / 2, (cell.height_mm - page.height_mm) / 2
        yield number // cell.cells, x + spare_x, y + spare_y, page
