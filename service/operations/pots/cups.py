"""A cup with mixed resin left in it: how much, how old, and what to do before it heats itself.

The advice is general; the safety data sheet, the data sheet and local rules come first, and every sentence says so.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Literal, cast

from peewee import SQL, fn

from schemas.words import CupState, MixState
from service.formulas.exotherm import DEFER, adiabatic_rise_k, left_cup_advice
from service.formulas.ranges import OutOfRange
from service.operations.ledger.amounts import grams
from service.operations.pots.clock import Clock, clock_of
from service.operations.pots.pot import OPEN_STATES, Pot, find_pot, load_pots, minutes_between
from service.records.base import as_word, known
from service.records.items import Item
from service.records.lookups import RowSelect


class CupLevel(StrEnum):
    """What a cup with mixed resin in it calls for, the gravest first."""

    KEEP_AWAY = "keep away"
    ACT_NOW = "act now"
    SPREAD_OUT = "spread out"
    IN_A_TRAY = "in a tray"


MOST_CUPS = 200
"""So many cups are told, those that were started last; one that nobody closed for weeks has cooled long ago."""
# Up to this share of its life a pot of which nothing was used is there to be used (common practice, no source).
_FRESH_SHARE = 0.5
_GRAVITY = (*CupLevel, None)


_CONSTANTS = ("heat_of_reaction_j_g", "heat_capacity_j_g_k")


@dataclass(frozen=True, slots=True)
class HeatView:
    """How hot the mix would get if no heat escaped: an upper bound, and only by the system's own constants.

    Attributes
    ----------
    rise_k
        If no heat escaped: an upper bound.
    source
        Where the constants of the system come from.
    """

    rise_k: float | None
    source: str
    sentence: str


@dataclass(frozen=True, slots=True)
class WatchView:
    """What to do with a cup. `age_share` counts from first contact over the life; `age_of_shortest`: over the shortest
    life of the table, because the temperature of the mix is not known.

    Attributes
    ----------
    level
        spread out, act now, keep away, or in a tray already.
    age_min
        Since first contact.
    age_share
        Of the pot life; above 1 it is over.
    age_of_shortest
        Counted against the table's shortest life: the temperature is not known.
    heat
        Only where the system's constants say it.
    """

    level: CupLevel | None
    sentence: str
    left_mg: int
    age_min: float | None
    age_share: float | None
    age_of_shortest: bool
    heat: HeatView | None


@dataclass(frozen=True, slots=True)
class CupView:
    """A pot with what is left in it, who started it, and what it was put to.

    Attributes
    ----------
    parts
        What it went into, or was meant for.
    cup
        How it was found, or cool where nobody said.
    """

    mix: str
    name: str
    state: MixState
    started_by: str
    contact_at: datetime | None
    use_before: datetime | None
    in_tray_at: datetime | None
    parts: tuple[str, ...]
    cup: CupState
    watch: WatchView


@dataclass(frozen=True, slots=True)
class CupsLeft:
    """Cups that still hold mixed resin, anywhere in the shop.

    Attributes
    ----------
    cups
        What calls for an act comes first. Of more than 200 those that were started last; GET /v1/mixes?open=true lists
        all open pots.
    cups_count
        How many there are.
    """

    cups: tuple[CupView, ...]
    cups_count: int
    sentence: str


def watch_of(pot: Pot, clock: Clock, *, at: datetime) -> WatchView | None:
    """What an open pot asks for, taken as cool; nothing before hardener is in, or once the book says it is empty."""
    if pot.item.state not in OPEN_STATES or pot.mix.contact_at is None or pot.item.balance <= 0:
        return None
    return _watch(pot, clock, at=at, state=CupState.COOL)


def _watch(pot: Pot, clock: Clock, *, at: datetime, state: CupState) -> WatchView:
    left = _left_mg(pot)
    age, share, of_shortest = _age(pot, clock, at)
    level: CupLevel | None
    if pot.mix.contact_at is None and state == CupState.COOL:
        level, sentence = None, f"Resin and hardener have not met in it. {DEFER}"
    elif pot.mix.in_tray_at is not None and state == CupState.COOL:
        level = CupLevel.IN_A_TRAY
        sentence = f"It is spread out in a tray. Watch it until it is hard and cold. {DEFER}"
    else:
        advice = left_cup_advice(
            mass_g=left / 1000,
            mass_limit_g=pot.largest_mg / 1000,
            age_fraction=min(share or 0.0, 1e6),
            cup_state=cast(Literal["cool", "warm", "smoking"], str(state)),
        )
        level = CupLevel(advice.level)
        sentence = advice.sentence
        if level == CupLevel.SPREAD_OUT and _is_fresh(pot, share):
            # Nobody has used any of it yet: there is no rest, and the pot is there to be used.
            level = None
            sentence = (
                "It is fresh: use it. What is left over afterwards is spread thin before it warms; no cup is left "
                f"standing. {DEFER}"
            )
        if of_shortest:
            sentence += (
                " The temperature of the mix is not known: its age is counted against the table's shortest life."
            )
    return WatchView(level, sentence, left, age, share, of_shortest, _heat(pot))


def _is_fresh(pot: Pot, share: float | None) -> bool:
    return pot.item.state in OPEN_STATES and not pot.applications and (share or 0.0) <= _FRESH_SHARE


def _left_mg(pot: Pot) -> int:
    """By the book while it is open; then what was said to be left, or all of it where nobody said."""
    if pot.item.state in OPEN_STATES:
        return max(0, int(pot.item.balance))
    return pot.total_mg if pot.closing is None else int(pot.closing.left_mg)


def _age(pot: Pot, clock: Clock, at: datetime) -> tuple[float | None, float | None, bool]:
    contact = pot.mix.contact_at
    if contact is None:
        return None, None, False
    age = max(0.0, minutes_between(contact, at))
    bound = None if clock.over_after is None else minutes_between(contact, clock.over_after)
    life = clock.life_min or bound
    if life:
        return age, age / life, False
    return age, age / pot.shortest_life_min, True


def _heat(pot: Pot) -> HeatView | None:
    constants = pot.system.get("constants") or {}
    if not all(name in constants for name in _CONSTANTS) or not constants.get("source"):
        return None
    source = str(constants["source"])
    try:
        rise = adiabatic_rise_k(**{name: float(constants[name]) for name in _CONSTANTS})
    except (OutOfRange, TypeError, ValueError):
        return HeatView(None, source, "Not known: the constants of the system have a value that no resin has.")
    return HeatView(
        rise,
        source,
        f"If no heat escaped it would warm by {rise:.0f} K (constants: {source}): an upper bound, not a forecast.",
    )


def cup_advice(mix: str, *, at: datetime, state: CupState = CupState.COOL) -> CupView:
    """What to do with the cup of a pot, as it was found: cool, warm or smoking."""
    pot = find_pot(mix)
    return _cup(pot, clock_of(pot), at=at, state=state)


def _cup(pot: Pot, clock: Clock, *, at: datetime, state: CupState) -> CupView:
    item, mix = pot.item, pot.mix
    into = [pot.named[known(m.target_id)].code for m in pot.applications]
    return CupView(
        mix=item.code,
        name=item.name,
        state=as_word(MixState, item.state),
        started_by=pot.started_by,
        contact_at=mix.contact_at,
        use_before=clock.use_before,
        in_tray_at=mix.in_tray_at,
        parts=tuple(dict.fromkeys(into or mix.plan.get("parts", ()))),
        cup=state,
        watch=_watch(pot, clock, at=at, state=state),
    )


def _still_open() -> Any:
    """The open pots with something in them, as a condition on items: word for word that of their own index."""
    return (Item.kind == SQL("'M'")) & (Item.balance > SQL("0")) & Item.state.in_(OPEN_STATES)


def cups_left(*, at: datetime) -> CupsLeft:
    """Every open pot with something in it: how much, how old, what to do with it. What calls for an act comes first.

    Nobody has said how the cups feel: each is taken as cool.
    """
    return cups_of(load_pots(newest_open()).values(), at=at)


def newest_open() -> "RowSelect[Item]":
    """The open pots with something in them that were started last."""
    return Item.select().where(_still_open()).order_by(Item.id.desc()).limit(MOST_CUPS)


def cups_of(pots: Iterable[Pot], *, at: datetime) -> CupsLeft:
    """The cups of these pots, the newest that are open and have something in them; all of which are counted."""
    totals = Item.select(fn.COUNT(Item.id), fn.SUM(Item.balance)).where(_still_open())
    count, left = totals.scalar(as_tuple=True)
    cups = [_cup(pot, clock_of(pot), at=at, state=CupState.COOL) for pot in pots]
    cups.sort(key=lambda c: (_GRAVITY.index(c.watch.level), -(c.watch.age_share or 0.0), c.mix))
    urgent = [c.mix for c in cups if c.watch.level == CupLevel.ACT_NOW]
    sentence = "No open pot has anything in it."
    if cups:
        sentence = f"{count:,} open {'pot' if count == 1 else 'pots'} with {grams(int(left))} in all."
    if urgent:
        sentence += f" Act now: {', '.join(urgent)}."
    return CupsLeft(tuple(cups), count, sentence)
