"""Failures that could have fallen otherwise: all ways or a sample of them, and the chances that follow."""

from itertools import combinations
from typing import Any

import numpy as np
import pytest

from service.formulas.permutations import Rearranged, both_ways, chances, of_the_best, rearranged


def _rows(found: Rearranged) -> Any:
    """Each way as a row of outcomes, one for each part."""
    rows = np.zeros((len(found.failed), found.parts), dtype=int)
    np.add.at(rows, (np.arange(len(rows))[:, None], found.failed), 1)
    return rows


def test_where_there_are_too_many_ways_a_sample_is_said_to_be_one_and_begins_with_what_happened() -> None:
    failed = [True, False, False, True, False, False, False, True]
    every = rearranged(failed, [0] * 8, list(range(8)))
    some = rearranged(failed, [0] * 8, list(range(8)), most=20)
    assert (every.all_of_them, every.ways, len(every.failed), every.smallest_p) == (True, 56, 56, 1 / 56)
    assert (some.all_of_them, some.ways, len(some.failed), some.smallest_p) == (False, 56, 20, 1 / 20)
    for found in (every, some):
        assert _rows(found)[0].tolist() == failed
        assert set(_rows(found).sum(axis=1).tolist()) == {3}
    assert len({tuple(row) for row in _rows(every).tolist()}) == 56


def test_pots_are_dealt_whole_and_none_is_dealt_to_more_than_another() -> None:
    """Twelve pots of two parts: one lost both, three the first of theirs, eight none; and one of three good ones."""
    pots = [(True, True)] + 3 * [(True, False)] + 8 * [(False, False)]
    failed = [part for pot in pots for part in pot] + 3 * [False]
    found = rearranged(failed, [0] * 27, [place // 2 for place in range(24)] + 3 * [12], most=1900)
    assert (found.ways, found.all_of_them, len(found.failed)) == (1980, False, 1900)
    dealt = _rows(found)[:, :24].reshape(1900, 12, 2).astype(bool)
    assert not _rows(found)[:, 24:].any()
    for row in dealt.tolist():
        assert sorted(map(tuple, row)) == sorted(pots)
    # By the binomial distribution with 1,900 rows: 158 and 475 with deviations of 12 and 19; five of each are allowed.
    both, first = dealt.all(axis=2).sum(axis=0), (dealt[:, :, 0] & ~dealt[:, :, 1]).sum(axis=0)
    assert (abs(both - 1900 / 12) < 60).all()
    assert (abs(first - 1900 / 4) < 95).all()


def test_chances_agree_with_counting_by_hand() -> None:
    # Two of five failed, the first two: scores 9 and 1 of 9, 1, 4, 4, 2.
    scores = [9.0, 1.0, 4.0, 4.0, 2.0]
    found = rearranged([True, True, False, False, False], [0] * 5, list(range(5)))
    column = np.array([[score] for score in scores])
    sums = [scores[a] + scores[b] for a, b in combinations(range(5), 2)]
    mean = sum(sums) / len(sums)
    assert chances(found, column)[0, 0] == pytest.approx(sum(one >= 10 for one in sums) / 10)
    assert both_ways(found, column)[0, 0] == pytest.approx(sum(abs(one - mean) >= 10 - mean for one in sums) / 10)
    assert found.expected.tolist() == [0.4] * 5
    assert (sum(one >= 10 for one in sums), sum(abs(one - mean) >= 10 - mean for one in sums)) == (4, 9)


def test_the_smallest_of_several_chances_is_weighed_against_the_smallest_of_every_other_way() -> None:
    p = np.array([[0.2, 0.5], [0.9, 0.1], [0.3, 0.3], [0.2, 0.8]])
    assert of_the_best(p).tolist() == [0.75, 1.0]


def test_of_ways_that_were_drawn_too_sums_as_far_to_either_side_are_ties() -> None:
    """The mean of what was drawn is never quite that of all ways; about it one of two ties would always lie farther."""
    failed = [True] * 8 + [False] * 16
    drawn = rearranged(failed, [0] * 24, list(range(24)), most=500)
    scores = np.array([[float(place % 3 - 1)] for place in range(24)])
    sums = (_rows(drawn) @ scores)[:, 0]
    assert (drawn.all_of_them, sums.mean() != 0) == (False, True)
    assert both_ways(drawn, scores)[:, 0].tolist() == [float(np.mean(np.abs(sums) >= abs(one))) for one in sums]


def test_blocks_are_expected_to_fall_as_their_like() -> None:
    """Pots of two with both, one or none failed: the first and the second of a pot have each their own mean."""
    found = rearranged([True, True, False, True, False, False, True], [0] * 7, [0, 0, 1, 1, 2, 2, 3], most=2)
    assert found.expected.tolist() == pytest.approx([1 / 3, 2 / 3] * 3 + [1])
