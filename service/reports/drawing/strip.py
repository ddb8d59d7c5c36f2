"""The strip of a container's age: each part at the day on which something was taken for it, with the limit.

Drawn as SVG by hand. Failed parts have eight corners and are the only red thing; good ones are discs, and those that
are not judged yet are rings, so that all three differ in grey print.
"""

import math
from collections.abc import Sequence

from service.reports.drawing.marks import ACTION, FIT, INK, LEAVE, RULE, SOFT_INK, plain
from service.reports.finding.suspected import AgeSplit

_WIDTH, _LEFT, _RIGHT = 640.0, 40.0, 12.0
_STEP = 11.0
_PLOT_HEIGHT = 150.0
_TITLE = 20.0
_BAND = "#dde8df"


def age_strip_svg(split: AgeSplit) -> str:
    """Parts over the days for which the container had been open, or over the days from its date."""
    days = [p.days for p in split.points]
    low, high = float(min([*days, 0])), float(max([*days, split.limit_days]))
    room = max(4.0, 0.04 * (high - low))
    low, high = (low if low == 0 else low - room), high + room
    values = [p.value for p in split.points if p.value is not None]
    places = _over_values(split, values) if split.measured is not None and values else _stacked(split, low, high)
    height = max(y for _, y in places) + 14 if split.measured is None else _PLOT_HEIGHT
    base = height
    # The title of the value axis stands above the coloured area, not across its edge.
    above = _TITLE if split.measured is not None and values else 0.0

    def x_of(day: float) -> float:
        return _LEFT + (day - low) / (high - low) * (_WIDTH - _LEFT - _RIGHT)

    body = [_band(x_of(low), x_of(split.limit_days), base)]
    if split.measured is not None and values:
        body += _value_axis(values, base)
        body.append(_text(2, 12 - _TITLE, split.measured, SOFT_INK, "start"))
    for day in _ticks(low, high):
        x = x_of(day)
        body.append(f'<path d="M{x:.1f} {base:.1f}v4" stroke="{SOFT_INK}" stroke-width="1"/>')
        body.append(_text(x, base + 17, f"{day:g}".replace("-", "−"), SOFT_INK, "middle"))
    body.append(f'<path d="M{_LEFT:.1f} {base:.1f}H{_WIDTH - _RIGHT:.1f}" stroke="{INK}" stroke-width="1"/>')
    x = x_of(split.limit_days)
    body.append(f'<path d="M{x:.1f} 0V{base:.1f}" stroke="{FIT}" stroke-width="1.2" stroke-dasharray="4 3"/>')
    name = f"limit {split.limit_days}" if split.because == "opened" else "its date"
    anchor, shift = ("end", -5) if x > _WIDTH * 0.6 else ("start", 5)
    body.append(_text(x + shift, 10, name, FIT, anchor))
    for point, (day, y) in zip(split.points, places, strict=True):
        body.append(_mark(x_of(day), y, point.failed))
    what = "days open when something was taken for the part" if split.because == "opened" else "days after its date"
    body.append(_text((_LEFT + _WIDTH - _RIGHT) / 2, base + 32, what, SOFT_INK, "middle"))
    high = base + above + 38
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {-above:.0f} {_WIDTH:.0f} {high:.1f}" '
        f'width="{_WIDTH:.0f}" height="{high:.1f}"><title>{plain(strip_says(split))}</title>{"".join(body)}</svg>'
    )


def strip_says(split: AgeSplit) -> str:
    """The same in words, for those who do not see it."""
    failed = [f"day {p.days}" for p in split.points if p.failed]
    good = [p.days for p in split.points if p.failed is False]
    span = f"; good from day {min(good)} to day {max(good)}" if good else ""
    return f"{split.noun} {split.code}, limit day {split.limit_days}: failed at {', '.join(failed) or 'none'}{span}"


def _band(left: float, right: float, base: float) -> str:
    return f'<rect x="{left:.1f}" y="0" width="{max(0.0, right - left):.1f}" height="{base:.1f}" fill="{_BAND}"/>'


def _stacked(split: AgeSplit, low: float, high: float) -> list[tuple[float, float]]:
    """Parts of about the same day stand on one another."""
    per_day = (_WIDTH - _LEFT - _RIGHT) / (high - low)
    columns: list[tuple[float, int]] = []
    heights = []
    for point in split.points:
        near = [i for i, (day, _) in enumerate(columns) if abs(day - point.days) * per_day < _STEP]
        if near:
            day, n = columns[near[-1]]
            columns[near[-1]] = (day, n + 1)
            heights.append(n + 1)
        else:
            columns.append((point.days, 0))
            heights.append(0)
    top = 18 + _STEP * max(heights, default=0)
    return [(p.days, top - _STEP * h + 8) for p, h in zip(split.points, heights, strict=True)]


def _over_values(split: AgeSplit, values: Sequence[float]) -> list[tuple[float, float]]:
    """Where a part was not measured, it stands at the foot."""
    low, high = _range(values)
    return [
        (
            p.days,
            _PLOT_HEIGHT - 8
            if p.value is None
            else _PLOT_HEIGHT - 14 - (p.value - low) / (high - low) * (_PLOT_HEIGHT - 34),
        )
        for p in split.points
    ]


def _range(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    return (low, high) if high > low else (low - 1, high + 1)


def _value_axis(values: Sequence[float], base: float) -> list[str]:
    low, high = _range(values)
    body = []
    for value in _ticks(low, high):
        y = base - 14 - (value - low) / (high - low) * (base - 34)
        body.append(f'<path d="M{_LEFT:.1f} {y:.1f}H{_WIDTH - _RIGHT:.1f}" stroke="{RULE}" stroke-width="0.6"/>')
        body.append(_text(_LEFT - 6, y + 4, f"{value:g}", SOFT_INK, "end"))
    return body


def _ticks(low: float, high: float) -> list[float]:
    steps = (1, 2, 5, 10, 15, 20, 30, 60, 90, 120, 180, 365)
    step = next((s for s in steps if (high - low) / s <= 8), math.ceil((high - low) / 8))
    first = math.ceil(low / step) * step
    return [first + step * n for n in range(int((high - first) / step) + 1)]


def _mark(x: float, y: float, failed: bool | None) -> str:
    if failed:
        corners = [math.pi / 8 + k * math.pi / 4 for k in range(8)]
        points = " ".join(f"{x + 5.4 * math.cos(a):.1f},{y + 5.4 * math.sin(a):.1f}" for a in corners)
        return f'<polygon points="{points}" fill="{LEAVE}"/>'
    if failed is None:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.8" fill="none" stroke="{ACTION}" stroke-width="1.4"/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.2" fill="{INK}"/>'


def _text(x: float, y: float, text: str, colour: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="\'Source Sans Pro\', sans-serif" font-size="12" '
        f'text-anchor="{anchor}" fill="{colour}">{plain(text)}</text>'
    )
