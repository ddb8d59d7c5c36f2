"""How much of a roll a kit takes, and where its pieces lie.

- ``Piece``: a piece to cut; ``Placement``, ``RollLayout``: the answer.
- :func:`roll_length_mm`: a layout on a roll of given width; of a few pieces the shortest that there is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from service.formulas.ranges import OutOfRange, within

__all__ = ["Piece", "Placement", "RollLayout", "roll_length_mm"]

Grain = Literal["along", "across", "any"]
Box = tuple[int, int]
"""Size across and along the roll [mm]."""

Order = Callable[[list[tuple[int, int, int]]], list[tuple[int, int, int]]]
WayOfPacking = tuple[type, Order]
"""A rule of the packing library and the order in which the pieces are handed to it."""

MOST_PIECES = 200
MANY_PIECES = 80
"""From here on only the order by area and two rules are tried: nearly always the best, in a third of the time."""

FEW_PIECES = 5
"""Up to here the shortest layout is found and proved."""

WORK = 120_000
"""Packings tried while single pieces are turned, times the square of the pieces: about a second."""

BEST_WAYS = 3
"""Ways of packing, the best for the kit so far, that are tried with each piece turned."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A rectangular piece to cut.

    Attributes
    ----------
    name : str
        What the kit calls it [text].
    length_mm : int
        Along its own length, 1 to 100,000 [mm].
    width_mm : int
        Across it, 1 to 100,000 [mm].
    count : int
        How many, 1 to 200 [-].
    grain : str
        Its length lies "along" the roll, "across" it, or "any" of the two [text].
    """

    name: str
    length_mm: int
    width_mm: int
    count: int
    grain: Grain

    def __post_init__(self) -> None:
        _whole("length_mm", self.length_mm, 1, 100_000, "mm")
        _whole("width_mm", self.width_mm, 1, 100_000, "mm")
        _whole("count", self.count, 1, MOST_PIECES)
        if self.grain not in get_args(Grain):
            raise OutOfRange("grain", repr(self.grain)[:40], f"one of {', '.join(get_args(Grain))}")


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one piece lies on the roll.

    Attributes
    ----------
    name : str
        The piece [text].
    number : int
        Which of its copies, from 1 [-].
    across_mm : int
        Its corner from the edge of the roll [mm].
    along_mm : int
        Its corner from the start of the roll [mm].
    size_across_mm : int
        Size across the roll [mm].
    size_along_mm : int
        Size along the roll [mm].
    """

    name: str
    number: int
    across_mm: int
    along_mm: int
    size_across_mm: int
    size_along_mm: int


@dataclass(frozen=True, slots=True)
class RollLayout:
    """A layout on a roll.

    Attributes
    ----------
    length_mm : int
        Length to cut off the roll [mm].
    used_area_m2 : float
        Area of the pieces [m²].
    waste_area_m2 : float
        The rest of what is cut off [m²].
    placements : tuple of Placement
        Where the pieces lie, from the start of the roll [list of mm].
    """

    length_mm: int
    used_area_m2: float
    waste_area_m2: float
    placements: tuple[Placement, ...]


def _whole(argument: str, value: int, low: int, high: int, unit: str = "") -> int:
    if isinstance(value, float):
        raise OutOfRange(argument, f"{value}", "a whole number")
    return int(within(argument, value, low, high, unit=unit))


def roll_length_mm(*, pieces: Sequence[Piece], roll_width_mm: int, gap_mm: int) -> RollLayout:
    """Lay the pieces of a kit out on a roll.

    Up to five pieces: the shortest layout that there is. More: several packing rules and orders are tried, then each
    piece that may be turned is, as long as that shortens the layout; it is one that works, not the proof that no
    shorter one exists. The same question always has the same answer.

    Parameters
    ----------
    pieces : sequence of Piece
        The pieces, as boxes that hold them with their allowance [mm].
    roll_width_mm : int
        Usable width of the roll [mm].
    gap_mm : int
        Space between neighbouring pieces, for the knife [mm].

    Returns
    -------
    RollLayout
        Length, areas and placements [mm, m²].

    Raises
    ------
    OutOfRange
        If there is no piece, more than 200, or one that is wider than the roll in the direction of its grain.

    Valid range
    -----------
    1 to 200 pieces in all; roll 1 to 10,000 mm wide; gap 0 to 1000 mm; whole millimetres.

    Examples
    --------
    >>> layout = roll_length_mm(pieces=[Piece("skin", 600, 400, 4, "along")], roll_width_mm=1000, gap_mm=10)
    >>> layout.length_mm, layout.used_area_m2, layout.waste_area_m2
    (1210, 0.96, 0.25)

    Source
    ------
    Packing rules of the rectpack library after Jylänki, A thousand ways to pack the bin, 2010 (from memory); the proof
    by HiGHS (scipy).
    """
    width = _whole("roll_width_mm", roll_width_mm, 1, 10_000, "mm")
    gap = _whole("gap_mm", gap_mm, 0, 1000, "mm")
    copies = [(piece, number) for piece in pieces for number in range(1, piece.count + 1)]
    if not 1 <= len(copies) <= MOST_PIECES:
        raise OutOfRange("pieces", f"a list of {len(copies)} pieces", f"1 to {MOST_PIECES} pieces in all")
    for piece in pieces:
        if not _ways(piece, width):
            given = f"{_narrowest(piece)} mm across the roll"
            raise OutOfRange(f"Piece {piece.name}", given, f"at most {width} mm, the roll's width")
    best = _shortest_found(copies, width, gap)
    bound = _least_length(copies, width, gap)
    if len(copies) <= FEW_PIECES and _end(best) > bound:
        best = _proved(copies, width, gap, _end(best)) or best
    length = _end(best)
    used = sum(piece.length_mm * piece.width_mm for piece, _ in copies)
    in_order = sorted(best, key=lambda placement: (placement.along_mm, placement.across_mm))
    return RollLayout(length, used / 1e6, (length * width - used) / 1e6, tuple(in_order))


