"""Files as loggers write them, made from temperatures over time: each house style once, always of the same curves."""

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, timezone
from itertools import pairwise

Curve = Callable[[float], float]


def ramp(points: Sequence[tuple[float, float]]) -> Curve:
    """Straight lines between (minute, °C), level before and after."""

    def at(minute: float) -> float:
        if minute <= points[0][0]:
            return points[0][1]
        for (begin, first), (end, last) in pairwise(points):
            if minute <= end:
                return first + (last - first) * (minute - begin) / (end - begin)
        return points[-1][1]

    return at


def every(step_min: float, *, until_min: float) -> list[float]:
    return [step_min * i for i in range(math.floor(until_min / step_min) + 1)]


def semicolons(
    start: datetime, minutes: Sequence[float], probes: dict[str, Curve], *, drop: Sequence[float] = ()
) -> bytes:
    """Title lines, semicolons, decimal comma, dd.mm.yy in winter time all year, --- for a dropped probe."""
    winter = timezone(timedelta(hours=1))
    lines = [
        "Oven logger 2;serial 0417",
        "Export;04.11.26 09:00",
        "",
        "Date;Time;" + ";".join(f"{n} °C" for n in probes),
    ]
    for minute in minutes:
        at = (start + timedelta(minutes=minute)).astimezone(winter)
        cells = ["---" if minute in drop else f"{curve(minute):.1f}".replace(".", ",") for curve in probes.values()]
        lines.append(f"{at:%d.%m.%y;%H:%M:%S};" + ";".join(cells))
    return ("\r\n".join(lines) + "\r\n").encode("cp1252")


SEMICOLONS = {
    "delimiter": ";",
    "decimal": ",",
    "header_line": 4,
    "header": ["Date", "Time", "root °C", "tip °C", "air °C"],
    "time_columns": [0, 1],
    "time_kind": "date_time",
    "date_order": "dmy",
    "zone": "+01:00",
    "probes": [{"name": "root", "column": 2}, {"name": "tip", "column": 3}, {"name": "air", "column": 4}],
    "unit": "C",
}


def epoch(start: datetime, minutes: Sequence[float], probes: dict[str, Curve]) -> bytes:
    """Milliseconds since 1970, commas, degrees Fahrenheit."""
    lines = ["timestamp_ms," + ",".join(f"{name} (°F)" for name in probes)]
    for minute in minutes:
        at = round((start + timedelta(minutes=minute)).timestamp() * 1000)
        lines.append(f"{at}," + ",".join(f"{curve(minute) * 1.8 + 32:.2f}" for curve in probes.values()))
    return ("\n".join(lines) + "\n").encode()


def long_rows(minutes: Sequence[float], probes: dict[str, Curve]) -> bytes:
    """Seconds since the start, one value a line with its probe's name."""
    lines = ["elapsed_s,sensor,value_C"]
    for minute in minutes:
        lines += [f"{minute * 60:.0f},{name},{curve(minute):.2f}" for name, curve in probes.items()]
    return ("\n".join(lines) + "\n").encode()
