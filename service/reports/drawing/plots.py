"""The plots of the reports, drawn with matplotlib as SVG that stands alone.

The same data give the same bytes: no date, no version, ids that depend on the content only. Text is drawn as outlines,
so that no font is needed to show it, and said once more as title and description for those who don't see it.
"""

import functools
import hashlib
import io
import itertools
import math
import re
import threading
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

from .marks import ACTION, FIT, INK, LEAVE, PAPER_GREY, RULE, SOFT_INK, plain, ply_stack_svg, ratio_bar_svg

__all__ = ["StageLimits", "cure_plot_svg", "run_chart_svg", "ratio_bar_svg", "ply_stack_svg"]

# matplotlib keeps its settings in one global table, so one figure is drawn at a time.
_ONE_AT_A_TIME = threading.Lock()
_MOST_POINTS = 1500
_WIDTH_IN, _HEIGHT_IN = 7.2, 3.0


class StageLimits(Protocol):
    """A stage of a cure as a plot needs it; without ``high_c`` the stage has only a lower limit."""

    @property
    def name(self) -> str: ...
    @property
    def low_c(self) -> float: ...
    @property
    def high_c(self) -> float | None: ...
    @property
    def minimum_min(self) -> float: ...


def cure_plot_svg(
    *,
    times_min: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    required: Sequence[str],
    stages: Sequence[StageLimits],
    air: Sequence[str] = (),
    gaps: Sequence[tuple[float, float]] = (),
    title: str,
) -> str:
    """Temperatures of a cure over time, with the band of each stage.

    ``times_min`` are minutes since the start, rising, one for each value of every probe; None where a probe gave
    none. The coldest of the ``required`` probes, by its mean over the stages, is drawn bold; ``air`` probes dashed.
    A stage's band begins where the coldest required probe entered it for its longest stay, and is as long as that
    stay or as the stage asks, whichever is longer: a stay cut short shows as a curve that leaves the band early.
    """
    for name, values in probes.items():
        if len(values) != len(times_min):
            raise ValueError(f"Probe {name} has {len(values)} values for {len(times_min)} times.")
    unknown = [name for name in (*required, *air) if name not in probes]
    if unknown:
        raise ValueError(f"No readings are given for {', '.join(unknown)}.")
    hours = [minutes / 60 for minutes in times_min]
    cold = _coldest(probes, required, stages)
    end = max([*hours, 1 / 60])
    bands = [(stage, *_band(stage, hours, probes[cold] if cold else (), end)) for stage in stages]
    end = max(end, *(stop for _, _, stop in bands)) if bands else end
    facts = f"{title}. Hours against °C. " + _summary(probes, cold, stages, gaps)
    with _figure(repr((times_min, probes, required, air, gaps, title)), _HEIGHT_IN) as (figure, axes):
        lines = _draw_probes(axes, hours, probes, cold, required, air, gaps)
        low, high = _range(probes, stages)
        row = 0.085 * (high - low)  # one line of text; the names of the stages stand above everything drawn
        axes.set_ylim(low, high + row * len(stages))
        # The names of the stages stand above; no line of the grid is to run through them.
        axes.set_yticks([tick for tick in axes.get_yticks() if low <= tick <= high])
        axes.set_xlim(min([*hours, 0.0]), end)
        for place, (stage, start, stop) in enumerate(bands):
            _draw_band(axes, stage, start, stop, top=high, label_at=high + row * (len(bands) - place - 0.7))
        for start, stop in gaps:
            axes.fill_between(
                [start / 60, stop / 60], low, high, facecolor="none", edgecolor=PAPER_GREY, hatch="////", linewidth=0
            )
        axes.set_xlabel("hours", color=SOFT_INK)
        axes.set_ylabel("°C", color=SOFT_INK, rotation=0, ha="right", va="center")
        axes.xaxis.set_major_locator(_hours_locator(end - min([*hours, 0.0])))
        _name_lines(axes, lines, low, high)
        return _svg(figure, title=title, description=facts)


