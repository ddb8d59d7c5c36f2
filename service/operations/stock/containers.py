"""Cans, drums, bottles, jugs, rolls: opened, decanted, weighed back, moved, scrapped; and how they are read."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Annotated

from schemas.words import ContainerState, Fitness, Kind, MaterialKind, MovementKind, State, Unit
from service.formulas.shelf_life import decant_expiry, last_instant
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import SameLotOnly, ShortStock, Unprocessable, WrongState
from service.operations.door.shop import the_site
from service.operations.door.views import ItemRef, Page, by_state, page_of, ref
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.graph import HoldView, by_hold, hold_views
from service.operations.stock import load
from service.operations.stock.fitness import Answer
from service.operations.stock.out_time import Clocks, begin_with, clocks_of, sheet_of
from service.operations.stock.peroxides import (
    cautions_of,
    is_organic_peroxide,
    never,
    require_vented,
    settle_place,
)
from service.operations.stock.picking import fit_instead
from service.operations.stock.places import leaves_the_cold
from service.operations.stock.reserved import Taken, ask_if_reserved
from service.operations.stock.stays import inherit_stays
from service.operations.stock.using import load_used, note_opened, require_fit, settle_empty
from service.records.base import as_word, known
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Container, Material


@dataclass(frozen=True, slots=True)
class ContainerView:
    """A container: what is left in it, and whether it is fit for use.

    Attributes
    ----------
    number
        2 of 4 in its delivery.
    good_until
        The date that counts, and in good_because why.
    good_until_at
        When that day ends, by the shop's clock: then it is good no more.
    instead
        Fit containers to take instead, first expired first.
    cautions
        What is said of its material wherever it is scanned; data sheet and local rules come first.
    """

    code: str
    name: str
    material: int
    kind: MaterialKind
    lot: str
    makers_lot: str | None
    number: int
    of: int
    state: ContainerState
    place: str | None
    place_name: str | None
    unit: str
    left: Annotated[int, Unit]
    reserved: Annotated[int, Unit] | None
    net: Annotated[int, Unit]
    tare_mg: int | None
    parent: str | None
    blend: bool
    opened_at: datetime | None
    expires_on: date | None
    good_until: date | None
    good_until_at: datetime | None
    good_because: load.GoodBecause
    not_before: datetime | None
    fitness: Answer
    holds: tuple[HoldView, ...]
    instead: tuple[str, ...]
    cautions: tuple[str, ...]
    version: int


def view_container(loaded: load.Loaded, answer: Answer, *, instead: Sequence[str] = ()) -> ContainerView:
    return _view(loaded, answer, _named([loaded]), instead)


def _named(rows: Iterable[load.Loaded]) -> dict[int, Item]:
    """The places where these stand, and the containers that they were filled from."""
    numbers = {number for r in rows for number in (r.item.place_id, r.container.parent_id) if number is not None}
    return {item.id: item for item in rows_among(Item, Item.id, numbers)}


def _view(loaded: load.Loaded, answer: Answer, named: Mapping[int, Item], instead: Sequence[str]) -> ContainerView:
    item, container, facts = loaded.item, loaded.container, loaded.facts
    return ContainerView(
        code=item.code,
        name=loaded.material.name,
        material=loaded.material.id,
        kind=as_word(MaterialKind, loaded.material.kind),
        lot=loaded.lot_item.code,
        makers_lot=loaded.lot.makers_lot,
        number=container.number,
        of=container.of,
        state=as_word(ContainerState, item.state),
        place=named[item.place_id].code if item.place_id is not None else None,
        place_name=named[item.place_id].name if item.place_id is not None else None,
        unit=known(item.unit),
        left=item.balance,
        reserved=facts.reserved if item.unit == Unit.MILLIGRAM else None,
        net=container.net,
        tare_mg=container.tare_mg,
        parent=named[container.parent_id].code if container.parent_id is not None else None,
        blend=container.blend,
        opened_at=container.opened_at,
        expires_on=container.expires_on,
        good_until=facts.good_until,
        good_until_at=last_instant(on=facts.good_until, zone=facts.zone) if facts.good_until is not None else None,
        good_because=load.GoodBecause(facts.good_because),
        not_before=container.not_before,
        fitness=answer,
        holds=hold_views(facts.holds),
        instead=tuple(instead),
        cautions=cautions_of(loaded.material),
        version=item.version,
    )


def read_container(container: str, *, at: datetime) -> ContainerView:
    """One container: is it fit for use, what is left, and what to take instead."""
    item = ledger.find(container, Kind.CONTAINER)
    site = the_site()
    loaded = load.load_one(item, at=at, site=site)
    answer = loaded.judged(at=at, site=site)
    instead = () if answer.answer == Fitness.FIT else fit_instead(loaded, at=at, site=site)
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
    on_hold: bool | None = None,
) -> Page[ContainerView]:
    """List containers, by material, kind, lot, place, state or hold, each with its fitness."""
    query = Item.select(Item).join(Container, on=(Container.item == Item.id))
    if material is not None:
        query = query.where(Container.material == material)
    if kind is not None:
        query = query.join(Material, on=(Container.material == Material.id)).where(Material.kind == kind)
    if lot is not None:
        query = query.where(Container.lot == ledger.find(lot, Kind.LOT).id)
    if place is not None:
        query = query.where(Item.place == ledger.find(place, Kind.PLACE).id)
    query, key = by_state(query, Kind.CONTAINER, Container.item, state)
    query = by_hold(query, on_hold, at=at)
    return page_of(query, key, after=after, limit=limit, views=lambda items: _views(items, at=at))


def _views(items: Sequence[Item], *, at: datetime) -> Iterator[ContainerView]:
    site = the_site()
    rows = load.load(items, at=at, site=site)
    named = _named(rows)
    return (_view(r, r.judged(at=at, site=site), named, ()) for r in rows)


def answered(work: Work, item: Item) -> ContainerView:
    loaded = load.load_one(item, at=work.act.occurred_at, site=work.site)
    return view_container(loaded, loaded.judged(at=work.act.occurred_at, site=work.site))


@operation
def open_container(work: Work, *, container: str) -> ContainerView:
    """Note that a container was opened: from now on its opened life runs."""
    item = ledger.lock_one(work, container, Kind.CONTAINER)
    if item.state != State.SEALED:
        raise WrongState(f"{item.code} is {item.state}, not sealed.", way_out="It needs no opening any more.")
    note_opened(work, item)
    return answered(work, item)


@operation
def decant(
    work: Work,
    *,
    container: str,
    mass_mg: int,
    into: str | None = None,
    tare_mg: int | None = None,
    place: str | None = None,
    cleaned: bool = False,
    blend: bool = False,
    vented: bool = False,
    happened: bool = False,
) -> ContainerView:
    """Decant into a new container, or fill one up again that holds the same lot or was emptied and cleaned.

    Two lots in one container are a blend: a new container with a code of its own and the earliest date of all.
    """
    locked = ledger.lock(work, *[c for c in (container, into) if c], kinds=[Kind.CONTAINER])
    source, old = locked[container], locked[into] if into else None
    loaded = load_used(work, source)
    require_fit(work, loaded)
    row = loaded.container
    if source.unit != Unit.MILLIGRAM:
        raise Unprocessable("Only what is weighed can be decanted.", pointer="/mass_g")
    if mass_mg > source.balance:
        raise ShortStock(f"Only {source.balance / 1000:g} g is left in {source.code}.", left_g=source.balance / 1000)
    where = ledger.find(place, Kind.PLACE) if place else source.place
    burst = None
    if is_organic_peroxide(loaded.material):
        burst = require_vented(loaded.material, source, vented=vented, happened=happened)
        if old is not None:
            sentence = f"{old.code}: a container of organic peroxide is never topped up or poured back into."
            way_out = "Decant into a new vented container with a code of its own."
            never(work, "peroxide-topped-up", sentence, old, happened=happened, way_out=way_out)
    target, had_mg = old, old.balance if old is not None else 0
    if old is not None:
        target = _refilled(work, old, row, cleaned=cleaned, blend=blend)
    note_opened(work, source, row)
    if target is None or target is not old:
        target = _child(work, source, row, mass_mg, tare_mg, where, blend_of=old if blend else None)
    ledger.move(work, kind=MovementKind.DECANT, source=source, target=target, amount=mass_mg, unit=Unit.MILLIGRAM)
    if target is old:
        _inherit(work, target, row)
    elif loaded.facts.clocks is not None:
        begin_with(work, [target], [loaded.facts.clocks, *_clocks_of_rest(work, loaded.material, old, had_mg)])
    settle_empty(work, source)
    if where is not None:
        settle_place(work, target, loaded.material, where, happened=happened)
    if burst is not None:
        raise_flag(work, target, "peroxide-not-vented", burst, stops=True, hold=True)
    return answered(work, target)


def _clocks_of_rest(work: Work, material: Material, old: Item | None, had_mg: int) -> Iterable[Clocks]:
    """How long what was in the old container has been out of the cold, if anything was."""
    if old is None or had_mg == 0:
        return ()
    return clocks_of({old.id: sheet_of(material)}, at=work.act.occurred_at).values()


def _refilled(work: Work, old: Item, source: Container, *, cleaned: bool, blend: bool) -> Item | None:
    """The container that takes the fill: the old one if the lot is the same, nothing if a new one has to be made."""
    row = Container.get_by_id(old.id)
    if row.lot_id == source.lot_id and not row.blend:
        if source.material.out_time and not blend and not (cleaned and old.balance == 0):
            raise SameLotOnly(
                f"What is in {old.code} and what comes to it have been out of the cold for different times.",
                way_out="Say blend: it gets a code of its own and begins with the most that either has used.",
            )
        if not source.material.out_time:
            return old
    if old.balance == 0 and cleaned:
        return None
    if blend:
        if row.material_id != source.material_id:
            raise SameLotOnly(
                "Only lots of the same material can be blended.", way_out="Decant into another container."
            )
        return None
    raise SameLotOnly(
        f"{old.code} holds another lot.",
        way_out="Decant into a new container, empty and clean this one first, or say blend: it gets a code of its own.",
        lot=Item.get_by_id(row.lot_id).code,
    )


def _child(
    work: Work,
    source: Item,
    row: Container,
    mass_mg: int,
    tare_mg: int | None,
    place: Item | None,
    blend_of: Item | None,
) -> Item:
    child = ledger.new_item(work, Kind.CONTAINER, name=source.name, state=State.OPEN, unit=Unit.MILLIGRAM, place=place)
    rest = Container.get_by_id(blend_of.id) if blend_of is not None else None
    parents = [d for d in (row.expires_on, rest.expires_on if rest else None) if d is not None]
    opened = [d for d in (row.opened_at, rest.opened_at if rest else None) if d is not None]
    Container.create(
        item=child,
        lot=row.lot_id,
        material=row.material_id,
        receipt=row.receipt_id,
        parent=row,
        number=1,
        of=1,
        net=mass_mg + (blend_of.balance if blend_of is not None else 0),
        tare_mg=tare_mg,
        expires_on=decant_expiry(own=None, parents=parents),
        opened_at=min(opened, default=work.act.occurred_at),
        blend=blend_of is not None,
    )
    inherit_stays(work, child, source)
    if blend_of is not None and blend_of.balance > 0:
        ledger.move(
            work,
            kind=MovementKind.DECANT,
            source=blend_of,
            target=child,
            amount=blend_of.balance,
            unit=Unit.MILLIGRAM,
        )
        settle_empty(work, blend_of)
    return child


def _inherit(work: Work, target: Item, source: Container) -> None:
    """A refilled container keeps the earlier date and the earlier opening of the two."""
    row = Container.get_by_id(target.id)
    dates = [d for d in (row.expires_on, source.expires_on) if d is not None]
    opened = [d for d in (row.opened_at, source.opened_at) if d is not None]
    Container.update(
        expires_on=decant_expiry(own=None, parents=dates), opened_at=min(opened, default=work.act.occurred_at)
    ).where(Container.item == target.id).execute()
    if target.state in (State.EMPTY, State.SEALED):
        ledger.set_state(work, target, State.OPEN)


@operation
def move_item(work: Work, *, code: str, place: str, happened: bool = False) -> ItemRef:
    """Move anything with a code to another place. Cold stock is left closed from leaving the cold until it is warm."""
    item = ledger.lock_one(work, code, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.PART, Kind.MOULD, Kind.SCALE)
    where = ledger.find(place, Kind.PLACE)
    came_from = item.place_id
    ledger.set_place(work, item, where)
    if item.kind == Kind.CONTAINER:
        material = Material.get_by_id(Container.get_by_id(item.id).material_id)
        settle_place(work, item, material, where, happened=happened)
        if material.warm_up_hours and leaves_the_cold(came_from, where.id, at=work.act.occurred_at):
            ready = work.act.occurred_at + timedelta(hours=material.warm_up_hours)
            Container.update(not_before=ready).where(Container.item == item.id).execute()
    return ref(item)


@operation
def scrap_container(work: Work, *, container: str, method: str, despite_reservation: bool = False) -> ContainerView:
    """Scrap a container with what is left in it. `method` says how it was made unusable; follow local waste rules."""
    item = ledger.lock_one(work, container, Kind.CONTAINER)
    if item.state == State.SCRAPPED:
        raise WrongState(f"{item.code} was scrapped already.")
    if item.balance > 0:
        leaving = Taken(item, load.container_of(item).material_id, item.balance)
        ask_if_reserved(work, [leaving], shares={}, despite=despite_reservation)
        ledger.move(work, kind=MovementKind.SCRAP, source=item, amount=item.balance, unit=Unit(known(item.unit)))
    ledger.set_state(work, item, State.SCRAPPED)
    work.note(container=item.code, scrapped=method)
    return answered(work, item)
