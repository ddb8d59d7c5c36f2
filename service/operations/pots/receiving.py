"""Readings that a scale hands over itself: received, kept with their line, and what a captured pour rests on."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from schemas.words import Kind, MovementKind, ScaleForm
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.pots.scales import ScaleView, view_scale
from service.readings.scale_lines import NoFormat, compiled, read_line
from service.records.items import Item, Movement
from service.records.materials import Scale, ScaleReading
from service.records.mixes import Pour

# A reading that is older was of something else.
GOOD_FOR = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class ReadingView:
    """What a scale sent, as it was received.

    Attributes
    ----------
    line
        The whole line.
    """

    id: int
    scale: str
    reading_mg: int
    line: str
    received_at: datetime


@operation
def receive_reading(work: Work, *, scale: str, line: str) -> ReadingView:
    """Receive a line that a scale sent: its settled reading may be poured by as captured within the next 10 min."""
    item = ledger.lock_one(work, scale, Kind.SCALE)
    row = Scale.get_by_id(item.id)
    if row.form != ScaleForm.SCALE:
        raise Unprocessable(f"{item.code} is a {row.form}; only a scale sends lines.", pointer="/line")
    read = read_line(line, row.line_format)
    if read is None:
        raise Unprocessable(
            "There is no mass in this line.",
            way_out="Say with the scale how its lines are written, if they are written in another way.",
            pointer="/line",
        )
    if not read.settled:
        raise Unprocessable("The display had not settled.", way_out="Hand over a settled reading.", pointer="/line")
    if read.mass_mg < 0:
        raise Unprocessable("The scale read less than nothing.", way_out="Zero it first.", pointer="/line")
    kept = ScaleReading.create(
        scale=row, reading_mg=read.mass_mg, line=line, received_at=work.act.recorded_at, deed=work.deed
    )
    work.note(scale=item.code, reading_mg=read.mass_mg, line=line)
    return _view(kept, item)


@operation
def set_line_format(work: Work, *, scale: str, line_format: str | None = None) -> ScaleView:
    """Say how a scale writes a line of a settled reading; left out, its lines are read in the usual way again."""
    item = ledger.lock_one(work, scale, Kind.SCALE)
    if line_format is not None:
        try:
            compiled(line_format)
        except NoFormat as wrong:
            raise Unprocessable(str(wrong), pointer="/line_format") from None
    Scale.update(line_format=line_format).where(Scale.item == item.id).execute()
    work.touch(item)
    work.note(scale=item.code, line_format=line_format)
    return view_scale(item, at=work.act.occurred_at, site=work.site)


def list_readings(scale: str, *, after: int | None, limit: int) -> Page[ReadingView]:
    """List what a scale has sent, newest first."""
    item = ledger.find(scale, Kind.SCALE)
    query = ScaleReading.select().where(ScaleReading.scale == item.id)
    return page(query, ScaleReading.id, after=after, limit=limit, view=lambda row: _view(row, item), newest_first=True)


def newest_received(scale: int, *, at: datetime) -> int | None:
    """The number of what this scale handed over last, if something beside it does that these days."""
    row = (
        ScaleReading.select(ScaleReading.id)
        .where((ScaleReading.scale == scale) & (ScaleReading.received_at >= at - timedelta(days=1)))
        .order_by(ScaleReading.id.desc())
        .first()
    )
    return None if row is None else int(row.id)


def received(scale: Item, reading_mg: int, *, at: datetime) -> ScaleReading:
    """The reading on which a captured pour rests; what the service did not receive itself was not captured."""
    standing = (
        Pour.select(Pour.received)
        .join(Movement)
        .where(Pour.received.is_null(False) & Movement.cancelled_by.is_null() & (Movement.kind == MovementKind.POUR))
    )
    row: ScaleReading | None = (
        ScaleReading.select()
        .where(
            (ScaleReading.scale == scale.id)
            & (ScaleReading.reading_mg == reading_mg)
            & (ScaleReading.received_at >= at - GOOD_FOR)
            & (ScaleReading.received_at <= at + GOOD_FOR)
            & ScaleReading.id.not_in(standing.where(Pour.scale == scale.id))
        )
        .order_by(ScaleReading.id.desc())
        .first()
    )
    if row is None:
        raise Unprocessable(
            f"{scale.code} itself sent no {reading_mg / 1000:g} g in the last 10 min that is not used yet.",
            way_out="Let the scale hand the reading over, or enter it as typed.",
            answer_with={"source": "typed"},
            pointer="/source",
        )
    return row


def _view(row: ScaleReading, item: Item) -> ReadingView:
    return ReadingView(row.id, item.code, row.reading_mg, row.line, row.received_at)