def run_chart_svg(
    *,
    points: Sequence[float],
    mean: float,
    lower: float,
    upper: float,
    signals: Sequence[int],
    title: str,
    unit: str,
) -> str:
    """An individuals chart: one value after another, their mean and control limits.

    ``signals`` are the indices, from 0, of the points that stand out; only they are red, with eight corners.
    """
    if any(not 0 <= index < len(points) for index in signals):
        raise ValueError(f"signals must be indices of the {len(points)} points, from 0.")
    count = len(set(signals))
    standing_out = {0: "No value stands out.", 1: "One value stands out."}.get(count, f"{count} values stand out.")
    facts = f"{title}. {len(points)} values, mean {mean:.3g} {unit}, limits {lower:.3g} to {upper:.3g} {unit}. "
    facts += standing_out
    with _figure(repr((points, mean, lower, upper, signals, title, unit)), 2.4) as (figure, axes):
        axes.axhspan(lower, upper, color=FIT, alpha=0.14, linewidth=0, zorder=0)
        axes.axhline(mean, color=INK, linewidth=0.9, zorder=1)
        numbers = range(1, len(points) + 1)
        axes.plot(numbers, points, color=ACTION, linewidth=1.0, marker="o", markersize=4, zorder=2)
        marked = sorted(set(signals))
        axes.plot(
            [index + 1 for index in marked],
            [points[index] for index in marked],
            linestyle="none",
            marker="8",
            markersize=8,
            color=LEAVE,
            zorder=3,
        )
        values = [*points, lower, upper, mean]
        low, high = min(values), max(values)
        room = 0.12 * ((high - low) or 1.0)
        axes.set_ylim(low - room, high + room)
        axes.set_xlim(0.5, max(len(points), 1) + 0.5)
        axes.xaxis.set_major_locator(_whole_locator())
        axes.set_ylabel(unit, color=SOFT_INK, rotation=0, ha="right", va="center")
        edge = axes.get_yaxis_transform()
        names = [(upper, "upper limit"), (mean, "mean"), (lower, "lower limit")]
        places = _apart([value for value, _ in names], 0.11 * (high - low + 2 * room), low - room, high + room)
        for (value, name), place in zip(names, places, strict=True):
            said = f"{name} {value:.3g}".replace("-", "−")
            axes.text(1.012, place, said, transform=edge, va="center", fontsize=9, color=SOFT_INK)
        return _svg(figure, title=title, description=facts)


def _coldest(
    probes: Mapping[str, Sequence[float | None]], required: Sequence[str], stages: Sequence[StageLimits]
) -> str | None:
    """The required probe with the lowest mean while any required probe is at a stage's temperature."""
    if not required:
        return None
    floor = min((stage.low_c for stage in stages), default=-math.inf)
    length = len(probes[required[0]])
    at_work = [i for i in range(length) if any((v := probes[name][i]) is not None and v >= floor for name in required)]

    def mean(name: str) -> float:
        values = [v for i in (at_work or range(length)) if (v := probes[name][i]) is not None]
        return sum(values) / len(values) if values else math.inf

    return min(required, key=lambda name: (mean(name), required.index(name)))


def _band(stage: StageLimits, hours: Sequence[float], cold: Sequence[float | None], end: float) -> tuple[float, float]:
    high = math.inf if stage.high_c is None else stage.high_c
    longest: tuple[float, float] | None = None
    start: float | None = None
    for hour, value in zip(hours, cold, strict=False):
        if value is None:
            continue
        if not stage.low_c <= value <= high:
            start = None
            continue
        start = hour if start is None else start
        if longest is None or hour - start > longest[1] - longest[0]:
            longest = (start, hour)
    if longest is None:
        return min([*hours, 0.0]), end
    return longest[0], max(longest[1], longest[0] + stage.minimum_min / 60)


