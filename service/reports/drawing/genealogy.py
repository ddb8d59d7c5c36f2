"""The genealogy as a drawing: lots above, what was made of them below, parts at the foot; failed and held marked.

A small one is drawn level by level with all its lines. Where they would run through one another, up to 200 things, it
is drawn as families, which have few lines each, over as many pages as it needs. Above that each level is told in
counts. What failed is dark with a cross before its code, what is on hold has a broken frame and two bars: neither by
colour alone.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from schemas.words import Kind
from service.reports.drawing.boxes import (
    HIGH,
    LEVELS,
    NOUNS,
    TITLES,
    WIDTH,
    Relation,
    box,
    counted,
    line,
    svg,
    text,
)
from service.reports.drawing.families import families_svgs
from service.reports.drawing.marks import ASK, INK, LEAVE, SOFT_INK
from service.reports.wording import plural

MOST_DRAWN = 200
_GAP = 34.0
# So many stand in a row, and so many lines between rows of them can be followed by eye.
_ACROSS, _MOST_LINES = 10, 40
_SUM_HIGH, _SUM_GAP = 26.0, 24.0


@dataclass(frozen=True, slots=True)
class Kin:
    """One thing of the drawing."""

    code: str
    kind: Kind
    failed: bool = False
    held: bool = False


def genealogy_svgs(things: Sequence[Relation], links: Iterable[tuple[str, str]]) -> list[str]:
    """The drawing, in as many pictures as it has pages; ``links`` lead from a thing to what it went into."""
    levels = [[t for t in things if t.kind in kinds] for kinds in LEVELS]
    drawn = {t.code for level in levels for t in level}
    edges = sorted({(a, b) for a, b in links if a in drawn and b in drawn})
    if len(drawn) > MOST_DRAWN:
        return [_summary(levels, edges)]
    level_of = {t.code: n for n, level in enumerate(levels) for t in level}
    if (
        any(len(level) > _ACROSS for level in levels)
        or len(edges) > _MOST_LINES
        or any(level_of[a] == level_of[b] for a, b in edges)
    ):
        return families_svgs([t for level in levels for t in level], edges, genealogy_says(things))
    return [_level_by_level(levels, edges, genealogy_says(things))]


def _level_by_level(levels: Sequence[Sequence[Relation]], edges: Sequence[tuple[str, str]], title: str) -> str:
    body: list[str] = []
    boxes: list[str] = []
    places: dict[str, tuple[float, float]] = {}
    parents: dict[str, list[str]] = defaultdict(list)
    for source, target in edges:
        parents[target].append(source)
    y = 0.0
    for level, named in zip(levels, TITLES, strict=True):
        if not level:
            continue
        boxes.append(text(0, y + 9, named, SOFT_INK, 8.5))
        y += 18
        for column, one in enumerate(_in_order(level, parents, places)):
            x = WIDTH / 2 + (column - (len(level) - 1) / 2) * (WIDTH / _ACROSS)
            places[one.code] = (x, y)
            boxes += box(one, x, y)
        y += HIGH + _GAP
    marked = {t.code for level in levels for t in level if t.failed}
    for source, target in edges:
        (x1, y1), (x2, y2) = places[source], places[target]
        body.append(line((x1, y1 + HIGH), (x2, y2), strong=target in marked))
    return svg(y - _GAP + 4, title, [*body, *boxes])


def genealogy_says(things: Sequence[Relation]) -> str:
    """The same in words."""
    said = []
    for kinds, noun in zip(LEVELS, NOUNS, strict=True):
        level = [t for t in things if t.kind in kinds]
        if level:
            said.append(counted(level, noun))
    return "From lots to parts: " + "; ".join(said)


def _in_order(
    level: Sequence[Relation], parents: Mapping[str, Sequence[str]], places: Mapping[str, tuple[float, float]]
) -> list[Relation]:
    """Each below what it came from, as near as the row allows, so that few lines cross."""

    def over(one: Relation) -> tuple[float, str]:
        known = [places[p][0] for p in parents[one.code] if p in places]
        return (sum(known) / len(known) if known else WIDTH / 2, one.code)

    return sorted(level, key=over)


def _summary(levels: Sequence[Sequence[Relation]], edges: Sequence[tuple[str, str]]) -> str:
    """One box a level with its counts and marks, and for each two levels how many steps lead from one to the other."""
    level_of = {t.code: n for n, level in enumerate(levels) for t in level}
    between = Counter((level_of[a], level_of[b]) for a, b in edges)
    shown = [n for n, level in enumerate(levels) if level]
    top = {n: place * (_SUM_HIGH + _SUM_GAP) for place, n in enumerate(shown)}
    middle, body, past = WIDTH / 2, [], 0
    for n in shown:
        body += _sum_box(levels[n], NOUNS[n], middle, top[n])
    for (a, b), steps in sorted(between.items(), key=lambda pair: pair[0][1] - pair[0][0]):
        y1, y2 = top[a] + _SUM_HIGH, top[b]
        said = plural(steps, "step")
        if a == b:
            body.append(text(middle - 158, top[a] + 17, f"{said} among them", SOFT_INK, anchor="end"))
        elif shown.index(b) == shown.index(a) + 1:
            body.append(f'<path d="M{middle:.1f} {y1:.1f}V{y2:.1f}" stroke="{SOFT_INK}" stroke-width="1.2"/>')
            body.append(text(middle + 8, y1 + 16, said, SOFT_INK))
        else:
            # Past the levels between them, each on a line of its own.
            x, y1, y2 = middle + 168 + 46 * past, top[a] + _SUM_HIGH / 2 + 3, top[b] + _SUM_HIGH / 2 - 3
            past += 1
            body.append(
                f'<path d="M{middle + 150:.1f} {y1:.1f}H{x:.1f}V{y2:.1f}H{middle + 150:.1f}" stroke="{SOFT_INK}" '
                'stroke-width="1.2" fill="none"/>'
            )
            body.append(text(x + 4, (y1 + y2) / 2 + 3 + 11 * (past - 1), said, SOFT_INK))
    things = [t for level in levels for t in level]
    return svg(top[shown[-1]] + _SUM_HIGH + 4, genealogy_says(things), body)


def _sum_box(level: Sequence[Relation], noun: str, middle: float, y: float) -> list[str]:
    failed, held = any(t.failed for t in level), any(t.held for t in level)
    stroke = f'stroke="{LEAVE if failed else ASK if held else INK}"'
    dash = ' stroke-dasharray="3 2"' * held + ' stroke-width="1.6"' * (failed or held)
    signs = "× " * failed + "‖ " * held
    return [
        f'<rect x="{middle - 150:.1f}" y="{y:.1f}" width="300" height="{_SUM_HIGH:.0f}" fill="#fff" {stroke}{dash}/>',
        text(middle, y + 17, signs + counted(level, noun), INK, 11, "middle"),
    ]
