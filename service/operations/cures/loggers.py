"""Data loggers: each has a reading profile, found with a file of its own and kept with it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Any

from service.operations.door.formerly import require_reason
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable, UnreadableLog, WrongState
from service.operations.door.rows import change_row, find_row
from service.operations.door.shop import day_in_shop
from service.operations.door.views import Page, page
from service.readings.profile import ProfileError, ReadingProfile
from service.readings.propose import Proposal, propose
from service.readings.read import Readings, UnreadableFile, read
from service.records.cures import Logger

_FIRST_ROWS = 8
_CALIBRATED = ("calibrated_on", "calibration", "calibration_due_on")


@dataclass(frozen=True, slots=True)
class LoggerView:
    """A logger; `open_fields` are those of its profile that still have to be answered before a file can be read.

    Attributes
    ----------
    open_fields
        Fields of the profile that still have to be answered.
    calibrated_on
        When it was last calibrated.
    calibration
        Who calibrated it, and the number of their paper.
    calibration_due_on
        Until when that counts.
    """

    id: int
    name: str
    profile: dict[str, Any] | None
    sensor_low_c: float | None
    sensor_high_c: float | None
    open_fields: tuple[str, ...]
    calibrated_on: date | None
    calibration: str | None
    calibration_due_on: date | None
    version: int


@dataclass(frozen=True, slots=True)
class AskedField:
    """A field of the profile that the file does not tell."""

    field: str
    sentence: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WrittenRow:
    """A row as it stands in the file.

    Attributes
    ----------
    time
        As written.
    values
        In the file's own unit.
    """

    line: int
    time: str
    values: dict[str, float | None]


@dataclass(frozen=True, slots=True)
class ReadRow:
    """A row as it was read: UTC and °C.

    Attributes
    ----------
    values
        Probe to °C.
    """

    at: datetime
    values: dict[str, float | None]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why the logger's own profile does not read this file, and where."""

    sentence: str
    line: int | None
    column: int | None


class ReadBy(StrEnum):
    """Whose profile a file was read with: the logger's own, or the one that the file proposes."""

    LOGGER = "logger"
    PROPOSAL = "proposal"


@dataclass(frozen=True, slots=True)
class Preview:
    """What a file tells.

    Attributes
    ----------
    profile
        As the file proposes it; PATCH takes it as it is.
    read_by
        logger: by its own profile; proposal: by the proposed one.
    rows
        The first rows as read.
    """

    profile: dict[str, Any]
    found: tuple[str, ...]
    open_questions: tuple[AskedField, ...]
    written: tuple[WrittenRow, ...]
    read_by: ReadBy | None
    rows: tuple[ReadRow, ...]
    probes: tuple[str, ...]
    rows_read: int
    missing: int
    first_at: datetime | None
    last_at: datetime | None
    notes: tuple[str, ...]
    trouble: Trouble | None


@operation
def add_logger(
    work: Work,
    *,
    name: str,
    profile: Mapping[str, Any] | None = None,
    sensor_low_c: float | None = None,
    sensor_high_c: float | None = None,
    calibrated_on: date | None = None,
    calibration: str | None = None,
    calibration_due_on: date | None = None,
) -> LoggerView:
    """Add a data logger, with its reading profile if that is known already."""
    known = Logger.get_or_none(Logger.name == name)
    if known is not None:
        way_out = "Use it, or give the new one another name."
        raise AlreadyThere(f"There is a logger {name} already.", way_out=way_out, logger=known.id)
    _check_range(sensor_low_c, sensor_high_c)
    calibrated: dict[str, Any] = {
        "calibrated_on": calibrated_on,
        "calibration": calibration,
        "calibration_due_on": calibration_due_on,
    }
    _check_calibration(work, calibrated)
    row = Logger.create(
        name=name, profile=_checked(profile), sensor_low_c=sensor_low_c, sensor_high_c=sensor_high_c, **calibrated
    )
    work.note(logger=row.id, name=name, profile=row.profile)
    return view_logger(row)


@operation
def change_logger(work: Work, *, logger: int, version: int, **changes: Annotated[Any, Logger]) -> LoggerView:
    """Change a logger's name, range, calibration or reading profile; what was read before stays as it was read."""
    row = find_row(Logger, logger, "logger")
    if "profile" in changes:
        changes["profile"] = _checked(changes["profile"])
    _check_range(changes.get("sensor_low_c", row.sensor_low_c), changes.get("sensor_high_c", row.sensor_high_c))
    _check_calibration(work, {name: changes.get(name, getattr(row, name)) for name in _CALIBRATED})
    if {"name", "sensor_low_c", "sensor_high_c"} & changes.keys():
        require_reason(work, f"the name or the range of {row.name}")
    change_row(work, row, version, changes)
    return view_logger(row)


