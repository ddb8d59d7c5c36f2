"""The times of one track: a sequence of readings that one probe, or one row of probes, gave one after another.

In order: newest-first files are turned round, wall time becomes UTC, the time must not run backwards, and readings
with the same time are settled.
"""

import datetime
import itertools
import zoneinfo
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from .profile import ReadingProfile
from .stamps import DAY, EPOCH_ORDINAL, HOUR, MINUTE
from .text import UnreadableFile
from .zones import ZoneTrouble, to_utc

_EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
_MOST_IN_A_MINUTE = 60


@dataclass(frozen=True)
class Track:
    """Stamps as the file has them, whether each carries an offset (then it is UTC already), and their lines."""

    stamps: list[int] = field(default_factory=list)
    with_offset: list[bool] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class Settled:
    """Microseconds UTC, strictly rising, each with the index of its reading in the track."""

    times: list[int]
    indices: list[int]
    notes: list[str]


def moment(microseconds: int) -> datetime.datetime:
    return _EPOCH + datetime.timedelta(microseconds=microseconds)


def micro(instant: datetime.datetime) -> int:
    return (instant - _EPOCH) // datetime.timedelta(microseconds=1)


def settle(
    track: Track, profile: ReadingProfile, started_at: datetime.datetime | None, same: Callable[[int, int], bool]
) -> Settled:
    """The times of a track as UTC. ``same`` says whether two readings, by index, have equal values."""
    notes: list[str] = []
    stamps, indices = track.stamps, list(range(len(track.stamps)))
    column = profile.time_columns[0] + 1
    if profile.time_kind == "time_of_day":
        stamps = _with_days(stamps, profile, started_at)
    elif profile.time_kind not in ("date_time", "epoch_s", "epoch_ms") and started_at is not None:
        begin = micro(started_at)
        stamps = [begin + stamp for stamp in stamps]
    if profile.time_kind != "time_of_day" and _newest_first(stamps):
        indices.reverse()
        stamps = stamps[::-1]
        notes.append("The newest reading stands first; the rows were turned round.")
    if profile.time_kind in ("date_time", "time_of_day"):
        times = _utc(stamps, track, indices, profile, column)
    else:
        times = stamps

    def shown_as(position: int) -> str:
        """As the file has it, so that it is found there; a count since 1970 as UTC."""
        as_written = profile.time_kind in ("date_time", "time_of_day") and not any(track.with_offset)
        at = moment((stamps if as_written else times)[position])
        return f"{at:%Y-%m-%d %H:%M:%S}{'' if as_written else ' UTC'}"

    for position in range(1, len(times)):
        if times[position] < times[position - 1]:
            raise UnreadableFile(
                f"The time runs backwards, from {shown_as(position - 1)} to {shown_as(position)}.",
                track.lines[indices[position]],
                column,
            )
    if len(set(times)) == len(times):
        return Settled(times=times, indices=indices, notes=notes)
    whole_minutes = all(stamp % MINUTE == 0 for stamp in stamps) and profile.time_kind in ("date_time", "time_of_day")
    return _untie(times, indices, track.lines, same, whole_minutes, column, notes, shown_as)


def _newest_first(stamps: Sequence[int]) -> bool:
    if len(stamps) < 2 or stamps[0] <= stamps[-1]:
        return False
    back = sum(later < earlier for earlier, later in itertools.pairwise(stamps))
    forward = sum(later > earlier for earlier, later in itertools.pairwise(stamps))
    return back > forward


def _utc(stamps: list[int], track: Track, indices: list[int], profile: ReadingProfile, column: int) -> list[int]:
    written = sum(track.with_offset)
    if written == len(stamps):
        return stamps
    if written or profile.zone is None:
        odd = track.with_offset.index(False)
        why = "the others carry one" if written else "the profile names no zone"
        raise UnreadableFile(f"The time carries no offset from UTC, and {why}.", track.lines[odd], column)
    try:
        return to_utc(stamps, profile.zone)
    except ZoneTrouble as trouble:
        raise UnreadableFile(str(trouble), track.lines[indices[trouble.index]], column) from trouble


def _with_days(clocks: Sequence[int], profile: ReadingProfile, started_at: datetime.datetime | None) -> list[int]:
    """Wall time for a clock without a date: the day of the start, and one more whenever midnight has passed."""
    if started_at is None or profile.zone is None or not clocks:
        return list(clocks)
    if profile.zone[0] in "+-":
        offset = datetime.datetime.strptime(profile.zone, "%z").tzinfo
        local = started_at.astimezone(offset)
    else:
        local = started_at.astimezone(zoneinfo.ZoneInfo(profile.zone))
    start = micro(local.replace(tzinfo=datetime.UTC))
    day = (local.date().toordinal() - EPOCH_ORDINAL) * DAY
    # The first reading is the one nearest to the start, within half a day.
    day += DAY * round((start - day - clocks[0]) / DAY)
    walls = [day + clocks[0]]
    for earlier, later in itertools.pairwise(clocks):
        if earlier - later > 12 * HOUR:
            day += DAY
        walls.append(day + later)
    return walls


def _untie(
    times: list[int],
    indices: list[int],
    lines: list[int],
    same: Callable[[int, int], bool],
    whole_minutes: bool,
    column: int,
    notes: list[str],
    shown_as: Callable[[int], str],
) -> Settled:
    """Readings that share a time: equal ones count once; in a file written to the minute the others are spread
    evenly over that minute; otherwise they contradict each other and the file is refused."""
    kept_times: list[int] = []
    kept: list[int] = []
    repeated = spread = 0
    start = 0
    while start < len(times):
        end = start + 1
        while end < len(times) and times[end] == times[start]:
            end += 1
        group = indices[start:end]
        odd = next((index for index in group[1:] if not same(group[0], index)), None)
        if odd is None:
            repeated += len(group) - 1
            group = group[:1]
        elif not whole_minutes or len(group) > _MOST_IN_A_MINUTE:
            raise UnreadableFile(
                f"The time {shown_as(start)} stands twice with different values.",
                lines[odd],
                column,
            )
        else:
            spread += len(group)
        for place, index in enumerate(group):
            kept_times.append(times[start] + place * MINUTE // len(group))
            kept.append(index)
        start = end
    if repeated:
        notes.append(f"{repeated} readings repeat the one before, with the same time and values, and count once.")
    if spread:
        notes.append(f"The times are written to the minute; {spread} readings that share one are spread evenly in it.")
    return Settled(times=kept_times, indices=kept, notes=notes)
