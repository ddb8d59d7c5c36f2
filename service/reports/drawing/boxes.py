"""Boxes, lines and words of a drawn genealogy: what failed is dark with a cross, what is on hold has a broken frame."""

from collections.abc import Sequence
from typing import Protocol

from schemas.words import Kind
from service.reports.drawing.marks import ASK, INK, LEAVE, PAPER_GREY, RULE, plain
from service.reports.wording import code, plural

WIDTH, BOX, HIGH = 672.0, 61.0, 16.0
# So many small letters fit into a line of a box.
_ROOM = 13
LEVELS = ((Kind.LOT,), (Kind.CONTAINER,), (Kind.KIT, Kind.MIX), (Kind.CURE,), (Kind.PART,))
TITLES = ("lots", "containers and rolls", "kits and pots", "cures", "parts")
NOUNS = ("lot", "container", "kit or pot", "cure", "part")


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


def counted(level: Sequence[Relation], noun: str) -> str:
    """How many there are, and how many of them failed or are on hold."""
    failed, held = sum(t.failed for t in level), sum(t.held for t in level)
    marks = [f"{failed} failed"] * bool(failed) + [f"{held} on hold"] * bool(held)
    many = "kits or pots" if noun == "kit or pot" else None
    return plural(len(level), noun, many) + (f" ({', '.join(marks)})" if marks else "")


def lettered(tags: Sequence[str]) -> list[str]:
    """Letters in as many lines as a box needs for them.

    >>> lettered(["a", "b", "ab", "ac", "ad", "ae"])
    ['a b ab ac ad', 'ae']
    """
    lines: list[str] = []
    for tag in tags:
        if lines and len(lines[-1]) + 1 + len(tag) <= _ROOM:
            lines[-1] += f" {tag}"
        else:
            lines.append(tag)
    return lines


def height_of(tags: Sequence[str]) -> float:
    """How high a box with these letters is."""
    return HIGH + 11 * len(lettered(tags))


def box(one: Relation, x: float, y: float, *, tags: Sequence[str] = (), high: float = HIGH) -> list[str]:
    """A thing with its code, and below it in the box the letters of what it came from; ``x`` is its middle."""
    fill, stroke, ink, dash, sign = "#fff", PAPER_GREY, INK, "", ""
    if one.held:
        stroke, dash, sign = ASK, ' stroke-dasharray="3 2" stroke-width="1.6"', "‖ "
    if one.failed:
        fill, stroke, ink, sign = LEAVE, LEAVE, "#fff", "× "
    at = f'x="{x - BOX / 2:.1f}" y="{y:.1f}" width="{BOX:.0f}" height="{high:.0f}"'
    drawn = [
        f'<rect {at} fill="{fill}" stroke="{stroke}"{dash}/>',
        text(x, y + 11.5, sign + code(one.code), ink, anchor="middle"),
    ]
    for place, said in enumerate(lettered(tags)):
        drawn.append(text(x, y + 22.5 + 11 * place, said, ink, anchor="middle"))
    return drawn


def line(source: tuple[float, float], target: tuple[float, float], *, strong: bool) -> str:
    """From the foot of one box to the head of another; darker to what failed."""
    (x1, y1), (x2, y2) = source, target
    colour, width = (LEAVE, 0.9) if strong else (PAPER_GREY, 0.6)
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{colour}" stroke-width="{width}" fill="none"/>'


def frame(x: float, y: float, width: float, high: float) -> str:
    return (
        f'<rect x="{x + 1:.1f}" y="{y:.1f}" width="{width - 2:.1f}" height="{high:.1f}" fill="none" stroke="{RULE}" '
        'stroke-width="0.8"/>'
    )


def text(x: float, y: float, said: str, colour: str, size: float = 9, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="\'Source Sans Pro\', sans-serif" font-size="{size:g}" '
        f'text-anchor="{anchor}" fill="{colour}">{plain(said)}</text>'
    )


def svg(height: float, title: str, body: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'width="{WIDTH:.0f}" height="{height:.0f}"><title>{plain(title)}</title>{"".join(body)}</svg>'
    )
