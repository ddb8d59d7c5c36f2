"""Cans, drums, bottles, jugs, rolls as they are read: what is left, how fit, in which order they are to be used up."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from schemas.words import Fitness, Kind, MaterialKind, State
from service.formulas.shelf_life import last_instant
from service.operations import ledger, stock
from service.operations.fitness import Answer
from service.operations.paging import Page, page
from service.operations.shop import the_site
from service.operations.views import HoldView, ItemRef, hold_views, ref
from service.records.items import Item
from service.records.materials import Container, Material


@dataclass(frozen=True, slots=True)
class ContainerView:
    code: str
    name: str
    material: int
    kind: str
    lot: str
    makers_lot: str | None
    number: int
    of: int
    state: str
    place: ItemRef | None
    unit: str
    left: int
    reserved: int
    net: int
    tare_mg: int | None
    parent: str | None
    blend: bool
    opened_at: datetime | None
    expires_on: date | None
    good_until: date | None
    good_until_at: datetime | None
    good_because: str
    not_before: datetime | None
    fitness: Answer
    holds: tuple[HoldView, ...]
    instead: tuple[str, ...]
    version: int


def view_container(loaded: stock.Loaded, answer: Answer, *, instead: Sequence[str] = ()) -> ContainerView:
    item, container, facts = loaded.item, loaded.container, loaded.facts
    return ContainerView(
        code=item.code,
        name=loaded.material.name,
        material=loaded.material.id,
        kind=loaded.material.kind,
        lot=loaded.lot_item.code,
        makers_lot=loaded.lot.makers_lot,
        number=container.number,
        of=container.of,
        state=item.state,
        place=ref(item.place) if item.place_id else None,
        unit=item.unit,
        left=item.balance,
        reserved=facts.reserved,
        net=container.net,
        tare_mg=container.tare_mg,
        parent=Item.get_by_id(container.parent_id).code if container.parent_id else None,
        blend=container.blend,
        opened_at=container.opened_at,
        expires_on=container.expires_on,
        good_until=facts.good_until,
        good_until_at=last_instant(on=facts.good_until, zone=facts.zone) if facts.good_until is not None else None,
        good_because=facts.good_because,
        not_before=container.not_before,
        fitness=answer,
        holds=hold_views(facts.holds),
        instead=tuple(instead),
        version=item.version,
    )


def read_container(container: str, *, at: datetime) -> ContainerView:
    """One container: is it fit for use, what is left, and what to take instead."""
    item = ledger.find(container, Kind.CONTAINER)
    site = the_site()
    loaded = stock.load_one(item, at=at, site=site)
    answer = loaded.judged(at=at, site=site)
    instead = () if answer.answer == Fitness.FIT else fit_instead(loaded, at=at)
    return view_container(loaded, answer, instead=instead)


def list_containers(
    *,
    at: datetime,
    after: int | None,
    limit: int,
    material: int | None = None,
    kind: MaterialKind | None = None,
    lot: str | None = None,
    place: str | None = None,
    state: State | None = None,
) -> Page[ContainerView]:
    """List containers, by material, kind, lot, place or state, each with its fitness."""
    query = Item.select(Item).join(Container, on=(Container.item == Item.id))
    if material is not None:
        query = query.where(Container.material == material)
    if kind is not None:
        query = query.join(Material, on=(Container.material == Material.id)).where(Material.kind == kind)
    if lot is not None:
        query = query.where(Container.lot == ledger.find(lot, Kind.LOT).id)
    if place is not None:
        query = query.where(Item.place == ledger.find(place, Kind.PLACE).id)
    if state is not None:
        query = query.where(Item.state == state)
    found = page(query, Item.id, after=after, limit=limit, view=lambda item: item)
    site = the_site()
    rows = stock.load(found.rows, at=at, site=site)
    return Page(rows=tuple(view_container(r, r.judged(at=at, site=site)) for r in rows), next_after=found.next_after)


def pick_order(loaded: stock.Loaded) -> tuple[date, int, int]:
    """First expired first out; of equal dates the opened one first, then the older."""
    opened_first = 0 if loaded.item.state == State.OPEN else 1
    return (loaded.facts.good_until or date.max, opened_first, loaded.item.id)


def fit_containers(material: int, *, at: datetime) -> list[stock.Loaded]:
    """The containers of a material that are fit for use, in the order in which they are to be used up."""
    items = (
        Item.select(Item)
        .join(Container, on=(Container.item == Item.id))
        .where((Container.material == material) & (Item.balance > 0) & Item.state.in_([State.SEALED, State.OPEN]))
    )
    site = the_site()
    fit = [r for r in stock.load(items, at=at, site=site) if r.judged(at=at, site=site).answer == Fitness.FIT]
    return sorted(fit, key=pick_order)


def fit_instead(loaded: stock.Loaded, *, at: datetime) -> tuple[str, ...]:
    others = fit_containers(loaded.material.id, at=at)
    return tuple(o.item.code for o in others if o.item.id != loaded.item.id)[:3]
