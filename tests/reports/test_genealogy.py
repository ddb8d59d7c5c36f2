"""The drawn genealogy: every thing in its level, marked without colour alone, and in counts above two hundred."""

import random
import re
from collections import Counter
from itertools import takewhile

import pytest

from schemas.words import Kind
from service.reports.drawing.boxes import WIDTH
from service.reports.drawing.genealogy import MOST_DRAWN, Kin, genealogy_says, genealogy_svgs


def _family(parts: int) -> tuple[list[Kin], list[tuple[str, str]]]:
    things = [Kin("L000712", Kind.LOT), Kin("C002543", Kind.CONTAINER, held=True), Kin("M011793", Kind.MIX)]
    things += [Kin(f"P{n:05d}A", Kind.PART, failed=n == 0, held=n < 3) for n in range(parts)]
    links = [("L000712", "C002543"), ("C002543", "M011793"), *(("M011793", f"P{n:05d}A") for n in range(parts))]
    return things, links


def _tangle(seed: int) -> tuple[list[Kin], list[tuple[str, str]]]:
    """Two hundred things as a season leaves them: pots of two cans, parts of three pots and a cure, some shared."""
    rng = random.Random(seed)
    cans, pots = [f"C{n:05d}A" for n in range(8)], [f"M{n:05d}A" for n in range(80)]
    cures, parts = [f"R{n:05d}A" for n in range(30)], [f"P{n:05d}A" for n in range(81)]
    things = [Kin("L000712", Kind.LOT)]
    things += [Kin(c, Kind.CONTAINER) for c in cans] + [Kin(m, Kind.MIX, held=True) for m in pots]
    things += [Kin(c, Kind.CURE) for c in cures] + [Kin(p, Kind.PART, failed=rng.random() < 0.1) for p in parts]
    links = [("L000712", c) for c in cans] + [(c, m) for m in pots for c in rng.sample(cans, 2)]
    links += [(m, p) for p in parts for m in rng.sample(pots, 3)] + [(rng.choice(cures), p) for p in parts]
    links += [(parts[0], parts[1]), (parts[2], parts[1])]
    return things, links


def _places(svg: str) -> dict[str, tuple[float, float]]:
    found = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>([^<]+)</text>', svg)
    return {text: (float(x), float(y)) for x, y, text in found}


def _plain(said: str) -> str:
    return said.removeprefix("× ").removeprefix("‖ ").replace(" ", "")


def test_each_thing_stands_below_what_it_came_from_and_says_how_it_is() -> None:
    things, links = _family(8)
    (svg,) = genealogy_svgs(things, links)
    places = _places(svg)
    assert places["L00071 2"][1] < places["‖ C00254 3"][1] < places["M01179 3"][1] < places["× P00000 A"][1]
    assert "‖ P00001 A" in places
    assert "P00005 A" in places
    assert svg.count("<path") == len(links)
    assert genealogy_says(things) == (
        "From lots to parts: 1 lot; 1 container (1 on hold); 1 kit or pot; 8 parts (1 failed, 3 on hold)"
    )


def test_many_that_came_of_one_pot_have_one_heading_with_their_number_and_the_pots_letter() -> None:
    (svg,) = genealogy_svgs(*_family(30))
    places = _places(svg)
    letter = next(said for said, (x, y) in places.items() if said.endswith(" of b") and len(said) == 6)[0]
    assert f"30 parts (1 failed, 3 on hold) of {letter}" in places
    parts = {place for said, place in places.items() if re.fullmatch(r"P\d{5}A", _plain(said))}
    assert len(parts) == 30, "no two stand on one another"


@pytest.mark.parametrize("seed", range(5))
def test_a_tangle_of_two_hundred_is_drawn_as_families_with_every_link_a_short_line_or_a_letter(seed: int) -> None:
    things, links = _tangle(seed)
    assert len(things) == MOST_DRAWN
    pages = genealogy_svgs(things, links)
    drawn = Counter(_plain(said) for svg in pages for said in re.findall(r">([^<]+)</text>", svg))
    assert [t.code for t in things if drawn[t.code] != 1] == [], "each thing is drawn once"
    assert all(f"× {t.code[:6]} {t.code[6:]}" in "".join(pages) for t in things if t.failed)
    told = 0
    for svg in pages:
        # A page of A4 has 247 mm within these margins; a code of 9 px is 6.75 points, the smallest that is read.
        assert float(re.search(r'viewBox="0 0 672 (\d+)"', svg)[1]) * 25.4 / 96 < 232  # type: ignore[index]
        assert all(float(x) <= 672 for x in re.findall(r'<text x="([\d.]+)"', svg))
        for _, y1, _, y2 in re.findall(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"', svg):
            told += 1
            assert float(y2) - float(y1) <= 100, (
                "a line leads to the next row, or past it to what parts are fitted into"
            )
        said = re.findall(r">([^<]+)</text>", svg)
        for place, code in enumerate(said):
            own = list(takewhile(re.compile(r"[a-z]{1,2}( [a-z]{1,2})*").fullmatch, said[place + 1 :]))
            letters = " ".join(own).split()
            source = re.match(r"[LC]", _plain(code)) or "of" in letters or code.startswith("R")
            told += len([one for one in (letters[1:] if source else letters) if one != "of"]) if letters else 0
            heading = re.fullmatch(r"(\d+) \D*(?:\(.*\))? ?of ([a-z, ]+)", code)
            told += int(heading[1]) * len(heading[2].split(", ")) if heading else 0
    assert told == len(set(links))


def test_two_hundred_parts_of_one_pot_fit_a_printed_page_and_more_are_told_in_counts() -> None:
    (svg,) = genealogy_svgs(*_family(MOST_DRAWN - 3))
    assert float(re.search(r'viewBox="0 0 672 (\d+)"', svg)[1]) * 25.4 / 96 < 232  # type: ignore[index]
    (summary,) = genealogy_svgs(*_family(MOST_DRAWN))
    assert "200 parts (1 failed, 3 on hold)" in summary
    assert "200 steps" in summary
    assert "P00005 A" not in summary
    # What goes past a level is counted beside it: no pot went into the cure.
    things, links = _family(MOST_DRAWN)
    (cured,) = genealogy_svgs(
        [*things, Kin("R00001A", Kind.CURE)], [*links, ("R00001A", "P00000A"), ("R00001A", "P00001A")]
    )
    places = _places(cured)
    assert places["2 steps"][0] < places["200 steps"][0]
    assert places["1 cure"][1] < places["2 steps"][1] < places["× ‖ 200 parts (1 failed, 3 on hold)"][1]


@pytest.mark.parametrize("pots", [(3, 2, 2, 2), (2,) * 6, (4, 3, 2, 1), (9, 1)])
def test_families_side_by_side_stay_within_the_drawing(pots: tuple[int, ...]) -> None:
    """One of three pots beside three of two ended 13 px to the right of what is printed."""
    things, links = [Kin("L000712", Kind.LOT), Kin("C002543", Kind.CONTAINER)], [("L000712", "C002543")]
    for number in range(24):
        part = f"P{number:05d}A"
        things.append(Kin(part, Kind.PART))
        for place in range(pots[number % len(pots)]):
            mix = f"M{number:03d}{place:02d}A"
            things.append(Kin(mix, Kind.MIX))
            links += [("C002543", mix), (mix, part)]
    drawn = genealogy_svgs(things, links)
    assert len(things) <= MOST_DRAWN
    for svg in drawn:
        rects = re.findall(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
        assert rects
        assert max(float(x) + float(width) for x, width in rects) <= WIDTH
