"""The cures that run now, in a line each: for a wall."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import JOIN, fn

from schemas.words import MovementKind, State
from service.records.cures import Cure, Schedule
from service.records.items import Item, Movement
from service.records.lookups import another


@dataclass(frozen=True, slots=True)
class RunningCure:
    """A cure that has not ended, where it is, and how many parts are in it."""

    code: str
    schedule: str
    place: str | None
    parts: int
    started_at: datetime


def cures_running(*, limit: int) -> tuple[RunningCure, ...]:
    """The cures that run, the longest first."""
    places = another(Item, "places")
    parts = Movement.select(fn.COUNT(Movement.target.distinct())).where(
        (Movement.source == Cure.item) & (Movement.kind == MovementKind.CURE) & Movement.cancelled_by.is_null()
    )
    rows: Any = (
        Cure.select(
            Cure.started_at,
            Item.code.alias("code"),
            Schedule.name.alias("schedule_name"),
            places.name.alias("place_name"),
            parts.alias("parts"),
        )
        .join(Item, on=(Cure.item == Item.id))
        .join(places, JOIN.LEFT_OUTER, on=(Item.place == places.id))
        .join_from(Cure, Schedule)
        .where(Item.state == State.RUNNING)
        .order_by(Cure.started_at, Cure.item)
        .limit(limit)
        .objects()
    )
    return tuple(RunningCure(r.code, r.schedule_name, r.place_name, r.parts, r.started_at) for r in rows)
