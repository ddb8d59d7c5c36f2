"""The drawn genealogy: every thing in its level, marked without colour alone, and in counts above two hundred."""

import re

from schemas.words import Kind
from service.reports.drawing.genealogy import MOST_DRAWN, Kin, genealogy_says, genealogy_svg


def _family(parts: int) -> tuple[list[Kin], list[tuple[str, str]]]:
    things = [Kin("L000712", Kind.LOT), Kin("C002543", Kind.CONTAINER, held=True), Kin("M011793", Kind.MIX)]
    things += [Kin(f"P{n:05d}A", Kind.PART, failed=n == 0, held=n < 3) for n in range(parts)]
    links = [("L000712", "C002543"), ("C002543", "M011793"), *(("M011793", f"P{n:05d}A") for n in range(parts))]
    return things, links


def _places(svg: str) -> dict[str, tuple[float, float]]:
    found = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>([^<]+)</text>', svg)
    return {text: (float(x), float(y)) for x, y, text in found}


def test_each_thing_stands_below_what_it_came_from_and_says_how_it_is() -> None:
    things, links = _family(30)
    svg = genealogy_svg(things, links)
    places = _places(svg)
    assert places["L00071 2"][1] < places["‖ C00254 3"][1] < places["M01179 3"][1] < places["× P00000 A"][1]
    assert "‖ P00001 A" in places
    assert "P00005 A" in places
    assert svg.count("<path") == len(links)
    parts = [place for text, place in places.items() if text.removeprefix("× ").removeprefix("‖ ")[0] == "P"]
    assert len(set(parts)) == 30, "no two stand on one another"
    assert genealogy_says(things) == (
        "From lots to parts: 1 lot; 1 container (1 on hold); 1 kit or pot; 30 parts (1 failed, 3 on hold)"
    )


def test_two_hundred_things_fit_a_printed_page_and_more_are_told_in_counts() -> None:
    """A page of A4 has 247 mm within these margins; a code of 9 px is 6.75 points, the smallest that is read."""
    svg = genealogy_svg(*_family(MOST_DRAWN - 3))
    height = float(re.search(r'viewBox="0 0 672 (\d+)"', svg)[1])  # type: ignore[index]
    assert height * 25.4 / 96 < 240
    summary = genealogy_svg(*_family(MOST_DRAWN))
    assert "200 parts (1 failed, 3 on hold)" in summary
    assert "200 steps" in summary
    assert "P00005 A" not in summary
    # What goes past a level is counted beside it: no pot went into the cure.
    things, links = _family(MOST_DRAWN)
    cured = genealogy_svg(
        [*things, Kin("R00001A", Kind.CURE)], [*links, ("R00001A", "P00000A"), ("R00001A", "P00001A")]
    )
    places = _places(cured)
    assert places["2 steps"][0] < places["200 steps"][0]
    assert places["1 cure"][1] < places["2 steps"][1] < places["× ‖ 200 parts (1 failed, 3 on hold)"][1]
