"""Layouts of a kit on a roll."""

import time
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.nesting import Piece, Placement, RollLayout, roll_length_mm
from service.formulas.ranges import OutOfRange


def layout(pieces: list[Piece], width: int = 1000, gap: int = 0) -> RollLayout:
    return roll_length_mm(pieces=pieces, roll_width_mm=width, gap_mm=gap)


class TestLength:
    def test_pieces_side_by_side_and_behind_each_other(self):
        # Hand calculation: two of 400 mm side by side, two rows of 600 mm.
        found = layout([Piece("skin", 600, 400, 4, "along")])
        assert found.length_mm == 1200
        assert found.used_area_m2 == pytest.approx(0.96, rel=1e-12)
        assert found.waste_area_m2 == pytest.approx(0.24, rel=1e-12)

    def test_a_gap_lies_between_pieces_and_not_at_the_edges(self):
        assert layout([Piece("skin", 600, 495, 4, "along")], gap=10).length_mm == 1210
        assert layout([Piece("skin", 600, 1000, 1, "along")], gap=10).length_mm == 600

    def test_a_full_roll_has_no_waste(self):
        assert layout([Piece("skin", 500, 250, 8, "along")]).waste_area_m2 == pytest.approx(0)

    def test_a_piece_of_any_grain_is_turned_where_that_is_shorter(self):
        assert layout([Piece("strip", 1000, 100, 3, "any")]).length_mm == 300

    def test_grain_along_keeps_the_strip_along(self):
        assert layout([Piece("strip", 1000, 100, 3, "along")]).length_mm == 1000

    def test_grain_across_lays_the_length_across(self):
        found = layout([Piece("strip", 1000, 100, 3, "across")])
        assert found.length_mm == 300
        assert {(spot.size_across_mm, spot.size_along_mm) for spot in found.placements} == {(1000, 100)}

    def test_a_piece_of_any_grain_wider_than_the_roll_is_turned(self):
        assert layout([Piece("spar", 3000, 200, 1, "any")]).length_mm == 3000

    def test_small_pieces_fill_beside_large_ones(self):
        # Hand calculation: 700 + 300 = 1000 mm across; three of 200 beside 600.
        found = layout([Piece("large", 600, 700, 1, "along"), Piece("small", 200, 300, 3, "along")])
        assert found.length_mm == 600


def lie_apart(one: Placement, other: Placement, gap: int) -> bool:
    return (
        one.across_mm + one.size_across_mm + gap <= other.across_mm
        or other.across_mm + other.size_across_mm + gap <= one.across_mm
        or one.along_mm + one.size_along_mm + gap <= other.along_mm
        or other.along_mm + other.size_along_mm + gap <= one.along_mm
    )


def shortest_by_trying(boxes: list[tuple[int, int]], width: int) -> int:
    """Each order, each way to lie and each corner that a piece pushed to the left and back can have."""
    best = sum(max(box) for box in boxes)

    def place(left: list[tuple[int, int]], placed: list[tuple[int, int, int, int]]) -> None:
        nonlocal best
        if not left:
            best = min(best, max(y + long for _, y, _, long in placed))
            return
        corners_y = {0} | {y + long for _, y, _, long in placed}
        # A piece may stand on one that comes later in the order on its left side, so all sums of widths are tried.
        sides = [side for box in boxes for side in box]
        corners_x = {sum(some) for many in range(4) for some in combinations(sides, many) if sum(some) < width}
        for index, box in enumerate(left):
            for across, long in {box, box[::-1]}:
                for x in corners_x:
                    for y in corners_y:
                        if x + across > width or y + long >= best:
                            continue
                        if all(
                            x + across <= x2 or x2 + across2 <= x or y + long <= y2 or y2 + long2 <= y
                            for x2, y2, across2, long2 in placed
                        ):
                            place(left[:index] + left[index + 1 :], [*placed, (x, y, across, long)])

    place(boxes, [])
    return best


class TestSmallKits:
    @pytest.mark.parametrize(
        ("boxes", "length"),
        [
            ([(3, 6), (9, 2), (4, 5), (5, 2)], 7),
            ([(8, 8), (2, 6), (2, 7)], 10),
            ([(1, 5), (3, 3), (3, 6), (8, 2)], 5),
            ([(5, 9), (6, 1), (7, 6), (1, 7), (3, 1)], 11),
            ([(6, 7), (5, 7), (7, 1), (7, 3)], 12),
        ],
    )
    def test_each_piece_lies_the_way_that_makes_the_whole_shortest(self, boxes, length):
        # Lengths drawn on squared paper; with all pieces turned alike each of these takes at least a sixth more.
        kit = [Piece(f"piece {k}", 100 * long, 100 * across, 1, "any") for k, (across, long) in enumerate(boxes)]
        found = layout(kit)
        assert found.length_mm == 100 * length
        assert all(lie_apart(one, other, 0) for one, other in combinations(found.placements, 2))

    @given(boxes=st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=3, max_size=4))
    @settings(deadline=None, max_examples=25)
    def test_no_layout_of_a_few_pieces_is_shorter(self, boxes):
        kit = [Piece(f"piece {k}", long, across, 1, "any") for k, (across, long) in enumerate(boxes)]
        assert layout(kit, width=10).length_mm == shortest_by_trying(boxes, 10)

    def test_a_piece_that_has_a_grain_is_not_turned_to_shorten_the_kit(self):
        kit = [Piece("piece 0", 800, 800, 1, "along"), Piece("piece 1", 600, 200, 1, "along")]
        kit += [Piece("piece 2", 700, 200, 1, "along")]
        found = layout(kit)
        assert {(spot.name, spot.size_across_mm) for spot in found.placements} == {
            ("piece 0", 800),
            ("piece 1", 200),
            ("piece 2", 200),
        }
        assert found.length_mm == 1300
        turned = layout([*kit[:2], Piece("piece 2", 700, 200, 1, "any")])
        assert turned.length_mm == 1000

    def test_single_pieces_of_a_larger_kit_are_turned_too(self):
        # With all turned alike by one rule this kit takes 2.7 m.
        boxes = [(1, 5), (3, 9), (8, 9), (6, 7), (7, 1), (3, 9), (2, 8), (6, 5)]
        kit = [Piece(f"piece {k}", 100 * long, 100 * wide, 1, "any") for k, (long, wide) in enumerate(boxes)]
        assert layout(kit).length_mm <= 2400


