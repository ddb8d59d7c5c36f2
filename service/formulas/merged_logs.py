"""Several logger files of one cure as one log.

- :func:`merged_log`: probes of several loggers, and one probe continued in a second file, on one axis of time.

Each file keeps its own rule of gaps: what was observed in a slow file stays observed beside a fast one, and a gap in a
fast file stays a gap beside a slow one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from service.formulas.cure_log import LEAST_GAP_MIN, Log, gap_limit_min, trace_of
from service.formulas.ranges import OutOfRange, within

__all__ = ["merged_log"]

# Observed stretches are filled in so closely that three times the median interval stays below the least gap.
FILLED_EVERY_MIN = 0.3 * LEAST_GAP_MIN
MOST_LOGS = 100


def merged_log(*, logs: Sequence[Log], maxima_c: Sequence[float]) -> Log:
    """Merge the logs of one cure.

    Where two samples of a probe lie no further apart than the gap limit of their own file, straight lines between them
    are filled in at most 1.5 min apart, so that one gap limit of 5 min holds for all. A probe that several logs name is
    one probe; where they overlap, the earlier log counts. What would be filled in over a maximum between a sample below
    it and one above it is left out, so that one hot sample alone stays alone. A single log is handed back as it is.

    Parameters
    ----------
    logs : sequence of Log
        The logs, their times counted from the same moment [min, °C].
    maxima_c : sequence of float
        Temperatures that no probe may pass in any stage [list of °C].

    Returns
    -------
    Log
        All probes on one axis of time [min, °C].

    Raises
    ------
    OutOfRange
        If there are no logs or more than 100, or a maximum is outside its range.

    Valid range
    -----------
    1 to 100 logs; maxima -100 to 1000 °C.

    Examples
    --------
    >>> merged = merged_log(
    ...     logs=[Log((0, 3), {"root": (20.0, 23.0)}), Log((3, 5), {"tip": (21.0, 22.0)})], maxima_c=[]
    ... )
    >>> merged.times_min
    (0.0, 1.5, 3.0, 4.0, 5.0)
    >>> merged.probes["root"]
    (20.0, 21.5, 23.0, None, None)

    Source
    ------
    Shop rule 35 for gaps, straight lines and the two samples over a maximum; common practice, no source, for merging.
    """
    if not 1 <= len(logs) <= MOST_LOGS:
        raise OutOfRange("logs", f"a list of {len(logs)}", f"a list of 1 to {MOST_LOGS} logs")
    limits = [within(f"maxima_c[{place}]", value, -100, 1000, unit="°C") for place, value in enumerate(maxima_c)]
    if len(logs) == 1:
        return logs[0]
    samples: dict[str, dict[float, float]] = {}
    for log in logs:
        for name in log.probes:
            trace = trace_of(log, name)
            known = samples.setdefault(name, {})
            for time, value in zip(trace.times.tolist(), trace.temperatures.tolist(), strict=True):
                known.setdefault(time, value)
    for log in logs:
        longest = gap_limit_min(times_min=log.times_min)
        for name in log.probes:
            trace = trace_of(log, name)
            points = list(zip(trace.times.tolist(), trace.temperatures.tolist(), strict=True))
            for time, value in _between(points, longest, limits):
                samples[name].setdefault(time, value)
    axis = sorted({time for known in samples.values() for time in known} | {t for log in logs for t in log.times_min})
    return Log(
        tuple(float(time) for time in axis), {name: tuple(map(known.get, axis)) for name, known in samples.items()}
    )


def _between(
    points: Sequence[tuple[float, float]], longest_min: float, maxima_c: Sequence[float]
) -> Iterator[tuple[float, float]]:
    for (begin, first), (end, last) in pairwise(points):
        pieces = math.ceil((end - begin) / FILLED_EVERY_MIN - 1e-9)
        if pieces < 2 or end - begin > longest_min + 1e-9:
            continue
        for piece in range(1, pieces):
            value = first + (last - first) * piece / pieces
            if not any(min(first, last) <= maximum < value for maximum in maxima_c):
                yield begin + (end - begin) * piece / pieces, value
