"""Area and size of a piece from its outline.

- ``OutlineArea``: the answer; :func:`outline_area`: from corners, holes and an allowance for the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from service.formulas.ranges import OutOfRange, within

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["OutlineArea", "outline_area"]

Corner = tuple[float, float]

LONGEST_MM = 1e5
MOST_CORNERS = 1_000
"""In outline and holes together; the offset of a fold takes the square of its corners: a second for these."""
SMALLEST_ALLOWANCE_MM = 0.001
"""Far smaller ones are lost beside the coordinates, and the offset of the library then collapses."""
MITRE_LIMIT = 2.0
"""Allowance at a sharp corner, as a multiple of the allowance along the edge: sharper ones are cut off."""


@dataclass(frozen=True, slots=True)
class OutlineArea:
    """Area and size of a piece.

    Attributes
    ----------
    net_m2 : float
        Area of the outline less its holes [m²].
    cut_m2 : float
        Area with the allowance [m²].
    width_mm : float
        Size of the piece with its allowance along x [mm].
    height_mm : float
        Size of the piece with its allowance along y [mm].
    """

    net_m2: float
    cut_m2: float
    width_mm: float
    height_mm: float


def outline_area(
    *, outline: Sequence[Corner], holes: Sequence[Sequence[Corner]] = (), allowance_mm: float = 0.0
) -> OutlineArea:
    """Area and size of a piece, as drawn and as cut.

    Formula: the polygon's area; with the allowance, the polygon grown by it with straight corners, holes grown shut by
    it. A corner sharper than 60° is cut off at about twice the allowance.

    Parameters
    ----------
    outline : sequence of (x, y)
        Corners in order, either way round; the last need not repeat the first [list of mm].
    holes : sequence of sequences of (x, y)
        Corners of each hole [list of mm].
    allowance_mm : float
        Allowance at every edge, holes too [mm].

    Returns
    -------
    OutlineArea
        Net area, area as cut, and size as cut [m², mm].

    Raises
    ------
    OutOfRange
        If an outline has fewer than three corners, crosses itself or has no area; if a hole lies outside the outline or
        in another hole.

    Valid range
    -----------
    3 to 1000 corners, holes included; coordinates -1e5 to 1e5 mm, allowance 0 or 0.001 to 1000 mm. A flat
    drawing: a curved mould needs its developed outline.

    Examples
    --------
    >>> outline_area(outline=[(0, 0), (1000, 0), (1000, 500), (0, 500)], allowance_mm=10)
    OutlineArea(net_m2=0.5, cut_m2=0.5304, width_mm=1020.0, height_mm=520.0)

    Source
    ------
    Polygon area and offset by shapely (GEOS). The 10 mm of the example: common practice, no source.
    """
    from shapely import Polygon

    allowance = within("allowance_mm", allowance_mm, 0, 1000, unit="mm")
    if 0 < allowance < SMALLEST_ALLOWANCE_MM:
        raise OutOfRange("allowance_mm", f"{allowance:g}", f"0, or {SMALLEST_ALLOWANCE_MM:g} to 1000 mm")
    corners = len(outline) + sum(len(hole) for hole in holes)
    if corners > MOST_CORNERS:
        raise OutOfRange("outline", f"a list of {corners} corners, holes included", f"at most {MOST_CORNERS:,} corners")
    whole = _polygon("outline", outline)
    cut_outs = [_polygon(f"holes[{index}]", hole) for index, hole in enumerate(holes)]
    for index, hole in enumerate(cut_outs):
        if not whole.contains_properly(hole):
            raise OutOfRange(f"holes[{index}]", "at or outside the edge", "a hole that lies inside the outline")
        if any(hole.intersects(other) for other in cut_outs[:index]):
            raise OutOfRange(f"holes[{index}]", "touching another hole", "a hole apart from the others")
    piece = Polygon(whole.exterior, [hole.exterior for hole in cut_outs])
    cut = piece.buffer(allowance, join_style="mitre", mitre_limit=MITRE_LIMIT) if allowance else piece
    left, bottom, right, top = cut.bounds
    return OutlineArea(float(piece.area / 1e6), float(cut.area / 1e6), float(right - left), float(top - bottom))


def _polygon(name: str, corners: Sequence[Corner]) -> Polygon:
    from shapely import Polygon
    from shapely.validation import explain_validity

    if len(corners) < 3:
        raise OutOfRange(name, f"a list of {len(corners)}", "a list of at least 3 corners")
    points = []
    for index, corner in enumerate(corners):
        if isinstance(corner, str) or len(corner) != 2:
            raise OutOfRange(f"{name}[{index}]", repr(corner)[:40], "a pair of numbers, x and y")
        points.append(
            tuple(
                within(f"{name}[{index}] {axis}", value, -LONGEST_MM, LONGEST_MM, unit="mm")
                for axis, value in zip("xy", corner, strict=True)
            )
        )
    polygon = Polygon(points)
    if len(set(points)) < 3 or polygon.area <= 0:
        raise OutOfRange(name, "a line or a point", "corners that enclose an area")
    if not polygon.is_valid:
        raise OutOfRange(name, explain_validity(polygon).lower(), "an outline that does not cross or touch itself")
    return polygon
