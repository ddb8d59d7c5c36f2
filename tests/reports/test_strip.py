"""The strip of a container's age: three kinds of marks that differ in shape, a band up to the limit."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from service.reports.drawing.strip import age_strip_svg, strip_says
from service.reports.finding.suspected import AgeSplit, Point
from service.reports.finding.suspects import find_suspects
from tests.reports.test_suspects import CAN, LATE, OLD_CAN, YARD

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def split() -> AgeSplit:
    return find_suspects(LATE[0], outcomes=YARD, factors=[CAN], aged=[OLD_CAN]).splits[0]


def _marks(split: AgeSplit) -> tuple[int, int, int]:
    """Failed, good, not judged."""
    root = ET.fromstring(age_strip_svg(split))
    rings = [c for c in root.iter(f"{SVG}circle") if c.get("fill") == "none"]
    return len(list(root.iter(f"{SVG}polygon"))), len(list(root.iter(f"{SVG}circle"))) - len(rings), len(rings)


def test_every_part_has_one_mark_of_its_own_shape(split: AgeSplit) -> None:
    assert _marks(split) == (6, 32, 0)
    ring = replace(split, points=(*split.points[:-1], replace(split.points[-1], failed=None)))
    assert sum(_marks(ring)) == 38
    assert _marks(ring)[2] == 1


def test_failed_parts_stand_right_of_the_limit_and_only_they_are_red(split: AgeSplit) -> None:
    text = age_strip_svg(split)
    root = ET.fromstring(text)
    band = next(root.iter(f"{SVG}rect"))
    limit = float(band.get("x", "0")) + float(band.get("width", "0"))
    for octagon in root.iter(f"{SVG}polygon"):
        corners = [float(pair.split(",")[0]) for pair in (octagon.get("points") or "").split()]
        assert len(corners) == 8
        assert sum(corners) / 8 > limit
    assert text.count("#9f2a22") == 6


def test_parts_of_one_day_stand_on_one_another(split: AgeSplit) -> None:
    same = tuple(Point(f"P{n}", 40, False, None) for n in range(5))
    root = ET.fromstring(age_strip_svg(replace(split, points=same)))
    heights = [float(c.get("cy", "0")) for c in root.iter(f"{SVG}circle")]
    assert len(set(heights)) == 5
    assert min(heights) > 0


def test_what_was_measured_gives_the_height(split: AgeSplit) -> None:
    points = (Point("P1", 10, False, 84.0), Point("P2", 100, False, 84.0), Point("P3", 215, True, 31.0))
    root = ET.fromstring(age_strip_svg(replace(split, points=points, measured="hardness Shore D")))
    first, second = (float(c.get("cy", "0")) for c in root.iter(f"{SVG}circle"))
    low = float((next(root.iter(f"{SVG}polygon")).get("points") or "").split()[0].split(",")[1])
    assert first == second < low
    title = next(t for t in root.iter(f"{SVG}text") if t.text == "hardness Shore D")
    top = float((root.get("viewBox") or "").split()[1])
    assert top + 10 < float(title.get("y", "0")) < 0, "above the coloured area"
    assert "hardness Shore D" in "".join(t.text or "" for t in root.iter(f"{SVG}text"))


def test_days_past_a_date_begin_before_it(split: AgeSplit) -> None:
    points = (Point("P1", -40, False, None), Point("P2", 12, True, None))
    dated = replace(split, because="supplier", limit_days=0, points=points)
    words = [t.text for t in ET.fromstring(age_strip_svg(dated)).iter(f"{SVG}text")]
    assert "days after its date" in words
    assert any(w and w.startswith("−") for w in words), "a minus sign, not a hyphen"


def test_the_same_is_said_in_words(split: AgeSplit) -> None:
    assert strip_says(split).startswith("hardener can C002543, limit day 180: failed at day 181, day 186")
    assert "good from day 0 to day 211" in strip_says(split)
