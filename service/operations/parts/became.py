"""What became of a part: where it is, whether it failed, how it was scrapped, to whom it went, if it came back."""

import json
from dataclasses import dataclass
from datetime import datetime

from schemas.words import Disposition, MovementKind, ScrappedAs, State
from service.operations.door.formerly import called_then
from service.operations.ledger.failing import failed_among
from service.operations.ledger.flags import stands
from service.operations.parts.view import ShipmentView, fitted_into, last_shipment
from service.records.base import as_word
from service.records.items import Flag, Item, Movement
from service.records.journal import Deed, Entry
from service.records.parts import Nonconformance
from service.records.people import Person

# Before these nothing has left; what was sent back to be worked on may be in any later one.
_NEVER_LEFT = (State.PLANNED, State.LAYING, State.LAID_UP)
# More than these nobody reads beside a part; the newest are told.
_FOUND = 6


@dataclass(frozen=True, slots=True)
class Scrapping:
    """How a part was scrapped, and as what.

    Attributes
    ----------
    method
        How it was made unusable, or why it was decided so.
    """

    scrapped_as: ScrappedAs
    method: str | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class CameBack:
    """That a part came back, in the words of then."""

    sentence: str
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class Found:
    """What somebody found wrong with a part, and what was decided."""

    found: str
    failed: bool
    in_service: bool
    opened_at: datetime
    disposition: Disposition | None


@dataclass(frozen=True, slots=True)
class Became:
    """What became of a part so far.

    Attributes
    ----------
    failed
        Whether it counts as failed: it came back so, was rejected, found unfit or scrapped as failed.
    """

    failed: bool
    found: tuple[Found, ...]
    scrapped: Scrapping | None
    shipment: ShipmentView | None
    came_back: CameBack | None
    fitted_into: str | None
    place: str | None
    place_name: str | None


def became_of(item: Item) -> Became:
    """What became of a part; of one that is being made there is little to ask."""
    shipment = None if item.state in _NEVER_LEFT else last_shipment(item)
    return Became(
        failed=item.state != State.PLANNED and bool(failed_among([item.id])),
        found=_found(item),
        scrapped=_scrapped(item) if item.state == State.SCRAPPED else None,
        shipment=shipment,
        came_back=_came_back(item) if shipment is not None and item.state != State.SHIPPED else None,
        fitted_into=fitted_into(item) if item.state == State.FITTED else None,
        place=None if item.place is None else item.place.code,
        place_name=None if item.place is None else item.place.name,
    )


def _found(item: Item) -> tuple[Found, ...]:
    query = Nonconformance.select().where((Nonconformance.item == item.id) & stands(Nonconformance.deed))
    return tuple(
        Found(n.found, n.failed, n.in_service, n.opened_at, as_word(Disposition, n.disposition))
        for n in query.order_by(Nonconformance.id.desc()).limit(_FOUND)
    )


def _scrapped(item: Item) -> Scrapping | None:
    """As what it was scrapped stands with the movement, how in the journal's entry of it."""
    row = (
        Movement.select(
            Movement.purpose, Movement.occurred_at, called_then(Person, Deed.occurred_at).alias("by"), Entry.body
        )
        .join(Deed, on=(Movement.deed == Deed.id))
        .join(Person)
        .switch(Deed)
        .join(Entry, on=(Entry.deed == Deed.id))
        .where((Movement.source == item.id) & (Movement.kind == MovementKind.SCRAP) & Movement.cancelled_by.is_null())
        .order_by(Movement.id.desc())
        .objects()
        .first()
    )
    if row is None:
        return None
    notes = json.loads(row.body)["notes"]
    method = next((n["scrapped"] for n in notes if n.get("part") == item.code and n.get("scrapped")), None)
    # Before anybody could say as what, all that was scrapped had failed.
    return Scrapping(ScrappedAs(row.purpose or ScrappedAs.FAILED), method, row.occurred_at, row.by)


def _came_back(item: Item) -> CameBack | None:
    row = (
        Flag.select(Flag.sentence, Deed.occurred_at)
        .join(Deed, on=(Flag.deed == Deed.id))
        .where((Flag.item == item.id) & (Flag.kind == "returned") & stands(Flag.deed))
        .order_by(Flag.id.desc())
        .objects()
        .first()
    )
    return None if row is None else CameBack(row.sentence, row.occurred_at)
