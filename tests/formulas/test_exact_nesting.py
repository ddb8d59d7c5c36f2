"""The solver behind the shortest layout, asked directly: in a kit the quicker rules have mostly found it before."""

import random
from itertools import combinations

import pytest

from service.formulas._exact_nesting import Box, shortest
from tests.formulas.test_nesting import shortest_by_trying

WIDTH = 10


def drawn(seed: int) -> list[Box]:
    draw = random.Random(seed)
    return [(draw.randint(1, 9), draw.randint(1, 9)) for _ in range(draw.choice((3, 4)))]


@pytest.mark.parametrize("seed", range(1, 8))
def test_the_layout_is_one_that_can_be_cut_and_none_is_shorter(seed):
    boxes = drawn(seed)
    best = shortest_by_trying(boxes, WIDTH)
    ways = [[box, box[::-1]] for box in boxes]
    spots = shortest(ways, WIDTH, best + 1)
    assert spots is not None
    for (across, along, box), may_lie in zip(spots, ways, strict=True):
        assert box in may_lie
        assert 0 <= across <= WIDTH - box[0]
        assert 0 <= along <= best - box[1]
    for (across, along, box), (across_2, along_2, other) in combinations(spots, 2):
        beside = across + box[0] <= across_2 or across_2 + other[0] <= across
        behind = along + box[1] <= along_2 or along_2 + other[1] <= along
        assert beside or behind
    assert max(along + box[1] for _, along, box in spots) == best
    assert shortest(ways, WIDTH, best) is None


def test_a_box_with_one_way_to_lie_stays_as_it_is():
    # Turned, the second would lie beside the first, and 12 would do.
    # Nor is a box refused for being longer than the roll is wide.
    spots = shortest([[(6, 12)], [(6, 4)]], WIDTH, 20)
    assert spots is not None
    assert [box for *_, box in spots] == [(6, 12), (6, 4)]
    assert max(along + box[1] for _, along, box in spots) == 16
