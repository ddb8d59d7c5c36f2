"""Several logger files of one cure as one log.

- :func:`merged_log`: probes of several loggers, and one probe continued in a second file, on one axis of time.

Each probe keeps its own samples, so a hole of one logger stays a hole beside another that was faster.
"""

from __future__ import annotations

from collections.abc import Sequence

from service.formulas.cure_log import Log
from service.formulas.ranges import OutOfRange

__all__ = ["merged_log"]

MOST_LOGS = 100


def merged_log(*, logs: Sequence[Log]) -> Log:
    """Merge the logs of one cure.

    The times of all logs on one axis; a probe has no sample where its own log has none. A probe that several logs name
    is one probe with the samples of all of them; of two at the very same moment, that of the earlier log counts.

    Parameters
    ----------
    logs : sequence of Log
        The logs, their times counted from the same moment [min, °C].

    Returns
    -------
    Log
        All probes on one axis of time [min, °C].

    Raises
    ------
    OutOfRange
        If there are no logs or more than 100.

    Valid range
    -----------
    1 to 100 logs.

    Examples
    --------
    >>> merged = merged_log(logs=[Log((0, 3), {"root": (20.0, 23.0)}), Log((3, 5), {"tip": (21.0, 22.0)})])
    >>> merged.times_min
    (0.0, 3.0, 5.0)
    >>> merged.probes["tip"]
    (None, 21.0, 22.0)

    Source
    ------
    Shop rule 35: the longest sample interval holds for each probe. Common practice, no source.
    """
    if not 1 <= len(logs) <= MOST_LOGS:
        raise OutOfRange("logs", f"a list of {len(logs)}", f"a list of 1 to {MOST_LOGS} logs")
    samples: dict[str, dict[float, float]] = {}
    for log in logs:
        for name, values in log.probes.items():
            known = samples.setdefault(name, {})
            for time, value in zip(log.times_min, values, strict=True):
                if value is not None:
                    known.setdefault(float(time), value)
    axis = sorted({float(time) for log in logs for time in log.times_min})
    return Log(tuple(axis), {name: tuple(map(known.get, axis)) for name, known in samples.items()})
