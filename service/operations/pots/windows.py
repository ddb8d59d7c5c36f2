"""Windows on moulds: until when the film on a part may be worked, since when it is tacky, when a release is ready."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from peewee import SQL, fn

from schemas.words import MovementKind, State, StepKind
from service.operations.door.shop import the_site, time_in_shop
from service.operations.ledger.flags import stands
from service.operations.pots.clock import table_life
from service.operations.pots.cups import CupsLeft, cups_of, newest_open
from service.operations.pots.pot import OPEN_STATES, Pot, load_pots
from service.records.base import known
from service.records.items import Item, Movement
from service.records.parts import Mould, PartStep

# So many parts are laid up at once in no shop that has one board.
_MOST = 12
_FINDINGS = {"lifts": "wet: it lifts off", "marks": "tacky", "dry": "dry: abrade before the next layer"}


class WindowState(StrEnum):
    """What a window says: work now, wait until it opens, it is over, or nobody can tell."""

    OPEN = "open"
    WAIT = "wait"
    OVER = "over"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class WindowView:
    """Until when something on a mould may be worked, or from when on.

    Attributes
    ----------
    code
        Of the part under way, or of the mould that waits for its release.
    mix
        The pot whose film it is.
    until
        Open: until then; wait: from then on.
    """

    code: str
    name: str
    state: WindowState
    mix: str | None
    until: datetime | None
    sentence: str


def windows_on_moulds(*, at: datetime) -> list[WindowView]:
    """Films and tack on the parts that are being laid up, then the releases that still wait."""
    zone, laid = the_site().zone, _laid_last()
    sources = {known(m.source_id) for m in laid.values()}
    pots = load_pots(Item.select().where(Item.id.in_(sources))) if sources else {}
    return _sorted([*_films(laid, pots, at=at, zone=zone), *_releases(at=at, zone=zone)], at)


def bench_now(*, at: datetime, zone: str) -> tuple[CupsLeft, list[WindowView]]:
    """The newest open cups and the windows together, for the board: each pot is loaded once."""
    laid = _laid_last()
    sources = {known(m.source_id) for m in laid.values()}
    newest = newest_open().select(Item.id)
    pots = load_pots(Item.select().where(Item.id.in_(newest) | Item.id.in_(sources)).order_by(Item.id))
    cups = [pot for pot in pots.values() if pot.item.state in OPEN_STATES and pot.item.balance > 0]
    films = _films(laid, pots, at=at, zone=zone)
    return cups_of(cups, at=at), _sorted([*films, *_releases(at=at, zone=zone)], at)


def _sorted(found: list[WindowView], at: datetime) -> list[WindowView]:
    far = at + timedelta(days=9999)
    return sorted(found, key=lambda one: (one.state != WindowState.OVER, one.until or far, one.code))


def _laid_last() -> dict[int, Any]:
    """The film that was laid last on each part that is being laid up, the part with it: what is under it is covered."""
    parts = (
        Item.select(Item.id)
        # By the index of these alone, as it says it word for word.
        .where((Item.kind == SQL("'P'")) & (Item.state == SQL("'laying'")))
        .order_by(Item.id.desc())
        .limit(_MOST)
    )
    newest = (
        Movement.select(fn.MAX(Movement.id))
        .where(
            Movement.target.in_(parts)
            & (Movement.kind == MovementKind.APPLICATION)
            # COALESCE keeps SQLite from taking "is nothing", which nearly every movement is, for what narrows most.
            & (fn.COALESCE(Movement.cancelled_by, 0) == 0)
        )
        .group_by(Movement.target)
    )
    rows: Any = Movement.select(Movement, Item).join(Item, on=(Movement.target == Item.id), attr="part")
    return {row.part.id: row for row in rows.where(Movement.id.in_(newest)).order_by(Movement.target)}


def _films(laid: Mapping[int, Any], pots: Mapping[int, Pot], *, at: datetime, zone: str) -> list[WindowView]:
    steps = _last_steps(list(laid)) if laid else {}
    return [
        _film(row.part, row, pots[known(row.source_id)], steps.get(number, {}), at=at, zone=zone)
        for number, row in laid.items()
    ]


def _last_steps(parts: Sequence[int]) -> dict[int, dict[str, PartStep]]:
    """The newest tack test and climate of each part."""
    kinds = [StepKind.TACK_TEST, StepKind.CLIMATE]
    rows = PartStep.select().where(PartStep.part.in_(parts) & PartStep.kind.in_(kinds) & stands(PartStep.deed))
    found: dict[int, dict[str, PartStep]] = {}
    for row in rows.order_by(PartStep.id):
        found.setdefault(row.part_id, {})[row.kind] = row
    return found


def _film(
    part: Item, laid: Movement, pot: Pot, steps: Mapping[str, PartStep], *, at: datetime, zone: str
) -> WindowView:
    """By the table for the mould's temperature; what a gloved finger found since the film was laid is said first."""
    test, climate = steps.get(StepKind.TACK_TEST), steps.get(StepKind.CLIMATE)
    told = ""
    if test is not None and test.occurred_at >= laid.occurred_at:
        since = time_in_shop(test.occurred_at, now=at, zone=zone)
        told = f"{_FINDINGS.get(str(test.facts['result']), '')} at {since}"
    warm, of = (float(climate.facts["surface_c"]), "mould") if climate is not None else (pot.mix.temperature_c, "mix")
    contact = pot.mix.contact_at
    if not pot.film_life or contact is None or warm is None:
        why = "no table gives its life" if warm is not None else "nobody measured the mould"
        state = WindowState.NOT_KNOWN
        return WindowView(part.code, part.name, state, pot.item.code, None, told or f"{laid.purpose or 'film'}: {why}")
    life = table_life(points=pot.film_life, mass_g=pot.film_life[0].mass_g, temperature_c=warm)
    minutes = life.minutes if life.minutes is not None else life.shorter_than_min
    until = contact + timedelta(seconds=int((minutes or 0) * 60))
    sentence = f"{laid.purpose or 'film'}, {of} at {warm:g} °C"
    return WindowView(
        code=part.code,
        name=part.name,
        state=WindowState.OVER if at > until else WindowState.OPEN,
        mix=pot.item.code,
        until=until,
        sentence=f"{told}; {sentence}" if told else sentence,
    )


def _releases(*, at: datetime, zone: str) -> list[WindowView]:
    """Moulds on which a release agent still has to wait."""
    rows: Any = (
        Mould.select(Mould, Item)
        .join(Item, on=(Mould.item == Item.id), attr="form")
        .where((Mould.ready_at > at) & (Item.state == State.IN_USE))
        .order_by(Mould.ready_at)
        .limit(_MOST)
    )
    return [
        WindowView(
            code=row.form.code,
            name=row.form.name,
            state=WindowState.WAIT,
            mix=None,
            until=row.ready_at,
            sentence=f"release coat {row.coats_on or 1}" + (f" of {row.coats_asked}" if row.coats_asked else ""),
        )
        for row in rows
    ]
