"""A look over the stock, once a day: which material is short, which can is soon past its date.

A finding is written when it is found first and ended by the look that no longer finds it, so that who is told of it is
told once.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any

from peewee import JOIN

from schemas.words import Unit, WarningKind
from service.operations.door.operation import Work, operation
from service.operations.door.views import Page, page
from service.operations.stock import load
from service.operations.stock.picking import fit_among, on_shelf, soon_past
from service.operations.stock.reserved import reserved_of
from service.records.base import as_word, known
from service.records.items import Item
from service.records.materials import Material
from service.records.warnings import StockWarning

# Of so many cans that are soon past their date a look tells, the nearest first.
MOST_EXPIRING = 300


@dataclass(frozen=True, slots=True)
class StockWarningView:
    """A finding of a look over the stock.

    Attributes
    ----------
    item
        The can that is soon past its date; null: the material is short.
    good_until
        The can's last day.
    free
        What was fit for use and reserved by nobody when it was found.
    least
        The least that is to be there.
    found_at
        When it was found first.
    ended_at
        When a look found it no longer; null: it stands.
    """

    id: int
    kind: WarningKind
    material: int
    name: str
    item: str | None
    good_until: date | None
    free: Annotated[int, Unit] | None
    least: Annotated[int, Unit] | None
    unit: str | None
    found_at: datetime
    ended_at: datetime | None


@dataclass(frozen=True, slots=True)
class StockWatch:
    """What a look over the stock found; GET /v1/stock-warnings lists it.

    Attributes
    ----------
    found
        How much it found for the first time.
    ended
        How much of what stood it found no longer.
    standing
        How much stands now.
    """

    found: int
    ended: int
    standing: int


@operation
def watch_stock(work: Work, *, within_days: int = 14) -> StockWatch:
    """Look over the stock: what is short by its material's card, and which cans are soon past their date."""
    at = work.act.occurred_at
    seen = {**_short(work, at), **_expiring(work, at, within_days)}
    standing = {
        (row.material_id, row.item_id): row for row in StockWarning.select().where(StockWarning.ended_at.is_null())
    }
    new = {key: facts for key, facts in seen.items() if key not in standing}
    over = [row.id for key, row in standing.items() if key not in seen]
    for (material, item), facts in new.items():
        StockWarning.create(material=material, item=item, found_at=at, deed=work.deed, **facts)
    if over:
        StockWarning.update(ended_at=at, ended_in=work.deed).where(StockWarning.id.in_(over)).execute()
    work.note(found=len(new), ended=len(over))
    return StockWatch(found=len(new), ended=len(over), standing=len(seen))


# What a finding is about: the material, and the can if it is about one.
_About = tuple[int, int | None]


def _short(work: Work, at: datetime) -> dict[_About, dict[str, Any]]:
    levels = list(
        Material.select().where(Material.least_stock_mg.is_null(False) | Material.least_stock_mm.is_null(False))
    )
    shelf = load.load(on_shelf([row.id for row in levels]), at=at, site=work.site) if levels else []
    reserved = reserved_of([row.id for row in levels], at=at) if levels else {}
    found: dict[_About, dict[str, Any]] = {}
    for row in levels:
        least, unit = (
            (row.least_stock_mg, Unit.MILLIGRAM)
            if row.least_stock_mm is None
            else (row.least_stock_mm, Unit.MILLIMETRE)
        )
        cans = fit_among(shelf, row.id, at=at, site=work.site)
        free = sum(max(0, one.facts.balance - one.facts.reserved) for one in cans if one.item.unit == unit)
        free = max(0, free - reserved.get(row.id, 0))
        if free < known(least):
            found[row.id, None] = {"kind": WarningKind.SHORT, "free": free, "least": least, "unit": unit}
    return found


def _expiring(work: Work, at: datetime, within_days: int) -> dict[_About, dict[str, Any]]:
    soon = soon_past(at=at, site=work.site, days=within_days, most=MOST_EXPIRING)
    return {
        (one.material.id, one.item.id): {"kind": WarningKind.EXPIRING, "good_until": known(one.facts.good_until)}
        for one in soon
    }


def list_stock_warnings(
    *, after: int | None, limit: int, standing: bool | None = None, kind: WarningKind | None = None
) -> Page[StockWarningView]:
    """List what looks over the stock have found, the newest first."""
    query = (
        StockWarning.select(StockWarning, Material.id, Material.name, Item.id, Item.code)
        .join(Material)
        .switch(StockWarning)
        .join(Item, JOIN.LEFT_OUTER)
    )
    if standing is not None:
        query = query.where(StockWarning.ended_at.is_null(standing))
    if kind is not None:
        query = query.where(StockWarning.kind == kind)
    return page(query, StockWarning.id, after=after, limit=limit, view=_view, newest_first=True)


def _view(row: StockWarning) -> StockWarningView:
    return StockWarningView(
        id=row.id,
        kind=as_word(WarningKind, row.kind),
        material=row.material_id,
        name=row.material.name,
        item=row.item.code if row.item is not None else None,
        good_until=row.good_until,
        free=row.free,
        least=row.least,
        unit=row.unit,
        found_at=row.found_at,
        ended_at=row.ended_at,
    )
