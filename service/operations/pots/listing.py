"""Pots as they are asked for: one, or a list."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from schemas.words import Kind, MixState, MovementKind, Purpose, State, Verdict
from service.operations.door.shop import the_site
from service.operations.door.views import Page, by_state, page_of
from service.operations.ledger import ledger
from service.operations.ledger.graph import by_hold
from service.operations.ledger.journal import names_of
from service.operations.pots.pot import OPEN_STATES, find_pot
from service.operations.pots.view import MixView, view_pot
from service.records.base import as_word
from service.records.items import Item, Movement
from service.records.lookups import another
from service.records.mixes import Mix


@dataclass(frozen=True, slots=True)
class MixRow:
    """A pot in one line."""

    code: str
    name: str
    state: MixState
    purpose: Purpose
    system_id: int
    planned_mg: int
    left_mg: int
    started_at: datetime
    started_by: str
    use_before: datetime | None
    deviation_pct: float | None
    verdict: Verdict | None
    holds: int
    version: int


def read_mix(mix: str, *, at: datetime) -> MixView:
    """One pot: the next number, the verdict, the clock, and what became of it."""
    return view_pot(find_pot(mix), at=at, site=the_site())


def list_mixes(
    *,
    after: int | None,
    limit: int,
    state: State | None = None,
    purpose: Purpose | None = None,
    system: int | None = None,
    part: str | None = None,
    open: bool | None = None,
    on_hold: bool | None = None,
) -> Page[MixRow]:
    """List pots, newest first: by state, purpose, resin system, part or hold, or only those that are open."""
    query = Item.select(Item).join(Mix, on=(Mix.item == Item.id))
    if open is not None:
        pot = another(Item, "open_pot")
        are_open = pot.select(pot.id).where((pot.kind == Kind.MIX) & pot.state.in_(OPEN_STATES))
        query = query.where(Mix.item.in_(are_open) if open else Item.state.not_in(OPEN_STATES))
    if purpose is not None:
        query = query.where(Mix.purpose == purpose)
    if system is not None:
        query = query.where(Mix.system == system)
    if part is not None:
        into = Movement.select(Movement.source).where(
            (Movement.target == ledger.find(part, Kind.PART).id)
            & (Movement.kind == MovementKind.APPLICATION)
            & Movement.cancelled_by.is_null()
        )
        query = query.where(Item.id.in_(into))
    query, key = by_state(query, Kind.MIX, Mix.item, state)
    query = by_hold(query, on_hold)
    return page_of(query, key, after=after, limit=limit, views=_rows, newest_first=True)


def _rows(items: Sequence[Item]) -> Iterator[MixRow]:
    mixes = {m.item_id: m for m in Mix.select().where(Mix.item.in_([i.id for i in items]))} if items else {}
    names = names_of({i.deed_id for i in items})
    return (_row(item, mixes[item.id], names[item.deed_id]) for item in items)


def _row(item: Item, mix: Mix, by: str) -> MixRow:
    return MixRow(
        code=item.code,
        name=item.name,
        state=as_word(MixState, item.state),
        purpose=as_word(Purpose, mix.purpose),
        system_id=mix.system_id,
        planned_mg=mix.planned_mg,
        left_mg=item.balance,
        started_at=mix.started_at,
        started_by=by,
        use_before=mix.use_before,
        deviation_pct=mix.deviation_pct,
        verdict=as_word(Verdict, mix.verdict),
        holds=item.holds,
        version=item.version,
    )
