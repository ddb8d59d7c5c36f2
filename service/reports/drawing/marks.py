"""Small drawings of the reports, written as SVG by hand: the bar of a ratio, the stack of plies.

Verdicts differ in shape before they differ in colour: a disc is within, a slanted mark is near the limit, a mark with
eight corners is outside. Colours are those of the house.
"""

import hashlib
import math
import re
from collections.abc import Sequence
from typing import Protocol
from xml.sax.saxutils import escape

INK = "#22303a"
SOFT_INK = "#5b6770"
RULE = "#d8d0bd"
ACTION = "#1f4e79"
FIT = "#1d6b46"
ASK = "#a86400"
LEAVE = "#9f2a22"
PAPER_GREY = "#b9b3a4"
_BAND = "#dde8df"  # FIT at 15 % on the card's colour

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(text: str) -> str:
    """Text made safe for XML: escaped, without characters that XML can't hold."""
    return escape(_NOT_XML.sub("", text), {'"': "&quot;"})


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) >= 0.005 else "0"


def _element(width: float, height: float, title: str, body: Sequence[str]) -> str:
    key = "m" + hashlib.sha256("".join((title, *body)).encode("utf-8", "replace")).hexdigest()[:8]
    size = f'width="{_number(width)}" height="{_number(height)}" viewBox="0 0 {_number(width)} {_number(height)}"'
    inside = "\n".join(f" {part}" for part in body)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="{key}">\n'
        f' <title id="{key}">{plain(title)}</title>\n{inside}\n</svg>\n'
    )


_BAR_WIDTH, _BAR_HEIGHT = 188.0, 22.0
_HALF_BAND = 26.0


def ratio_bar_svg(
    *, deviation_pct: float, uncertainty_pct: float, tolerance_pct: float, component: str = "hardener"
) -> str:
    """A mix's deviation from its ratio against the tolerance, with the weighing's uncertainty (k = 2).

    Within if |deviation| + U ≤ tolerance, outside if |deviation| − U > tolerance, otherwise near the limit. The band
    always has the same width, so that bars with different tolerances compare; a deviation beyond the bar's end is
    drawn at the end with an arrow.
    """
    for name, value in (("deviation_pct", deviation_pct), ("uncertainty_pct", uncertainty_pct)):
        if not math.isfinite(value):
            raise ValueError(f"{name} is {value}; it must be a finite number.")
    if uncertainty_pct < 0:
        raise ValueError(f"uncertainty_pct is {uncertainty_pct:g}; it must be at least 0.")
    if not (math.isfinite(tolerance_pct) and tolerance_pct > 0):
        raise ValueError(f"tolerance_pct is {tolerance_pct:g}; it must be a number above 0.")
    centre, middle = _BAR_WIDTH / 2, _BAR_HEIGHT / 2
    scale = _HALF_BAND / tolerance_pct
    reach = centre - 9
    beyond = abs(deviation_pct * scale) > reach
    x = centre + max(-reach, min(reach, deviation_pct * scale))
    size = abs(deviation_pct)
    if size - uncertainty_pct > tolerance_pct * (1 + 1e-9):
        verdict, mark = "outside", _octagon(x, middle, 5.2)
    elif size + uncertainty_pct <= tolerance_pct * (1 + 1e-9):
        verdict, mark = "within", f'<circle cx="{_number(x)}" cy="{_number(middle)}" r="4.5" fill="{INK}"/>'
    else:
        verdict, mark = "near the limit", _slanted(x, middle)
    colour = {"outside": LEAVE, "within": INK, "near the limit": ASK}[verdict]
    body = [
        f'<rect x="{_number(centre - _HALF_BAND)}" y="3" width="{_number(2 * _HALF_BAND)}" '
        f'height="{_number(_BAR_HEIGHT - 6)}" fill="{_BAND}"/>',
        f'<path d="M{_number(centre)} 1V{_number(_BAR_HEIGHT - 1)}" stroke="{INK}" stroke-width="1.5"/>',
    ]
    if not beyond and uncertainty_pct > 0:
        left = max(0.0, x - uncertainty_pct * scale)
        right = min(_BAR_WIDTH, x + uncertainty_pct * scale)
        body.append(
            f'<path d="M{_number(left)} {_number(middle)}H{_number(right)}'
            f"M{_number(left)} {_number(middle - 3)}v6M{_number(right)} {_number(middle - 3)}v6"
            f'" stroke="{colour}" stroke-width="1.4" fill="none"/>'
        )
    body.append(mark)
    if beyond:
        side = math.copysign(1, deviation_pct)
        body.append(
            f'<path d="M{_number(x + side * 6)} {_number(middle - 3.5)}l{_number(side * 3)} 3.5'
            f'l{_number(-side * 3)} 3.5"'
            f' stroke="{colour}" stroke-width="1.4" fill="none"/>'
        )
    sign = "+" if deviation_pct > 0 else "−" if deviation_pct < 0 else ""
    knows = f"± {uncertainty_pct:.1f} %, tolerance ± {tolerance_pct:g} %"
    title = f"{component.capitalize()} {sign}{size:.1f} % {knows}: {verdict}"
    return _element(_BAR_WIDTH, _BAR_HEIGHT, title, body)