def _checked(profile: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if profile is None:
        return None
    try:
        return ReadingProfile.from_dict(dict(profile)).to_dict()
    except ProfileError as wrong:
        raise Unprocessable(wrong.sentence, pointer=f"/profile/{wrong.field.replace('.', '/')}") from None


def _check_range(low_c: float | None, high_c: float | None) -> None:
    if (low_c is None) != (high_c is None):
        missing = "sensor_low_c" if low_c is None else "sensor_high_c"
        raise Unprocessable("Give both ends of what its sensors can read, or neither.", pointer=f"/{missing}")
    if low_c is not None and high_c is not None and low_c >= high_c:
        raise Unprocessable("The lowest that its sensors can read is below the highest.", pointer="/sensor_low_c")


def _check_calibration(work: Work, said: Mapping[str, Any]) -> None:
    on, by, due = (said[name] for name in _CALIBRATED)
    if (on is None) != (by is None) or (due is not None and on is None):
        missing = "calibrated_on" if on is None else "calibration"
        raise Unprocessable(
            "A calibration has its day and its paper: say when it was, by whom, and the number of their certificate.",
            pointer=f"/{missing}",
        )
    if on is not None and on > day_in_shop(work.act.recorded_at, work.site):
        raise Unprocessable("A calibration that is still to come counts nothing yet.", pointer="/calibrated_on")
    if due is not None and due <= on:
        raise Unprocessable("A calibration counts for some time; give a day after it.", pointer="/calibration_due_on")


def profile_of(row: Logger) -> ReadingProfile:
    """The logger's profile, or what to do first."""
    if row.profile is None:
        raise WrongState(
            f"The logger {row.name} has no reading profile yet.",
            way_out=f"Preview one of its files at /v1/loggers/{row.id}/preview and keep the profile with the logger.",
            logger=row.id,
        )
    return ReadingProfile.from_dict(row.profile)


def read_log(content: bytes, profile: ReadingProfile, *, started_at: datetime | None) -> Readings:
    """A file read whole by a profile, or a refusal with line and column."""
    try:
        return read(content, profile, started_at=started_at)
    except UnreadableFile as wrong:
        raise unreadable(wrong) from None
    except ProfileError as wrong:
        raise Unprocessable(wrong.sentence, pointer=f"/{wrong.field}") from None


def unreadable(wrong: UnreadableFile) -> UnreadableLog:
    return UnreadableLog(
        f"Line {wrong.line}, column {wrong.column}: {wrong.sentence}",
        way_out="Nothing of the file was kept. Export it again, or change the logger's reading profile.",
        line=wrong.line,
        column=wrong.column,
    )


def preview_log(logger: int, *, content: bytes, started_at: datetime | None = None) -> Preview:
    """Look at a logger's file without keeping it: what it tells, what it leaves open, and its first rows."""
    row = find_row(Logger, logger, "logger")
    try:
        proposal = propose(content)
    except UnreadableFile as wrong:
        raise unreadable(wrong) from None
    profile = ReadingProfile.from_dict(row.profile) if row.profile is not None else proposal.profile
    readings, trouble = _tried(content, profile, started_at)
    read_by = None if readings is None else ReadBy.LOGGER if row.profile is not None else ReadBy.PROPOSAL
    unanswered = row.profile is None and bool(proposal.open_questions)
    return _preview(proposal, readings, read_by, None if unanswered else trouble)


def _tried(
    content: bytes, profile: ReadingProfile, started_at: datetime | None
) -> tuple[Readings | None, Trouble | None]:
    try:
        return read(content, profile, started_at=started_at), None
    except UnreadableFile as wrong:
        return None, Trouble(wrong.sentence, wrong.line, wrong.column)
    except ProfileError as wrong:
        return None, Trouble(wrong.sentence, None, None)


def _preview(proposal: Proposal, readings: Readings | None, read_by: ReadBy | None, trouble: Trouble | None) -> Preview:
    times = readings.times if readings else ()
    probes = readings.probes if readings else {}
    return Preview(
        profile=proposal.profile.to_dict(),
        found=proposal.found,
        open_questions=tuple(AskedField(q.field, q.sentence, q.choices) for q in proposal.open_questions),
        written=tuple(WrittenRow(r.line, r.time, r.values) for r in proposal.sample),
        read_by=read_by,
        rows=tuple(
            ReadRow(at, {name: values[place] for name, values in probes.items()})
            for place, at in enumerate(times[:_FIRST_ROWS])
        ),
        probes=tuple(probes),
        rows_read=readings.rows_read if readings else 0,
        missing=readings.dropped_values if readings else 0,
        first_at=times[0] if times else None,
        last_at=times[-1] if times else None,
        notes=readings.notes if readings else (),
        trouble=trouble,
    )


def read_logger(logger: int) -> LoggerView:
    """One data logger."""
    return view_logger(find_row(Logger, logger, "logger"))


def list_loggers(*, after: int | None, limit: int) -> Page[LoggerView]:
    """List data loggers."""
    return page(Logger.select(), Logger.id, after=after, limit=limit, view=view_logger)


def view_logger(row: Logger) -> LoggerView:
    open_fields = ReadingProfile.from_dict(row.profile).open_fields() if row.profile is not None else ()
    return LoggerView(
        id=row.id,
        name=row.name,
        profile=row.profile,
        sensor_low_c=row.sensor_low_c,
        sensor_high_c=row.sensor_high_c,
        open_fields=open_fields,
        calibrated_on=row.calibrated_on,
        calibration=row.calibration,
        calibration_due_on=row.calibration_due_on,
        version=row.version,
    )