def _summary(
    probes: Mapping[str, Sequence[float | None]],
    cold: str | None,
    stages: Sequence[StageLimits],
    gaps: Sequence[tuple[float, float]],
) -> str:
    parts = []
    for name, values in probes.items():
        known = [value for value in values if value is not None]
        coldest = ", the coldest required probe," if name == cold else ""
        parts.append(
            f"{name}{coldest} from {min(known):.1f} to {max(known):.1f}" if known else f"{name} without values"
        )
    sentence = f"{'; '.join(parts)}." if parts else "No probes."
    limits = "; ".join(f"{stage.name} {_limits(stage)}" for stage in stages)
    missing = f" {len(gaps)} gaps without readings." if len(gaps) > 1 else " One gap without readings." if gaps else ""
    return f"{sentence}{f' Stages: {limits}.' if limits else ''}{missing}"


def _limits(stage: StageLimits) -> str:
    hours = f"{stage.minimum_min / 60:.3g} h" if stage.minimum_min >= 60 else f"{stage.minimum_min:.3g} min"
    if stage.high_c is None:
        return f"at least {stage.low_c:g} °C, {hours}"
    middle, half = (stage.low_c + stage.high_c) / 2, (stage.high_c - stage.low_c) / 2
    return f"{middle:g} ± {half:g} °C, {hours}"


def _range(probes: Mapping[str, Sequence[float | None]], stages: Sequence[StageLimits]) -> tuple[float, float]:
    values = [value for column in probes.values() for value in column if value is not None]
    values += [stage.low_c for stage in stages]
    values += [stage.high_c if stage.high_c is not None else stage.low_c + 5 for stage in stages]
    low, high = (min(values), max(values)) if values else (0.0, 100.0)
    room = max(2.0, 0.08 * (high - low))
    return low - room, high + room


def _draw_band(axes: Any, stage: StageLimits, start: float, stop: float, *, top: float, label_at: float) -> None:
    high = top if stage.high_c is None else stage.high_c
    axes.fill_between([start, stop], stage.low_c, high, color=FIT, alpha=0.14, linewidth=0, zorder=0)
    axes.plot([start, start], [high, label_at], color=FIT, linewidth=0.6, alpha=0.6, zorder=1)
    label = f"{stage.name}: {_limits(stage)}" if stage.name else _limits(stage)
    axes.annotate(label, (start, label_at), (4, -2), textcoords="offset points", fontsize=9, color=FIT, zorder=4)


def _draw_probes(
    axes: Any,
    hours: Sequence[float],
    probes: Mapping[str, Sequence[float | None]],
    cold: str | None,
    required: Sequence[str],
    air: Sequence[str],
    gaps: Sequence[tuple[float, float]],
) -> list[tuple[str, float, str]]:
    """Draws each probe and answers (name, last value, colour) for the names at the right edge."""
    ends = []
    for name, values in probes.items():
        x, y = _line(hours, values, gaps)
        if name == cold:
            style = {"color": ACTION, "linewidth": 2.2, "zorder": 3}
        elif name in air:
            style = {"color": SOFT_INK, "linewidth": 1.0, "linestyle": (0, (5, 3)), "zorder": 2}
        else:
            style = {"color": ACTION if name in required else SOFT_INK, "linewidth": 0.9, "zorder": 2}
        axes.plot(x, y, **style)
        known = [value for value in y if not math.isnan(value)]
        if known:
            ends.append(
                (
                    name + (" (air)" if name in air and "air" not in name.casefold() else ""),
                    known[-1],
                    str(style["color"]),
                )
            )
    return ends


def _line(
    hours: Sequence[float], values: Sequence[float | None], gaps: Sequence[tuple[float, float]]
) -> tuple[list[float], list[float]]:
    """A probe's own values, thinned to what paper can show, and broken where a gap lies between two of them."""
    points = _thinned([(hour, value) for hour, value in zip(hours, values, strict=True) if value is not None])
    x: list[float] = []
    y: list[float] = []
    for earlier, later in itertools.pairwise([*points, None]):
        if earlier is None:
            continue
        x.append(earlier[0])
        y.append(earlier[1])
        if later and any(earlier[0] * 60 < stop and later[0] * 60 > start for start, stop in gaps):
            x.append(earlier[0])
            y.append(math.nan)
    return x, y


