"""What is looked at on the way in and on the way out: cups of the day before, pots still open, cans to weigh back."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from peewee import JOIN, SQL, fn

from schemas.words import MovementKind, State, Unit
from service.operations.ledger.flags import stands
from service.operations.ledger.journal import names_of
from service.operations.pots.cups import CupView, cups_left
from service.records.items import Item, Movement, Touched
from service.records.journal import Deed
from service.records.lookups import another, rows_among
from service.records.mixes import Closing, CupCheck, Mix

# A round that is longer nobody walks; the rest of it is there when these are done.
MOST_IN_A_ROUND = 100
# A cup is looked at on the next morning of work: over a long weekend, that is four days later. After that it is in the
# bin, and stays an open point of what its pot went into.
_CUP_STANDS = timedelta(days=4)
# What was used within so long is weighed back before people go home, whatever the shift.
_DAY = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class CupToCheck:
    """A cup that was kept of a pot, and that nobody has looked at yet.

    Attributes
    ----------
    parts
        On which its pot went: a soft cup holds them.
    """

    mix: str
    name: str
    left_mg: int
    parts: tuple[str, ...]
    closed_at: datetime
    closed_by: str


@dataclass(frozen=True, slots=True)
class CanToWeigh:
    """An open can that was poured from in the last 24 h and not weighed since.

    Attributes
    ----------
    left_mg
        By the book.
    """

    container: str
    name: str
    place_name: str | None
    left_mg: int
    last_used_at: datetime


@dataclass(frozen=True, slots=True)
class MorningRound:
    """The cups of the last four days, oldest first."""

    cups: tuple[CupToCheck, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class EveningRound:
    """What still stands open: pots with something in them, what calls for an act first, then cans to weigh back."""

    pots: tuple[CupView, ...]
    cans: tuple[CanToWeigh, ...]
    sentence: str


def morning_round(*, at: datetime) -> MorningRound:
    """The cups of the last four days that were kept and that nobody has checked yet, oldest first."""
    rows: list[Any] = list(
        Closing.select(Closing, Item, Deed)
        .join(Item, on=(Closing.mix == Item.id), attr="pot")
        .switch(Closing)
        .join(Deed, on=(Closing.deed == Deed.id))
        .where(_unchecked(since=at - _CUP_STANDS))
        .order_by(Closing.id)
        .limit(MOST_IN_A_ROUND)
    )
    names, into = names_of({row.deed_id for row in rows}), _went_on([row.mix_id for row in rows])
    cups = tuple(
        CupToCheck(
            mix=row.pot.code,
            name=row.pot.name,
            left_mg=row.left_mg,
            parts=tuple(into.get(row.mix_id, ())),
            closed_at=row.deed.occurred_at,
            closed_by=names[row.deed_id],
        )
        for row in rows
    )
    many = "1 cup" if len(cups) == 1 else f"{len(cups)} cups"
    return MorningRound(
        cups, f"{many} to look at." if cups else "Every cup of the last four days that was kept has been checked."
    )


def cups_to_check(*, at: datetime) -> int:
    """How many of them there are; one more than a round has stands for all that are more."""
    found = Closing.select(Closing.id).join(Item, on=(Closing.mix == Item.id)).switch(Closing).join(Deed)
    return int(found.where(_unchecked(since=at - _CUP_STANDS)).limit(MOST_IN_A_ROUND + 1).count())


def _unchecked(*, since: datetime) -> Any:
    """Of the pots that were closed since then alone, whatever was closed before: they are found by an index."""
    checked = CupCheck.select(CupCheck.id).where((CupCheck.mix == Closing.mix) & stands(CupCheck.deed))
    recent = Closing.mix.in_(Mix.select(Mix.item).where(Mix.closed_at > since)) & (Deed.occurred_at > since)
    return recent & Closing.cup_kept & stands(Closing.deed) & ~fn.EXISTS(checked) & (Item.state == State.CLOSED)


def _went_on(mixes: list[int]) -> dict[int, list[str]]:
    """The parts on which each of these pots went."""
    parts = another(Item, "parts")
    query = (
        Movement.select(Movement.source, parts.code)
        .join(parts, on=(Movement.target == parts.id))
        .where(
            Movement.source.in_(mixes) & (Movement.kind == MovementKind.APPLICATION) & Movement.cancelled_by.is_null()
        )
        .order_by(Movement.id)
    )
    found: dict[int, list[str]] = {}
    for mix, code in query.tuples() if mixes else ():
        if code not in found.setdefault(mix, []):
            found[mix].append(code)
    return found


def evening_round(*, at: datetime) -> EveningRound:
    """The open pots, and the open cans that were poured from in the last 24 h and not weighed since."""
    left, cans = cups_left(at=at), _cans(at)
    sentences = [left.sentence]
    if cans:
        sentences.append(f"{len(cans)} {'can' if len(cans) == 1 else 'cans'} to weigh back.")
    return EveningRound(left.cups, cans, " ".join(sentences))


def _cans(at: datetime) -> tuple[CanToWeigh, ...]:
    weighed = (
        Touched.select(fn.MAX(Touched.deed))
        .join(Deed, on=(Touched.deed == Deed.id))
        .where((Touched.item == Item.id) & (Deed.operation == "weigh_back") & Deed.refused.is_null())
    )
    used = (
        (Movement.source == Item.id)
        & Movement.kind.in_([MovementKind.POUR, MovementKind.ADDITION])
        & Movement.cancelled_by.is_null()
        & (Movement.occurred_at > at - _DAY)
    )
    rows = list(
        # From the open cans, by the index of these alone, to what was taken of each: not through all that was poured.
        Item.select(Item, fn.MAX(Movement.occurred_at).alias("used_at"))
        .join(Movement, JOIN.CROSS)
        .where((Item.kind == SQL("'C'")) & (Item.state == SQL("'open'")) & (Item.unit == Unit.MILLIGRAM) & used)
        .group_by(Item.id)
        .having(fn.COALESCE(weighed, 0) < fn.MAX(Movement.deed))
        .order_by(Item.name, Item.id)
        .limit(MOST_IN_A_ROUND)
        .objects()
    )
    places = {p.id: p.name for p in rows_among(Item, Item.id, {r.place_id for r in rows if r.place_id is not None})}
    last = Movement.occurred_at.python_value
    return tuple(
        CanToWeigh(
            container=row.code,
            name=row.name,
            place_name=places.get(row.place_id or 0),
            left_mg=row.balance,
            last_used_at=row.used_at if isinstance(row.used_at, datetime) else last(row.used_at),
        )
        for row in rows
    )
