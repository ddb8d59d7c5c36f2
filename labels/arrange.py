"""Three sizes of label: words -> a page of marks, or a sentence that says why they don't fit.

    100x50  everything, for cans, drums, pots and kits
    62      everything, on an endless roll 62 mm wide; as long as its words need
    50x25   code, name, details and the one date; for bottles, parts, places. No storage, ratio or room to write.

A container's hazards are never left out or thinned (shop rule 40): if they don't fit, the size is refused.
"""

from dataclasses import dataclass

from labels import size_50x25, size_62, size_100x50
from labels.column import Page, Printed


@dataclass(frozen=True)
class Size:
    """A stock of labels; a roll has no height of its own."""

    name: str
    width_mm: float
    height_mm: float | None


SIZES: dict[str, Size] = {
    "100x50": Size("100x50", size_100x50.WIDTH_MM, size_100x50.HEIGHT_MM),
    "62": Size("62", size_62.WIDTH_MM, None),
    "50x25": Size("50x25", size_50x25.WIDTH_MM, size_50x25.HEIGHT_MM),
}

_LAYOUTS = {"100x50": size_100x50.arrange, "62": size_62.arrange, "50x25": size_50x25.arrange}


def arrange(printed: Printed, size: str) -> Page:
    """Set a label on its stock.

    Raises:
        DoesNotFit: with what doesn't fit and which size to take.
    """
    return _LAYOUTS[size](printed)
