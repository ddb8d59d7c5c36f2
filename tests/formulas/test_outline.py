"""Area and size of a piece from its outline."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.outline import outline_area
from service.formulas.ranges import OutOfRange

SQUARE = [(0, 0), (1000, 0), (1000, 1000), (0, 1000)]
HOLE = [(400, 400), (600, 400), (600, 600), (400, 600)]


class TestArea:
    def test_of_a_rectangle(self):
        found = outline_area(outline=[(0, 0), (1000, 0), (1000, 500), (0, 500)])
        assert (found.net_m2, found.cut_m2) == (pytest.approx(0.5), pytest.approx(0.5))
        assert (found.width_mm, found.height_mm) == (1000, 500)

    def test_of_a_triangle(self):
        # Hand calculation: half of base times height.
        assert outline_area(outline=[(0, 0), (800, 0), (300, 500)]).net_m2 == pytest.approx(0.2)

    def test_of_a_notched_outline(self):
        # Hand calculation: 1 m² less a notch of 0.2 by 0.5 m.
        notched = [(0, 0), (1000, 0), (1000, 1000), (600, 1000), (600, 500), (400, 500), (400, 1000), (0, 1000)]
        assert outline_area(outline=notched).net_m2 == pytest.approx(0.9)

    def test_less_a_hole(self):
        assert outline_area(outline=SQUARE, holes=[HOLE]).net_m2 == pytest.approx(0.96)

    def test_either_way_round_and_closed_or_open(self):
        expected = outline_area(outline=SQUARE)
        assert outline_area(outline=SQUARE[::-1]) == expected
        assert outline_area(outline=[*SQUARE, SQUARE[0]]) == expected

    @given(
        radii=st.lists(st.floats(50, 500), min_size=3, max_size=12),
        shift=st.floats(-1000, 1000),
        times=st.floats(0.5, 3),
    )
    @settings(deadline=None, max_examples=50)
    def test_agrees_with_the_shoelace_formula_and_grows_with_the_square(self, radii, shift, times):
        # A star-shaped outline about the origin does not cross itself.
        corners = [
            (radius * math.cos(2 * math.pi * k / len(radii)), radius * math.sin(2 * math.pi * k / len(radii)))
            for k, radius in enumerate(radii)
        ]
        shoelace = sum(
            x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True)
        )
        moved = [(times * x + shift, times * y - shift) for x, y in corners]
        assert outline_area(outline=corners).net_m2 == pytest.approx(shoelace / 2e6, rel=1e-9)
        assert outline_area(outline=moved).net_m2 == pytest.approx(times**2 * shoelace / 2e6, rel=1e-6)


class TestAllowance:
    def test_of_a_rectangle_is_a_larger_rectangle(self):
        # Hand calculation: 1.020 by 0.520 m. An edge allowance of 10 mm is common practice, no source.
        found = outline_area(outline=[(0, 0), (1000, 0), (1000, 500), (0, 500)], allowance_mm=10)
        assert found.cut_m2 == pytest.approx(0.5304)
        assert (found.width_mm, found.height_mm) == (pytest.approx(1020), pytest.approx(520))
        assert found.net_m2 == pytest.approx(0.5)

    def test_narrows_a_hole_and_shuts_a_small_one(self):
        # Hand calculation: hole of 180 by 180 mm left.
        found = outline_area(outline=SQUARE, holes=[HOLE], allowance_mm=10)
        assert found.cut_m2 == pytest.approx(1.02**2 - 0.18**2)
        shut = outline_area(outline=SQUARE, holes=[HOLE], allowance_mm=100)
        assert shut.cut_m2 == pytest.approx(1.44)

    def test_of_a_sharp_corner_is_cut_off_at_about_twice_the_allowance(self):
        needle = [(0, 0), (1000, 0), (0, 20)]
        found = outline_area(outline=needle, allowance_mm=10)
        # Untrimmed, a corner of 1.1° would reach a metre further.
        assert found.width_mm == pytest.approx(1000 + 10 + 20, abs=1)

    @given(more=st.floats(0, 100), less=st.floats(0.001, 100))
    @settings(deadline=None, max_examples=50)
    def test_more_allowance_never_cuts_less(self, more, less):
        def cut(allowance):
            return outline_area(outline=SQUARE, holes=[HOLE], allowance_mm=allowance).cut_m2

        assert cut(less + more) >= cut(less) - 1e-12
        assert cut(less) >= cut(0)


class TestRefusals:
    @pytest.mark.parametrize(
        ("outline", "said"),
        [
            ([(0, 0), (1000, 0)], "a list of 2"),
            ([(0, 0), (1000, 1000), (1000, 0), (0, 1000)], "line or a point|self-intersection"),
            ([(0, 0), (1000, 1000), (1000, 0), (0, 900)], "self-intersection"),
            ([(0, 0), (1000, 0), (2000, 0)], "a line or a point"),
            ([(0, 0), (0, 0), (0, 0)], "a line or a point"),
            ([(0, 0), (1000, 0), (1000, math.nan)], r"outline\[2\] y"),
            ([(0, 0), (1000, 0), (1000, 1e6)], r"outline\[2\] y"),
            ([(0, 0), (1000, 0), (1000,)], r"outline\[2\]"),
            ([(0, 0), (1000, 0), "ab"], r"outline\[2\]"),
        ],
    )
    def test_an_outline_that_is_none_is_refused(self, outline, said):
        with pytest.raises(OutOfRange, match=said):
            outline_area(outline=outline)

    @pytest.mark.parametrize(
        "hole",
        [
            [(2000, 2000), (2100, 2000), (2100, 2100)],
            [(900, 900), (1100, 900), (1100, 1100)],
            [(0, 0), (100, 0), (100, 100)],
            [(-100, -100), (1100, -100), (1100, 1100), (-100, 1100)],
        ],
    )
    def test_a_hole_outside_or_at_the_edge_is_refused(self, hole):
        with pytest.raises(OutOfRange, match=r"holes\[0\]"):
            outline_area(outline=SQUARE, holes=[hole])

    def test_a_hole_in_a_hole_is_refused(self):
        with pytest.raises(OutOfRange, match=r"holes\[1\]"):
            outline_area(outline=SQUARE, holes=[HOLE, [(450, 450), (550, 450), (550, 550)]])

    @pytest.mark.parametrize("allowance", [-1, 1e-220, 0.0009, 1001, math.inf, True])
    def test_an_allowance_without_sense_is_refused(self, allowance):
        with pytest.raises(OutOfRange, match="allowance_mm"):
            outline_area(outline=SQUARE, allowance_mm=allowance)
