"""What became of a part: where it is, whether it failed, how it was scrapped, to whom it went, if it came back."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Disposition, State
from service.operations.ledger.failing import failed_among
from service.operations.ledger.flags import stands
from service.operations.parts.scrapping import ScrappingView, scrapping_of
from service.operations.parts.view import ShipmentView, fitted_into, last_shipment
from service.records.base import as_word
from service.records.items import Flag, Item
from service.records.journal import Deed
from service.records.parts import Nonconformance

# Before these nothing has left; what was sent back to be worked on may be in any later one.
_NEVER_LEFT = (State.PLANNED, State.LAYING, State.LAID_UP)
# More than these nobody reads beside a part; the newest are told.
_FOUND = 6


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
    scrapped: ScrappingView | None
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
        scrapped=scrapping_of(item.id, item.code) if item.state == State.SCRAPPED else None,
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