def _octagon(x: float, y: float, radius: float) -> str:
    corners = [math.pi / 8 + k * math.pi / 4 for k in range(8)]
    points = " ".join(f"{_number(x + radius * math.cos(a))},{_number(y + radius * math.sin(a))}" for a in corners)
    return f'<polygon points="{points}" fill="{LEAVE}"/>'


def _slanted(x: float, y: float) -> str:
    points = ((-6.0, 4.5), (-2.0, -4.5), (6.0, -4.5), (2.0, 4.5))
    text = " ".join(f"{_number(x + dx)},{_number(y + dy)}" for dx, dy in points)
    return f'<polygon points="{text}" fill="#fffdf7" stroke="{ASK}" stroke-width="1.6"/>'


class StackedPly(Protocol):
    """A layer as the drawing needs it; ``kind`` is fibre, gel coat, core or film."""

    @property
    def label(self) -> str: ...
    @property
    def thickness_mm(self) -> float: ...
    @property
    def kind(self) -> str: ...


_FILLS = {"fibre": ("#9aa6b0", "#7d8a95"), "gel coat": ("#cdb98f",), "core": ("#eee5cf",), "film": ("#dfe4e8",)}
_STACK_WIDTH, _LABEL_STEP, _LABEL_WIDTH = 180.0, 15.0, 240.0
_THINNEST, _LEAST_HEIGHT, _MOST_HEIGHT = 3.0, 60.0, 420.0


def ply_stack_svg(plies: Sequence[StackedPly]) -> str:
    """The layers of a laminate in the order in which they were laid: the first lies on the mould, at the bottom.

    Heights are proportional to thickness. Labels stand to the right, each on a line of its own, joined to its layer.
    """
    if not plies:
        raise ValueError("plies is empty; a laminate has at least one layer.")
    for ply in plies:
        if not (math.isfinite(ply.thickness_mm) and ply.thickness_mm > 0):
            raise ValueError(f"thickness_mm of {ply.label!r} is {ply.thickness_mm}; it must be a number above 0.")
    total = sum(ply.thickness_mm for ply in plies)
    thinnest = min(ply.thickness_mm for ply in plies)
    stack = min(_MOST_HEIGHT, max(_LEAST_HEIGHT, _THINNEST * total / thinnest))
    height = max(stack, _LABEL_STEP * len(plies)) + 24
    top = (height - 16 - stack) / 2 + 2
    body: list[str] = []
    centres: list[float] = []
    y = top + stack
    fibres = 0
    for ply in plies:
        thick = stack * ply.thickness_mm / total
        y -= thick
        fills = _FILLS.get(ply.kind, _FILLS["film"])
        fill = fills[fibres % len(fills)]
        fibres += ply.kind == "fibre"
        body.append(
            f'<rect x="0.5" y="{_number(y)}" width="{_number(_STACK_WIDTH)}" height="{_number(thick)}" fill="{fill}" '
            f'stroke="{INK}" stroke-width="{"0.8" if thick >= 2 else "0.2"}"/>'
        )
        centres.append(y + thick / 2)
    base = top + stack
    body.append(f'<path d="M0 {_number(base + 3)}H{_number(_STACK_WIDTH + 1)}" stroke="{INK}" stroke-width="2"/>')
    body.append(_text(0, base + 15, "mould", SOFT_INK))
    for ply, centre, place in zip(plies, centres, _label_places(centres, height - 18), strict=True):
        x = _STACK_WIDTH + 1
        body.append(
            f'<path d="M{_number(x)} {_number(centre)}L{_number(x + 12)} {_number(place)}h4" '
            f'stroke="{SOFT_INK}" stroke-width="0.6" fill="none"/>'
        )
        body.append(_text(x + 20, place + 4, ply.label, INK))
    title = "Plies, from the mould: " + "; ".join(f"{ply.label}, {ply.thickness_mm:.3g} mm" for ply in plies)
    longest = max(len(ply.label) for ply in plies)
    return _element(_STACK_WIDTH + 24 + max(_LABEL_WIDTH, 6.5 * longest), height, title, body)


def _text(x: float, y: float, text: str, colour: str) -> str:
    style = 'font-family="\'Source Sans Pro\', sans-serif" font-size="12"'
    return f'<text x="{_number(x)}" y="{_number(y)}" {style} fill="{colour}">{plain(text)}</text>'


def _label_places(centres: Sequence[float], height: float) -> list[float]:
    """Heights for labels from the lowest layer up, at least a line apart, as near to their layers as that allows."""
    places: list[float] = []
    for centre in centres:
        places.append(min(centre, places[-1] - _LABEL_STEP) if places else min(centre, height - _LABEL_STEP / 2))
    ceiling = _LABEL_STEP / 2
    for i in range(len(places) - 1, -1, -1):
        places[i] = max(places[i], ceiling)
        ceiling = places[i] + _LABEL_STEP
    return places
