"""A part that was scanned: what may go on it now, what it is made of, what is still open."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Kind, PartState, State
from service.operations.ledger import ledger
from service.operations.ledger.graph import HoldView, hold_views
from service.operations.parts.became import Became, became_of
from service.operations.parts.designs import DesignRef, design_ref
from service.operations.parts.part import gone, load_part
from service.operations.parts.releasing import OpenPoint, still_open
from service.operations.parts.view import PartCure, WentIn, cure_row, went_in
from service.records.base import as_word
from service.records.items import Item

# More pots than these nobody has in hand.
_POTS = 6
# Nothing goes on a part that is in the oven, or that has left.
_TAKES_RESIN = (State.LAYING, State.LAID_UP, State.CURED, State.DEMOULDED, State.TRIMMED)


@dataclass(frozen=True, slots=True)
class PotInHand:
    """A mixed pot in which something is left."""

    code: str
    name: str
    left_mg: int


@dataclass(frozen=True, slots=True)
class PartAtBench:
    """A part, and all that is asked about it before the next thing is done to it.

    Attributes
    ----------
    made_of
        What went into it, in the order in which it did.
    open
        What stands between it and its release.
    pots
        Mixed pots that could be put on it, the newest first.
    gone
        In words where it went, if it is no longer in the shop's hands.
    """

    code: str
    name: str
    state: PartState
    design: DesignRef
    zones: tuple[str, ...]
    mould: str | None
    order: str | None
    customer: str | None
    serial: str | None
    started_at: datetime | None
    started_by: str | None
    released_by: str | None
    mass_mg: int | None
    missing_plies: tuple[int, ...]
    made_of: tuple[WentIn, ...]
    cures: tuple[PartCure, ...]
    holds: tuple[HoldView, ...]
    open: tuple[OpenPoint, ...]
    pots: tuple[PotInHand, ...]
    became: Became
    gone: str | None


def part_at_bench(part: str, *, at: datetime) -> PartAtBench:
    """A part as the person with a pot in hand needs it."""
    held = load_part(ledger.find(part, Kind.PART))
    item, row = held.item, held.row
    return PartAtBench(
        code=item.code,
        name=item.name,
        state=as_word(PartState, item.state),
        design=design_ref(row.design),
        zones=tuple(row.design.zones),
        mould=None if held.mould is None else held.mould.name,
        order=row.order,
        customer=row.customer,
        serial=row.serial,
        started_at=row.started_at,
        started_by=held.started_by,
        released_by=held.released_by,
        mass_mg=row.mass_mg,
        missing_plies=tuple(held.missing),
        made_of=tuple(went_in(m) for m in held.inputs if m.source.kind != Kind.CURE),
        cures=tuple(cure_row(c) for c in held.cures),
        holds=hold_views(held.holds(at)),
        open=still_open(held, at=at),
        pots=_pots() if item.state in _TAKES_RESIN else (),
        became=became_of(item),
        gone=gone(item),
    )


def _pots() -> tuple[PotInHand, ...]:
    rows = (
        Item.select(Item.code, Item.name, Item.balance)
        .where((Item.kind == Kind.MIX) & (Item.state == State.RUNNING) & (Item.balance > 0))
        .order_by(Item.id.desc())
        .limit(_POTS)
    )
    return tuple(PotInHand(row.code, row.name, row.balance) for row in rows)