def _thinned(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The lowest and highest value of each short stretch, so that no peak is lost."""
    if len(points) <= _MOST_POINTS:
        return points
    size = math.ceil(2 * len(points) / _MOST_POINTS)
    kept = []
    for start in range(0, len(points), size):
        stretch = points[start : start + size]
        kept += sorted({min(stretch, key=lambda p: p[1]), max(stretch, key=lambda p: p[1])})
    return sorted({points[0], *kept, points[-1]})


def _name_lines(axes: Any, lines: Sequence[tuple[str, float, str]], low: float, high: float) -> None:
    order = sorted(range(len(lines)), key=lambda i: -lines[i][1])
    places = _apart([lines[i][1] for i in order], (high - low) * 0.065, low, high)
    edge = axes.get_yaxis_transform()
    for i, place in zip(order, places, strict=True):
        name, _, colour = lines[i]
        axes.text(1.012, place, name[:24], transform=edge, va="center", fontsize=9, color=colour)


def _apart(values: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Places for labels, falling, each at least ``step`` below the one before, near the values given falling."""
    places: list[float] = []
    for value in values:
        places.append(min(value, places[-1] - step) if places else min(value, high - step / 2))
    shortfall = low + step / 2 - places[-1] if places else 0.0
    for i in range(len(places) - 1, -1, -1):
        if shortfall <= 0:
            break
        floor = low + step / 2 + (len(places) - 1 - i) * step
        places[i] = max(places[i], floor)
    return places


def _hours_locator(span: float) -> Any:
    from matplotlib.ticker import MultipleLocator

    steps = (0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 96, 168)
    return MultipleLocator(next((step for step in steps if span / step <= 10), span / 5 or 1))


def _whole_locator() -> Any:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(nbins=12, integer=True, min_n_ticks=1)


@functools.cache
def _family() -> list[str]:
    """Registers the house's font once; characters that it lacks come from matplotlib's own."""
    import font_source_sans_pro
    from matplotlib import font_manager

    for weight in ("SourceSansPro", "SourceSansProSemibold"):
        font_manager.fontManager.addfont(font_source_sans_pro.font_files_ttf[weight])
    return ["Source Sans Pro", "DejaVu Sans"]


@contextmanager
def _figure(content: str, height_in: float) -> Iterator[tuple[Any, Any]]:
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    settings: dict[Any, Any] = {
        "svg.fonttype": "path",
        "svg.hashsalt": hashlib.sha256(content.encode("utf-8", "replace")).hexdigest(),
        "text.parse_math": False,
        "font.family": _family(),
        "font.size": 10,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.edgecolor": SOFT_INK,
        "axes.linewidth": 0.8,
        "axes.unicode_minus": True,
        "xtick.color": SOFT_INK,
        "ytick.color": SOFT_INK,
        "hatch.linewidth": 0.7,
    }
    with _ONE_AT_A_TIME, matplotlib.rc_context(settings), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")
        figure = Figure(figsize=(_WIDTH_IN, height_in))
        FigureCanvasSVG(figure)
        axes = figure.add_axes((0.075, 0.42 / height_in, 0.765, 1 - 0.5 / height_in))
        axes.patch.set_alpha(0)
        figure.patch.set_alpha(0)
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        yield figure, axes


def _svg(figure: Any, *, title: str, description: str) -> str:
    """The figure as an SVG element: ids made unique by content, so that several can stand in one page."""
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"\s*<metadata>.*?</metadata>", "", text, count=1, flags=re.S)
    key = "p" + hashlib.sha256(text.encode()).hexdigest()[:8]
    text = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', text)
    text = re.sub(r'href="#([^"]+)"', rf'href="#{key}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", text)
    head, _, body = text.partition(">")
    head += f' role="img" aria-labelledby="{key}-title {key}-desc">'
    said = f'\n <title id="{key}-title">{plain(title)}</title>\n <desc id="{key}-desc">{plain(description)}</desc>'
    return head + said + body
