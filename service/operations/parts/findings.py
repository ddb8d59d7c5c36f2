"""Nonconformances and defects as they are read."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NotRequired, TypedDict

from peewee import JOIN

from schemas.defects import DefectKind
from schemas.words import Disposition
from service.operations.door.formerly import called_then
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.items import Item
from service.records.lookups import another
from service.records.parts import Defect, Nonconformance
from service.records.people import Person


class Measurement(TypedDict):
    """One measured value, and whether it lies within its limits, where it has any."""

    name: str
    value: float
    unit: str | None
    low: float | None
    high: float | None
    within: bool | None
    sentence: NotRequired[str]


@dataclass(frozen=True, slots=True)
class DefectView:
    """A defect in the trade's words: what, where, how large."""

    kind: DefectKind
    zone: str
    size_mm: float | None
    limit_mm: float | None
    accepted: bool
    remark: str | None
    inspection: int | None
    nonconformance: int | None


@dataclass(frozen=True, slots=True)
class NonconformanceView:
    id: int
    item: str
    found: str
    in_service: bool
    failed: bool
    opened_at: datetime
    opened_by: str
    defects: tuple[DefectView, ...]
    disposition: Disposition | None
    decided_because: str | None
    decided_at: datetime | None
    decided_by: str | None


def view_defect(row: Defect) -> DefectView:
    return DefectView(
        kind=as_word(DefectKind, row.kind),
        zone=row.zone,
        size_mm=row.size_mm,
        limit_mm=row.limit_mm,
        accepted=row.accepted,
        remark=row.remark,
        inspection=row.inspection_id,
        nonconformance=row.nonconformance_id,
    )


def _nonconformances() -> Any:
    """Nonconformances with the item, who opened and who decided."""
    opener, decider = another(Person, "opener"), another(Person, "decider")
    return (
        Nonconformance.select(
            Nonconformance,
            Item.code,
            called_then(opener, Nonconformance.opened_at).alias("opened_by_name"),
            called_then(decider, Nonconformance.decided_at).alias("decided_by_name"),
        )
        .join(Item)
        .switch(Nonconformance)
        .join(opener, on=(Nonconformance.opened_by == opener.id), attr="opener")
        .switch(Nonconformance)
        .join(decider, JOIN.LEFT_OUTER, on=(Nonconformance.decided_by == decider.id), attr="decider")
    )


def view_nonconformance(number: int) -> NonconformanceView:
    row = _nonconformances().where(Nonconformance.id == number).first()
    return _view(row if row is not None else find_row(Nonconformance, number, "nonconformance"), _defects([number]))


def _defects(nonconformances: Sequence[int]) -> tuple[DefectView, ...]:
    rows = Defect.select().where(Defect.nonconformance.in_(list(nonconformances))).order_by(Defect.id)
    return tuple(view_defect(d) for d in rows) if nonconformances else ()


def _view(row: Any, defects: Iterable[DefectView]) -> NonconformanceView:
    return NonconformanceView(
        id=row.id,
        item=row.item.code,
        found=row.found,
        in_service=row.in_service,
        failed=row.failed,
        opened_at=row.opened_at,
        opened_by=row.opened_by_name,
        defects=tuple(d for d in defects if d.nonconformance == row.id),
        disposition=as_word(Disposition, row.disposition),
        decided_because=row.decided_because,
        decided_at=row.decided_at,
        decided_by=row.decided_by_name,
    )


def defects_of(item: Item) -> tuple[DefectView, ...]:
    return tuple(view_defect(d) for d in Defect.select().where(Defect.part == item.id).order_by(Defect.id))


def nonconformances_of(item: Item, defects: Sequence[DefectView]) -> tuple[NonconformanceView, ...]:
    """Those of a part; ``defects`` are all of it."""
    rows = _nonconformances().where(Nonconformance.item == item.id).order_by(Nonconformance.id)
    return tuple(_view(row, defects) for row in rows)


def read_nonconformance(nonconformance: int) -> NonconformanceView:
    """One nonconformance: what is wrong, and what was decided."""
    return view_nonconformance(nonconformance)


def list_nonconformances(
    *,
    after: int | None,
    limit: int,
    item: str | None = None,
    decided: bool | None = None,
    in_service: bool | None = None,
    failed: bool | None = None,
) -> Page[NonconformanceView]:
    """List nonconformances, for instance those that wait for a decision."""
    query = _nonconformances()
    if item is not None:
        query = query.where(Nonconformance.item == ledger.find(item).id)
    if decided is not None:
        query = query.where(Nonconformance.decided_at.is_null(not decided))
    for column, wanted in ((Nonconformance.in_service, in_service), (Nonconformance.failed, failed)):
        if wanted is not None:
            query = query.where(column == wanted)
    return page_of(query, Nonconformance.id, after=after, limit=limit, views=_views)


def _views(rows: Sequence[Nonconformance]) -> Iterator[NonconformanceView]:
    defects = _defects([row.id for row in rows])
    return (_view(row, defects) for row in rows)
