"""Reading a logger's file by its profile: UTC times, the probes' temperatures in °C, the gauges' pressures in mbar.

A file is read whole or not at all. What can't be read is answered by ``UnreadableFile`` with line and column.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from .profile import NEEDS_START, PressureUnit, ProfileError, ReadingProfile, Unit
from .rows import DataRows
from .scans import gather
from .stamps import clock, counted, elapsed_hms, stamp_reader
from .temperatures import pressure_mbar, temperature_c
from .text import UnreadableFile, decode, shown
from .tracks import Track, moment, settle

__all__ = ["Readings", "UnreadableFile", "read"]

_TimeOf = Callable[[list[str]], tuple[int, bool]]


@dataclass(frozen=True)
class Readings:
    """``times`` rise strictly; each probe and gauge has one value a time, None where it gave none.

    ``rows_read`` counts the lines with readings, ``dropped_values`` the cells that held a word for no value.
    """

    times: tuple[datetime.datetime, ...]
    probes: dict[str, tuple[float | None, ...]]
    rows_read: int
    dropped_values: int
    notes: tuple[str, ...]
    gauges: dict[str, tuple[float | None, ...]] = field(default_factory=dict)


def read(raw: bytes, profile: ReadingProfile, *, started_at: datetime.datetime | None) -> Readings:
    """Read a file by a complete profile.

    ``started_at`` is needed where the file has only elapsed time or a clock without a date.
    Raises ``ProfileError`` if the profile is still open or the start is missing, ``UnreadableFile`` for the file.
    """
    _check(profile, started_at)
    text = decode(raw)
    time_of = _time_reader(profile)
    rows = DataRows(text, profile, lambda cells: _time_trouble(time_of, cells))
    found = (_wide if profile.layout == "wide" else _named)(rows, profile, started_at, time_of)
    gauges = {probe.name for probe in profile.probes if probe.is_gauge}
    return replace(
        found,
        probes={name: values for name, values in found.probes.items() if name not in gauges},
        gauges={name: values for name, values in found.probes.items() if name in gauges},
    )


def _check(profile: ReadingProfile, started_at: datetime.datetime | None) -> None:
    still_open = profile.open_fields()
    if still_open:
        raise ProfileError(still_open[0], f"The profile is not complete: {', '.join(still_open)} must be told first.")
    if profile.time_kind == "time_of_day" and profile.zone is None:
        raise ProfileError("zone", "The profile is not complete: zone must be told first.")
    if started_at is not None and started_at.tzinfo is None:
        raise ProfileError("started_at", "The time of its start has no offset from UTC.")
    if started_at is None and profile.time_kind in NEEDS_START:
        raise ProfileError("started_at", "The file tells no date: say when it was started.")


def _time_reader(profile: ReadingProfile) -> _TimeOf:
    """A function of a row's cells to its stamp and whether that is UTC already."""
    column, kind, decimal = profile.time_columns[0], profile.time_kind, profile.decimal
    if kind == "date_time":
        stamp = stamp_reader(profile.date_order)
        clock_column = profile.time_columns[1] if len(profile.time_columns) == 2 else None

        def date_time(cells: list[str]) -> tuple[int, bool]:
            time, offset = stamp(cells[column], None if clock_column is None else cells[clock_column])
            return time, offset is not None

        return date_time
    if kind == "time_of_day":

        def time_of_day(cells: list[str]) -> tuple[int, bool]:
            found = clock(cells[column])
            if found is None:
                raise ValueError(f"{shown(cells[column])} is not a time of day.")
            return found[0], False

        return time_of_day
    if kind == "elapsed_hms":
        return lambda cells: (elapsed_hms(cells[column]), False)
    if kind is None:
        raise ProfileError("time_kind", "The profile is not complete: how its times are written must be told first.")
    return lambda cells: (counted(cells[column], kind, decimal), False)


def _time_trouble(time_of: _TimeOf, cells: list[str]) -> str | None:
    """What keeps the time of a row from being read; None if nothing does."""
    try:
        time_of(cells)
    except ValueError as error:
        return str(error)
    except IndexError:
        return "This line has too few columns."
    return None


class _Values:
    """Turns cells into °C or mbar; each text is worked out once, as readings repeat."""

    def __init__(self, profile: ReadingProfile) -> None:
        self._decimal = profile.decimal
        self._missing = {word.strip().casefold() for word in profile.missing}
        self.dropped = 0

    def memo(self, unit: Unit | PressureUnit) -> "_Memo":
        return _Memo(self, unit)

    def work_out(self, cell: str, unit: Unit | PressureUnit) -> float | None:
        if cell.strip().casefold() in self._missing:
            return None
        if unit == "C" or unit == "F" or unit == "K":
            return temperature_c(cell, self._decimal, unit)
        return pressure_mbar(cell, self._decimal, unit)


class _Memo(dict[str, float | None]):
    def __init__(self, values: _Values, unit: Unit | PressureUnit) -> None:
        super().__init__()
        self._values = values
        self._unit: Unit | PressureUnit = unit

    def __missing__(self, cell: str) -> float | None:
        value = self[cell] = self._values.work_out(cell, self._unit)
        return value