pieces = st.lists(
    st.builds(
        Piece,
        st.just("piece"),
        st.integers(1, 900),
        st.integers(1, 900),
        st.integers(1, 3),
        st.sampled_from(["along", "across", "any"]),
    ),
    min_size=1,
    max_size=8,
)


@pytest.mark.long
@given(kit=pieces, gap=st.integers(0, 40))
@settings(deadline=None, max_examples=50)
def test_every_layout_can_be_cut(kit, gap):
    kit = [Piece(f"piece {k}", p.length_mm, p.width_mm, p.count, p.grain) for k, p in enumerate(kit)]
    found = layout(kit, gap=gap)
    by_name = {piece.name: piece for piece in kit}
    assert len(found.placements) == sum(piece.count for piece in kit)
    assert len({(spot.name, spot.number) for spot in found.placements}) == len(found.placements)
    for spot in found.placements:
        piece = by_name[spot.name]
        along, across = (piece.width_mm, piece.length_mm), (piece.length_mm, piece.width_mm)
        allowed = {"along": [along], "across": [across], "any": [along, across]}[piece.grain]
        assert (spot.size_across_mm, spot.size_along_mm) in allowed
        assert 0 <= spot.across_mm <= 1000 - spot.size_across_mm
        assert 0 <= spot.along_mm <= found.length_mm - spot.size_along_mm
    assert all(lie_apart(one, other, gap) for one, other in combinations(found.placements, 2))
    assert found.used_area_m2 + found.waste_area_m2 == pytest.approx(found.length_mm / 1000)
    assert found.waste_area_m2 >= -1e-9


@pytest.mark.long
@given(kit=pieces)
@settings(deadline=None, max_examples=20)
def test_the_same_kit_has_the_same_layout_and_is_never_longer_than_one_after_the_other(kit):
    assert layout(kit) == layout(kit)
    one_after_the_other = sum(
        piece.count
        * {"along": piece.length_mm, "across": piece.width_mm}.get(piece.grain, max(piece.length_mm, piece.width_mm))
        for piece in kit
    )
    assert layout(kit).length_mm <= one_after_the_other


@pytest.mark.long
def test_a_large_kit_is_laid_out_in_time_for_a_request():
    kit = [Piece(f"piece {k}", 200 + 37 * k % 900, 100 + 53 * k % 600, 4, "any") for k in range(25)]
    start = time.perf_counter()
    found = layout(kit, width=1270, gap=5)
    assert time.perf_counter() - start < 5
    assert found.waste_area_m2 < 0.15 * found.used_area_m2


class TestRefusals:
    @pytest.mark.parametrize(("grain", "across"), [("along", 1001), ("across", 1200)])
    def test_a_piece_wider_than_the_roll_is_refused_by_name(self, grain, across):
        with pytest.raises(OutOfRange, match=f"Piece skin is {across} mm across the roll"):
            layout([Piece("skin", 1200, 1001, 1, grain)])

    def test_a_piece_of_any_grain_is_refused_only_if_neither_way_fits(self):
        with pytest.raises(OutOfRange, match="Piece skin is 1001 mm"):
            layout([Piece("skin", 1200, 1001, 1, "any")])

    @pytest.mark.parametrize("kit", [[], [Piece("tab", 10, 10, 200, "any"), Piece("tab 2", 10, 10, 1, "any")]])
    def test_no_piece_and_too_many_are_refused(self, kit):
        with pytest.raises(OutOfRange, match="pieces"):
            layout(kit)

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("length_mm", 0),
            ("length_mm", 600.5),
            ("width_mm", True),
            ("width_mm", "400"),
            ("count", 0),
            ("count", 201),
            ("grain", "diagonal"),
        ],
    )
    def test_a_piece_that_is_none_is_refused_by_name(self, field, value):
        good = {"name": "skin", "length_mm": 600, "width_mm": 400, "count": 1, "grain": "any"}
        with pytest.raises(OutOfRange, match=field):
            Piece(**{**good, field: value})

    @pytest.mark.parametrize(
        ("width", "gap", "named"), [(0, 0, "roll_width_mm"), (1000, -1, "gap_mm"), (1000, 0.5, "gap_mm")]
    )
    def test_a_roll_without_width_and_a_gap_below_zero_are_refused(self, width, gap, named):
        with pytest.raises(OutOfRange, match=named):
            layout([Piece("skin", 600, 400, 1, "any")], width=width, gap=gap)
