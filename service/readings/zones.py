"""From the wall time of a logger's clock to UTC.

Twice a year a clock jumps. In autumn an hour is written twice: the place where the clock goes back tells the two
apart. A clock that runs on through that hour, or shows an hour that spring left out, doesn't follow the zone at all;
then the profile needs a fixed offset, and guessing would shift the cure by an hour.
"""

import datetime
import itertools
import statistics
import zoneinfo
from collections.abc import Sequence

from .stamps import DAY, EPOCH_ORDINAL, HOUR, MINUTE

_NOON = datetime.time(12)


class ZoneTrouble(ValueError):
    """A wall time that the zone can't place. ``index`` is its place in what was given."""

    def __init__(self, index: int, sentence: str) -> None:
        self.index = index
        super().__init__(sentence)


def to_utc(walls: Sequence[int], zone: str) -> list[int]:
    """Microseconds UTC for wall microseconds in the order in which they were measured."""
    if zone[0] in "+-":
        size = int(zone[1:3]) * HOUR + int(zone[4:6]) * MINUTE
        return [wall + size for wall in walls] if zone[0] == "-" else [wall - size for wall in walls]
    tz = zoneinfo.ZoneInfo(zone)
    offsets = {day: _plain_offset(day, tz) for day in {wall // DAY for wall in walls}}
    if None not in offsets.values():
        return [wall - offsets[wall // DAY] for wall in walls]  # type: ignore[operator]
    return _through_a_jump(walls, tz, zone, offsets)


def _micro(offset: datetime.timedelta | None) -> int:
    if offset is None:
        raise ValueError("a zone without an offset")
    return offset // datetime.timedelta(microseconds=1)


def _plain_offset(day: int, tz: zoneinfo.ZoneInfo) -> int | None:
    """The offset of a day, or None if the clock may jump on it."""
    date = datetime.date.fromordinal(day + EPOCH_ORDINAL)
    around = {
        _micro(datetime.datetime.combine(date + datetime.timedelta(days=step), _NOON, tz).utcoffset())
        for step in (-1, 0, 1)
    }
    return around.pop() if len(around) == 1 else None


def _moment(wall: int) -> datetime.datetime:
    return datetime.datetime(1970, 1, 1) + datetime.timedelta(microseconds=wall)  # noqa: DTZ001 - wall time


def _through_a_jump(
    walls: Sequence[int], tz: zoneinfo.ZoneInfo, zone: str, offsets: dict[int, int | None]
) -> list[int]:
    first: list[int] = []
    second: list[int] = []
    for index, wall in enumerate(walls):
        plain = offsets[wall // DAY]
        if plain is not None:
            first.append(plain)
            second.append(plain)
            continue
        moment = _moment(wall).replace(tzinfo=tz)
        before, after = _micro(moment.utcoffset()), _micro(moment.replace(fold=1).utcoffset())
        if before < after:
            raise ZoneTrouble(
                index,
                f"{_moment(wall):%H:%M on %d %b %Y} never was in {zone}, as the clocks went forward. "
                "This logger keeps one time all year: give its profile a fixed offset such as +01:00.",
            )
        first.append(before)
        second.append(after)
    chosen = list(first)
    index = 0
    while index < len(walls):
        if first[index] == second[index]:
            index += 1
            continue
        end = index
        while end < len(walls) and first[end] != second[end]:
            end += 1
        split = _split(walls, index, end, zone)
        chosen[split:end] = second[split:end]
        index = end
    return [wall - offset for wall, offset in zip(walls, chosen, strict=True)]


def _split(walls: Sequence[int], start: int, end: int, zone: str) -> int:
    """Where, from ``start`` to ``end``, the second of the two equal hours begins."""
    back = [index for index in range(start + 1, end) if walls[index] < walls[index - 1]]
    if len(back) > 1:
        raise ZoneTrouble(back[1], "The time runs backwards a second time within the hour that autumn repeats.")
    if back:
        return back[0]
    steps = [b - a for a, b in itertools.pairwise(walls)]
    median = statistics.median_low(steps) if steps else 0
    again = [index for index in range(start + 1, end) if walls[index] == walls[index - 1]]
    if len(again) == 1 and median >= 5 * MINUTE:  # an hourly logger writes 02:00 twice
        return again[0]
    open_start, open_end = start == 0, end == len(walls)
    if open_start != open_end:
        # A file that begins in the hour and shows no step back has only its second run; one that ends, its first.
        return start if open_start else end
    limit = max(3 * median, 5 * MINUTE)
    pauses = [index for index in range(max(start, 1), min(end + 1, len(walls))) if steps[index - 1] > limit]
    if not open_start and len(pauses) == 1:
        return pauses[0]
    raise ZoneTrouble(
        start,
        f"{_moment(walls[start]):%H:%M on %d %b %Y} was twice in {zone}, and the file doesn't show which is meant. "
        "If this logger keeps one time all year, give its profile a fixed offset such as +01:00.",
    )
