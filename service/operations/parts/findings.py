"""Nonconformances and defects as they are read."""

from dataclasses import dataclass
from datetime import datetime

from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.records.items import Item
from service.records.parts import Defect, Nonconformance


@dataclass(frozen=True, slots=True)
class DefectView:
    """A defect in the trade's words: what, where, how large."""

    kind: str
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
    disposition: str | None
    decided_because: str | None
    decided_at: datetime | None
    decided_by: str | None


def view_defect(row: Defect) -> DefectView:
    return DefectView(
        kind=row.kind,
        zone=row.zone,
        size_mm=row.size_mm,
        limit_mm=row.limit_mm,
        accepted=row.accepted,
        remark=row.remark,
        inspection=row.inspection_id,
        nonconformance=row.nonconformance_id,
    )


def view_nonconformance(row: Nonconformance) -> NonconformanceView:
    defects = Defect.select().where(Defect.nonconformance == row.id).order_by(Defect.id)
    return NonconformanceView(
        id=row.id,
        item=row.item.code,
        found=row.found,
        in_service=row.in_service,
        failed=row.failed,
        opened_at=row.opened_at,
        opened_by=row.opened_by.name,
        defects=tuple(view_defect(d) for d in defects),
        disposition=row.disposition,
        decided_because=row.decided_because,
        decided_at=row.decided_at,
        decided_by=row.decided_by.name if row.decided_by is not None else None,
    )


def defects_of(item: Item) -> tuple[DefectView, ...]:
    return tuple(view_defect(d) for d in Defect.select().where(Defect.part == item.id).order_by(Defect.id))


def nonconformances_of(item: Item) -> tuple[NonconformanceView, ...]:
    rows = Nonconformance.select().where(Nonconformance.item == item.id).order_by(Nonconformance.id)
    return tuple(view_nonconformance(row) for row in rows)


def read_nonconformance(nonconformance: int) -> NonconformanceView:
    """One nonconformance: what is wrong, and what was decided."""
    return view_nonconformance(find_row(Nonconformance, nonconformance, "nonconformance"))


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
    query = Nonconformance.select()
    if item is not None:
        query = query.where(Nonconformance.item == ledger.find(item).id)
    if decided is not None:
        query = query.where(Nonconformance.decided_at.is_null(not decided))
    for column, wanted in ((Nonconformance.in_service, in_service), (Nonconformance.failed, failed)):
        if wanted is not None:
            query = query.where(column == wanted)
    return page(query, Nonconformance.id, after=after, limit=limit, view=view_nonconformance)