def _wide(rows: DataRows, profile: ReadingProfile, started_at: datetime.datetime | None, time_of: _TimeOf) -> Readings:
    values = _Values(profile)
    memos = {unit: values.memo(unit) for unit in {_unit(profile, probe.unit) for probe in profile.probes}}
    sources = [(probe.column or 0, memos[_unit(profile, probe.unit)]) for probe in profile.probes]
    track = Track()
    table: list[list[float | None]] = []
    for line, cells in rows:
        _add_stamp(track, line, cells, time_of, profile)
        try:
            table.append([memo[cells[column]] for column, memo in sources])
        except ValueError:
            _refuse_value(line, cells, sources)
    _refuse_nothing(track)
    settled = settle(track, profile, started_at, lambda one, other: table[one] == table[other])
    kept = [table[index] for index in settled.indices]
    columns = {probe.name: tuple(row[place] for row in kept) for place, probe in enumerate(profile.probes)}
    return Readings(
        times=tuple(map(moment, settled.times)),
        probes=columns,
        rows_read=len(table),
        dropped_values=sum(row.count(None) for row in table),
        notes=(*rows.notes, *settled.notes),
    )


def _named(rows: DataRows, profile: ReadingProfile, started_at: datetime.datetime | None, time_of: _TimeOf) -> Readings:
    """Long files and pairs: the name beside the value says whose it is."""
    values = _Values(profile)
    by_label = {str(probe.label).strip().casefold(): probe for probe in profile.probes}
    memos = {unit: values.memo(unit) for unit in _units(profile)}
    tracks: dict[str, Track] = {probe.name: Track() for probe in profile.probes}
    read_values: dict[str, list[float | None]] = {probe.name: [] for probe in profile.probes}
    names: dict[str, str] = {}
    left_out: set[str] = set()
    count = dropped = 0
    for line, cells in rows:
        count += 1
        time, utc = _time(line, cells, time_of, profile)
        for column, label, cell in _labelled(line, cells, profile):
            key = label.strip().casefold()
            probe = by_label.get(key)
            if probe is None and by_label:
                left_out.add(label.strip())
                continue
            name = probe.name if probe else names.setdefault(key, label.strip())
            try:
                value = memos[_unit(profile, probe.unit if probe else None)][cell]
            except ValueError as error:
                raise UnreadableFile(str(error), line, column + 1) from error
            track = tracks.setdefault(name, Track())
            track.stamps.append(time)
            track.with_offset.append(utc)
            track.lines.append(line)
            read_values.setdefault(name, []).append(value)
            dropped += value is None
    if not any(track.stamps for track in tracks.values()):
        raise UnreadableFile("The file holds no reading of the probes that the profile names.")
    notes = list(rows.notes)
    if left_out:
        notes.append(f"Not in the profile and left out: {', '.join(sorted(left_out)[:20])}.")
    times, columns = gather(_series(tracks, read_values, profile, started_at, notes))
    return Readings(
        times=tuple(map(moment, times)),
        probes={name: tuple(column) for name, column in columns.items()},
        rows_read=count,
        dropped_values=dropped,
        notes=tuple(notes),
    )


def _series(
    tracks: dict[str, Track],
    read_values: dict[str, list[float | None]],
    profile: ReadingProfile,
    started_at: datetime.datetime | None,
    notes: list[str],
) -> dict[str, list[tuple[int, float | None]]]:
    series = {}
    for name, track in tracks.items():
        found = read_values[name]
        if not found:
            notes.append(f"The file holds no reading of {name}.")
        settled = settle(track, profile, started_at, lambda one, other, found=found: found[one] == found[other])  # type: ignore[misc]
        notes.extend(f"{name}: {note}" for note in settled.notes)
        series[name] = [(time, found[index]) for time, index in zip(settled.times, settled.indices, strict=True)]
    return series


def _labelled(line: int, cells: list[str], profile: ReadingProfile) -> list[tuple[int, str, str]]:
    """The values of a row as (column, label, cell)."""
    first = profile.name_column or 0
    if profile.value_column is not None:
        if not cells[first].strip():
            raise UnreadableFile("The value has no probe's name beside it.", line, first + 1)
        return [(profile.value_column, cells[first], cells[profile.value_column])]
    found = []
    for column in range(first, len(cells), 2):
        label = cells[column]
        cell = cells[column + 1] if column + 1 < len(cells) else ""
        if label.strip():
            if column + 1 >= len(cells):
                raise UnreadableFile(f"{shown(label)} has no value beside it.", line, column + 1)
            found.append((column + 1, label, cell))
        elif cell.strip():
            raise UnreadableFile(f"{shown(cell)} has no probe's name beside it.", line, column + 1)
    return found


def _time(line: int, cells: list[str], time_of: _TimeOf, profile: ReadingProfile) -> tuple[int, bool]:
    try:
        return time_of(cells)
    except ValueError as error:
        raise UnreadableFile(str(error), line, profile.time_columns[0] + 1) from error


def _add_stamp(track: Track, line: int, cells: list[str], time_of: _TimeOf, profile: ReadingProfile) -> None:
    time, utc = _time(line, cells, time_of, profile)
    track.stamps.append(time)
    track.with_offset.append(utc)
    track.lines.append(line)


def _refuse_value(line: int, cells: list[str], sources: list[tuple[int, _Memo]]) -> None:
    for column, memo in sources:
        try:
            memo[cells[column]]
        except ValueError as error:
            raise UnreadableFile(str(error), line, column + 1) from error


def _refuse_nothing(track: Track) -> None:
    if not track.stamps:
        raise UnreadableFile("The file holds no reading where the profile expects them.")


def _unit(profile: ReadingProfile, own: Unit | PressureUnit | None) -> Unit | PressureUnit:
    unit = own or profile.unit
    if unit is None:
        raise ProfileError("unit", "The profile is not complete: unit must be told first.")
    return unit


def _units(profile: ReadingProfile) -> set[Unit | PressureUnit]:
    units: set[Unit | PressureUnit] = {probe.unit for probe in profile.probes if probe.unit}
    if profile.unit:
        units.add(profile.unit)
    return units
