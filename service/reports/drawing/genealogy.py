"""The genealogy as a drawing: lots above, what was made of them below, parts at the foot; failed and held marked.

Up to 200 things are drawn each with its code, readable in print; above that each level is told in counts. What failed
is dark with a cross before its code, what is on hold has a broken frame and two bars: neither by colour alone.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from schemas.words import Kind
from service.reports.drawing.marks import ASK, INK, LEAVE, PAPER_GREY, SOFT_INK, plain
from service.reports.wording import code, plural

MOST_DRAWN = 200
_WIDTH, _BOX, _HIGH, _ROW, _GAP = 672.0, 61.0, 16.0, 23.0, 34.0
_ACROSS = 10
_SUM_HIGH, _SUM_GAP = 26.0, 24.0
_LEVELS = ((Kind.LOT,), (Kind.CONTAINER,), (Kind.KIT, Kind.MIX), (Kind.CURE,), (Kind.PART,))
_TITLES = ("lots", "containers and rolls", "kits and pots", "cures", "parts")
_NOUNS = ("lot", "container", "kit or pot", "cure", "part")


class Relation(Protocol):
    """One thing as the drawing needs it."""

    @property
    def code(self) -> str: ...
    @property
    def kind(self) -> Kind: ...
    @property
    def failed(self) -> bool: ...
    @property
    def held(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Kin:
    """One thing of the drawing."""

    code: str
    kind: Kind
    failed: bool = False
    held: bool = False


def genealogy_svg(things: Sequence[Relation], links: Iterable[tuple[str, str]]) -> str:
    """The drawing; ``links`` lead from a thing to what it went into."""
    levels = [[t for t in things if t.kind in kinds] for kinds in _LEVELS]
    drawn = {t.code for level in levels for t in level}
    edges = sorted({(a, b) for a, b in links if a in drawn and b in drawn})
    if len(drawn) > MOST_DRAWN:
        return _summary(levels, edges)
    body: list[str] = []
    places: dict[str, tuple[float, float]] = {}
    parents: dict[str, list[str]] = defaultdict(list)
    for source, target in edges:
        parents[target].append(source)
    y = 0.0
    boxes: list[str] = []
    for level, title in zip(levels, _TITLES, strict=True):
        if not level:
            continue
        boxes.append(_text(0, y + 9, title, SOFT_INK, 8.5, "start"))
        y += 14
        for place, one in enumerate(_in_order(level, parents, places)):
            row, column = divmod(place, _ACROSS)
            count = min(_ACROSS, len(level) - row * _ACROSS)
            x = _WIDTH / 2 + (column - (count - 1) / 2) * (_WIDTH / _ACROSS)
            places[one.code] = (x, y + row * _ROW)
            boxes += _box(one, x, y + row * _ROW)
        y += math.ceil(len(level) / _ACROSS) * _ROW + _GAP
    marked = {t.code for t in things if t.failed}
    for source, target in edges:
        body.append(_line(places[source], places[target], strong=target in marked))
    return _svg(y - _GAP + 4, genealogy_says(things), [*body, *boxes])


def genealogy_says(things: Sequence[Relation]) -> str:
    """The same in words."""
    said = []
    for kinds, noun in zip(_LEVELS, _NOUNS, strict=True):
        level = [t for t in things if t.kind in kinds]
        if level:
            said.append(_counted(level, noun))
    return "From lots to parts: " + "; ".join(said)


def _counted(level: Sequence[Relation], noun: str) -> str:
    failed, held = sum(t.failed for t in level), sum(t.held for t in level)
    marks = [f"{failed} failed"] * bool(failed) + [f"{held} on hold"] * bool(held)
    many = "kits or pots" if noun == "kit or pot" else None
    return plural(len(level), noun, many) + (f" ({', '.join(marks)})" if marks else "")


def _in_order(
    level: Sequence[Relation], parents: Mapping[str, Sequence[str]], places: Mapping[str, tuple[float, float]]
) -> list[Relation]:
    """Each below what it came from, as near as the row allows, so that few lines cross."""

    def over(one: Relation) -> tuple[float, str]:
        known = [places[p][0] for p in parents[one.code] if p in places]
        return (sum(known) / len(known) if known else _WIDTH / 2, one.code)

    return sorted(level, key=over)


def _summary(levels: Sequence[Sequence[Relation]], edges: Sequence[tuple[str, str]]) -> str:
    """One box a level with its counts and marks, and for each two levels how many steps lead from one to the other."""
    level_of = {t.code: n for n, level in enumerate(levels) for t in level}
    between = Counter((level_of[a], level_of[b]) for a, b in edges)
    shown = [n for n, level in enumerate(levels) if level]
    top = {n: place * (_SUM_HIGH + _SUM_GAP) for place, n in enumerate(shown)}
    middle, body, past = _WIDTH / 2, [], 0
    for n in shown:
        body += _sum_box(levels[n], _NOUNS[n], middle, top[n])
    for (a, b), steps in sorted(between.items(), key=lambda pair: pair[0][1] - pair[0][0]):
        y1, y2 = top[a] + _SUM_HIGH, top[b]
        said = plural(steps, "step")
        if a == b:
            body.append(_text(middle - 158, top[a] + 17, f"{said} among them", SOFT_INK, 9, "end"))
        elif shown.index(b) == shown.index(a) + 1:
            body.append(f'<path d="M{middle:.1f} {y1:.1f}V{y2:.1f}" stroke="{SOFT_INK}" stroke-width="1.2"/>')
            body.append(_text(middle + 8, y1 + 16, said, SOFT_INK, 9, "start"))
        else:
            # Past the levels between them, each on a line of its own.
            x, y1, y2 = middle + 168 + 46 * past, top[a] + _SUM_HIGH / 2 + 3, top[b] + _SUM_HIGH / 2 - 3
            past += 1
            body.append(
                f'<path d="M{middle + 150:.1f} {y1:.1f}H{x:.1f}V{y2:.1f}H{middle + 150:.1f}" stroke="{SOFT_INK}" '
                'stroke-width="1.2" fill="none"/>'
            )
            body.append(_text(x + 4, (y1 + y2) / 2 + 3 + 11 * (past - 1), said, SOFT_INK, 9, "start"))
    things = [t for level in levels for t in level]
    return _svg(top[shown[-1]] + _SUM_HIGH + 4, genealogy_says(things), body)


def _sum_box(level: Sequence[Relation], noun: str, middle: float, y: float) -> list[str]:
    failed, held = any(t.failed for t in level), any(t.held for t in level)
    stroke = f'stroke="{LEAVE if failed else ASK if held else INK}"'
    dash = ' stroke-dasharray="3 2"' * held + ' stroke-width="1.6"' * (failed or held)
    signs = "× " * failed + "‖ " * held
    return [
        f'<rect x="{middle - 150:.1f}" y="{y:.1f}" width="300" height="{_SUM_HIGH:.0f}" fill="#fff" {stroke}{dash}/>',
        _text(middle, y + 17, signs + _counted(level, noun), INK, 11, "middle"),
    ]


def _box(one: Relation, x: float, y: float) -> list[str]:
    fill, stroke, ink, dash, sign = "#fff", PAPER_GREY, INK, "", ""
    if one.held:
        stroke, dash, sign = ASK, ' stroke-dasharray="3 2" stroke-width="1.6"', "‖ "
    if one.failed:
        fill, stroke, ink, sign = LEAVE, LEAVE, "#fff", "× "
    left = x - _BOX / 2
    return [
        f'<rect x="{left:.1f}" y="{y:.1f}" width="{_BOX:.0f}" height="{_HIGH:.0f}" fill="{fill}" '
        f'stroke="{stroke}"{dash}/>',
        _text(x, y + 11.5, sign + code(one.code), ink, 9, "middle"),
    ]


def _line(source: tuple[float, float], target: tuple[float, float], *, strong: bool) -> str:
    (x1, y1), (x2, y2) = source, target
    colour, width = (LEAVE, 0.9) if strong else (PAPER_GREY, 0.6)
    return (
        f'<path d="M{x1:.1f} {y1 + _HIGH:.1f}L{x2:.1f} {y2:.1f}" stroke="{colour}" stroke-width="{width}" fill="none"/>'
    )


def _svg(height: float, title: str, body: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:.0f} {height:.0f}" width="{_WIDTH:.0f}"'
        f' height="{height:.0f}"><title>{plain(title)}</title>{"".join(body)}</svg>'
    )


def _text(x: float, y: float, text: str, colour: str, size: float, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="\'Source Sans Pro\', sans-serif" font-size="{size:g}" '
        f'text-anchor="{anchor}" fill="{colour}">{plain(text)}</text>'
    )
