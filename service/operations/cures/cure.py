"""A cure loaded once: its schedule, its parts, what proves it; and what an act changes in it."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from schemas.words import MovementKind
from service.operations.cures.evidence import Said, standing_logs, standing_readings
from service.records.base import known
from service.records.cures import Cure, CureLog, Schedule
from service.records.items import Item, Movement


@dataclass
class CureInHand:
    """A cure with its schedule and its parts, in the order in which they went in."""

    item: Item
    row: Cure
    parts: list[Item]

    @property
    def schedule(self) -> Schedule:
        return self.row.schedule

    @cached_property
    def logs(self) -> list[CureLog]:
        """Those that stand, with their readings; who imports one adds it here."""
        return standing_logs(self.item.id)

    @property
    def logs_told(self) -> list[CureLog]:
        """The same for telling of them, without the readings where nobody has needed them."""
        return self.logs if "logs" in self.__dict__ else standing_logs(self.item.id, readings=False)

    @cached_property
    def said(self) -> list[Said]:
        """Thermometers and declarations that stand; who makes one adds it here."""
        return standing_readings(self.item.id)

    def update(self, **columns: Any) -> None:
        """Set columns of the cure, in the database and here."""
        Cure.update(**columns).where(Cure.item == self.item.id).execute()
        for name, value in columns.items():
            setattr(self.row, name, value)


def load_cure(item: Item, *, parts: list[Item] | None = None) -> CureInHand:
    """A cure; its parts are read unless they are at hand, locked."""
    row = Cure.select(Cure, Schedule).join(Schedule).where(Cure.item == item.id).get()
    return CureInHand(item, row, parts_of([item.id])[item.id] if parts is None else parts)


def parts_of(cures: Iterable[int]) -> dict[int, list[Item]]:
    """The parts of each of these cures."""
    ids = list(cures)
    found: dict[int, list[Item]] = {cure: [] for cure in ids}
    query = (
        Movement.select(Movement.source, Item)
        .join(Item, on=(Movement.target == Item.id))
        .where(Movement.source.in_(ids) & (Movement.kind == MovementKind.CURE) & Movement.cancelled_by.is_null())
        .order_by(Movement.id)
    )
    for movement in query:
        found[known(movement.source_id)].append(known(movement.target))
    return found


def last_cures(parts: Iterable[int]) -> dict[int, int]:
    """For each of these parts that was in a cure, the number of the last."""
    query = (
        Movement.select(Movement.target, Movement.source)
        .where(
            Movement.target.in_(list(parts)) & (Movement.kind == MovementKind.CURE) & Movement.cancelled_by.is_null()
        )
        .order_by(Movement.id)
    )
    return {known(m.target_id): known(m.source_id) for m in query}
