"""Probes that were read one after another, brought onto one axis of time.

A long file often stamps each probe of a scan with its own second. The readings of one scan belong in one row: they
share a row when they lie within half the median interval of the row's first reading and no probe comes twice. The
row has the time of its first reading, so a probe's time is at most half an interval early. Probes that are
staggered by more keep rows of their own, with None for the others.
"""

import itertools
import statistics
from collections.abc import Mapping, Sequence

Series = Sequence[tuple[int, float | None]]


def interval(series: Mapping[str, Series]) -> int:
    """The median step from one reading of a probe to its next, over all probes; 0 if no probe has two."""
    steps = [later[0] - earlier[0] for readings in series.values() for earlier, later in itertools.pairwise(readings)]
    return int(statistics.median(steps)) if steps else 0


def gather(series: Mapping[str, Series]) -> tuple[list[int], dict[str, list[float | None]]]:
    """Common times, strictly rising, and each probe's values at them."""
    names = list(series)
    reach = interval(series) / 2
    events = sorted((time, place, value) for place, name in enumerate(names) for time, value in _sortable(series[name]))
    times: list[int] = []
    columns: dict[str, list[float | None]] = {name: [] for name in names}
    in_row: set[int] = set()
    for time, place, (has_value, value) in events:
        joins = times and place not in in_row and (time == times[-1] or time - times[-1] < reach)
        if not joins:
            times.append(time)
            in_row = set()
            for column in columns.values():
                column.append(None)
        in_row.add(place)
        columns[names[place]][-1] = value if has_value else None
    return times, columns


def _sortable(readings: Series) -> list[tuple[int, tuple[bool, float]]]:
    return [(time, (value is not None, value if value is not None else 0.0)) for time, value in readings]
