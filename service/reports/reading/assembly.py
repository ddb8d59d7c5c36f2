"""The parts that were fitted into an assembly: how each was laid up, inspected and released, and by whom."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas import words
from schemas.words import OwnStep
from service.operations.door.formerly import called_then
from service.operations.ledger.flags import stands
from service.operations.parts.part import load_parts
from service.operations.parts.view import InspectionView
from service.records.base import as_word, known
from service.records.items import Item
from service.records.journal import Deed
from service.records.parts import Inspection, PartStep, PlyLaid
from service.records.people import Person


@dataclass(frozen=True, slots=True)
class Closed:
    """The signature under a lay-up."""

    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Component:
    """A part that was bonded into this one; its pots, kits and cures are in this account too.

    Attributes
    ----------
    plies
        Numbers of the plies that were laid, in the order of laying.
    missing_plies
        Of its design, and recorded by nobody.
    closings
        Who signed its lay-up complete, and when.
    """

    code: str
    name: str
    state: words.PartState
    part_number: str
    revision: str
    started_at: datetime
    released_at: datetime | None
    released_by: str | None
    plies: tuple[int, ...]
    missing_plies: tuple[int, ...]
    closings: tuple[Closed, ...]
    inspections: tuple[InspectionView, ...]


def read_components(items: Iterable[Item]) -> tuple[Component, ...]:
    """Any number of components in a fixed number of queries."""
    listed = list(items)
    if not listed:
        return ()
    ids = [item.id for item in listed]
    closed = _of_parts(PartStep, ids, PartStep.kind == OwnStep.CLOSING)
    inspected, laid = _of_parts(Inspection, ids), _of_parts(PlyLaid, ids)
    return tuple(
        Component(
            code=part.item.code,
            name=part.item.name,
            state=as_word(words.PartState, part.item.state),
            part_number=part.design.part_number,
            revision=part.design.revision,
            started_at=known(part.row.started_at),
            released_at=part.row.released_at,
            released_by=part.released_by,
            plies=tuple(row.number for row in laid[part.item.id]),
            missing_plies=tuple(
                ply["number"]
                for ply in part.design.plies
                if ply["number"] not in {row.number for row in laid[part.item.id]}
            ),
            closings=tuple(Closed(row.occurred_at, row.by) for row in closed[part.item.id]),
            inspections=tuple(_inspection(row) for row in inspected[part.item.id]),
        )
        for part in load_parts(listed)
    )


def _of_parts(table: Any, parts: Sequence[int], *more: Any) -> dict[int, list[Any]]:
    """The rows of these parts that stand, with who wrote each, by the part."""
    found: dict[int, list[Any]] = defaultdict(list)
    query = table.select(table, called_then(Person, Deed.occurred_at).alias("by")).join(Deed).join(Person)
    for row in query.where(table.part.in_(parts) & stands(table.deed), *more).order_by(table.id):
        found[row.part_id].append(row)
    return found


def _inspection(row: Any) -> InspectionView:
    return InspectionView(
        id=row.id,
        accepted=row.accepted,
        remark=row.remark,
        measurements=tuple(row.measurements),
        occurred_at=row.occurred_at,
        by=row.by,
    )