def _end(placements: list[Placement]) -> int:
    return max(placement.along_mm + placement.size_along_mm for placement in placements)


def _least_length(copies: list[tuple[Piece, int]], width: int, gap: int) -> int:
    """A length that no layout can be below: that of the longest piece, of the area, of what cannot lie side by side."""
    ways = [_ways(piece, width) for piece, _ in copies]
    longest = max(min(along for _, along in way) for way in ways)
    area = sum((way[0][0] + gap) * (way[0][1] + gap) for way in ways)
    alone = [min(along for _, along in way) + gap for way in ways if min(across for across, _ in way) * 2 + gap > width]
    return max(longest, -(-area // (width + gap)) - gap, sum(alone) - gap)


def _proved(copies: list[tuple[Piece, int]], width: int, gap: int, known: int) -> list[Placement] | None:
    from service.formulas._exact_nesting import shortest

    ways = [[(across + gap, along + gap) for across, along in _ways(piece, width)] for piece, _ in copies]
    spots = shortest(ways, width + gap, known + gap)
    if spots is None:
        return None
    return [
        Placement(piece.name, number, across, along, box[0] - gap, box[1] - gap)
        for (piece, number), (across, along, box) in zip(copies, spots, strict=True)
    ]


def _shortest_found(copies: list[tuple[Piece, int]], width: int, gap: int) -> list[Placement]:
    """The best of all rules, orders and orientations of all; then of single pieces turned, until none helps."""
    found = [
        (_end(placements), boxes, way, placements)
        for boxes in _orientations(copies, width)
        for way, placements in _packed(copies, boxes, width, gap, _ways_of_packing(len(copies)))
    ]
    # Of equally short layouts the first is kept, so that the answer stays the same.
    found.sort(key=lambda one: one[0])
    end, chosen, _, best = found[0]
    packings = [way for _, boxes, way, _ in found if boxes == chosen][:BEST_WAYS]
    bound, left = _least_length(copies, width, gap), WORK // len(copies) ** 2 // BEST_WAYS
    turnable = [(index, ways) for index, (piece, _) in enumerate(copies) if len(ways := _ways(piece, width)) == 2]
    better = True
    while better and end > bound:
        better = False
        for index, (first, other) in turnable:
            if left <= 0 or end <= bound:
                return best
            turned = [*chosen]
            turned[index] = other if chosen[index] == first else first
            left -= 1
            for _, placements in _packed(copies, turned, width, gap, packings):
                if _end(placements) < end:
                    end, chosen, best, better = _end(placements), turned, placements, True
    return best


def _narrowest(piece: Piece) -> int:
    return {"along": piece.width_mm, "across": piece.length_mm, "any": min(piece.width_mm, piece.length_mm)}[
        piece.grain
    ]


def _ways(piece: Piece, roll_width: int) -> list[Box]:
    """The ways in which a piece may lie and fits, its length along the roll first."""
    along, across = (piece.width_mm, piece.length_mm), (piece.length_mm, piece.width_mm)
    ways = {"along": [along], "across": [across], "any": [along, across]}[piece.grain]
    return [way for way in ways if way[0] <= roll_width]


def _orientations(copies: list[tuple[Piece, int]], roll_width: int) -> Iterator[list[Box]]:
    """Boxes for all pieces; those of any grain as drawn, turned, long side along, and long side across."""
    seen = set()
    for choose in (
        lambda ways: ways[0],
        lambda ways: ways[-1],
        lambda ways: max(ways, key=lambda way: way[1]),
        lambda ways: max(ways, key=lambda way: way[0]),
    ):
        boxes = [choose(_ways(piece, roll_width)) for piece, _ in copies]
        if tuple(boxes) not in seen:
            seen.add(tuple(boxes))
            yield boxes


def _ways_of_packing(count: int) -> list[WayOfPacking]:
    import rectpack

    if count >= MANY_PIECES:
        return [(rule, rectpack.SORT_AREA) for rule in (rectpack.MaxRectsBl, rectpack.SkylineBlWm)]
    rules = (rectpack.MaxRectsBl, rectpack.MaxRectsBaf, rectpack.MaxRectsBssf, rectpack.SkylineBlWm)
    orders: list[Order] = [
        rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, _widest_first, _longest_first
    ]  # fmt: skip
    return [(rule, order) for rule in rules for order in orders]


def _packed(
    copies: list[tuple[Piece, int]], boxes: list[Box], width: int, gap: int, ways: Sequence[WayOfPacking]
) -> Iterator[tuple[WayOfPacking, list[Placement]]]:
    import rectpack

    # A gap on two sides of each box, and the roll wider by one, leave one gap between any two pieces.
    endless = sum(along + gap for _, along in boxes)
    for rule, order in ways:
        packer = rectpack.newPacker(mode=rectpack.PackingMode.Offline, pack_algo=rule, sort_algo=order, rotation=False)
        for index, (across, along) in enumerate(boxes):
            packer.add_rect(across + gap, along + gap, rid=index)
        packer.add_bin(width + gap, endless)
        packer.pack()
        found = packer.rect_list()
        if len(found) == len(copies):
            yield (
                (rule, order),
                [
                    Placement(copies[index][0].name, copies[index][1], x, y, across - gap, along - gap)
                    for _, x, y, across, along, index in found
                ],
            )


def _widest_first(boxes: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    return sorted(boxes, key=lambda box: (-box[0], -box[1]))


def _longest_first(boxes: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    return sorted(boxes, key=lambda box: (-box[1], -box[0]))
