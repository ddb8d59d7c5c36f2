"""The bulk loader behind fitness: all there is to know of any number of containers, in a fixed number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from peewee import JOIN, fn

from schemas.words import Decision, MaterialKind, State
from service.formulas.shelf_life import effective_expiry
from service.operations.door.shop import day_in_shop
from service.operations.ledger.graph import standing_holds
from service.operations.stock.fitness import Answer, Facts, Permitted, judge
from service.operations.stock.out_time import clocks_of, sheet_of
from service.operations.stock.peroxides import alarms_of
from service.operations.stock.storage import range_of, stored
from service.records.items import Item, Permission
from service.records.lookups import another
from service.records.materials import Container, Lot, Material, Receipt
from service.records.mixes import PlannedPour
from service.records.people import Site


class GoodBecause(StrEnum):
    """Which of its dates a container goes by."""

    SUPPLIER = "supplier"
    RETEST = "retest"
    OPENED = "opened"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Loaded:
    """A container with its rows and its facts."""

    item: Item
    container: Container
    lot: Lot
    lot_item: Item
    material: Material
    facts: Facts

    def judged(self, *, at: datetime, site: Site, wanted: frozenset[MaterialKind] | None = None) -> Answer:
        return judge(self.facts, at=at, today=day_in_shop(at, site), wanted=wanted)


def load(items: Iterable[Item], *, at: datetime, site: Site, besides_mix: int | None = None) -> list[Loaded]:
    """Facts of these containers at ``at``. ``besides_mix`` leaves out what that pot itself has reserved."""
    wanted = list(items)
    ids = [item.id for item in wanted]
    containers = {row.item_id: row for row in _containers(ids)}
    holds = standing_holds(ids, at=at)
    reserved = _reserved(ids, besides_mix)
    permitted = _permitted([*ids, *{row.lot_id for row in containers.values()}])
    alarms = alarms_of(containers.values())
    sheets = {number: sheet_of(row.material) for number, row in containers.items()}
    clocks = clocks_of(sheets, at=at)
    # What a prepreg is out of the cold its two clocks count; that is no storage out of range.
    ranges = {number: range_of(row.material) if sheets[number] is None else None for number, row in containers.items()}
    told = stored(ranges, at=at)
    loaded = []
    for item in wanted:
        container = containers[item.id]
        lot, material = container.lot, container.material
        arrived = container.receipt_id is not None and container.receipt.released_in_id is not None
        opened_on = day_in_shop(container.opened_at, site) if container.opened_at else None
        expiry = effective_expiry(
            expires_on=container.expires_on,
            retest_on=lot.retest_on,
            opened_on=opened_on,
            opened_life_days=material.opened_life_days,
        )
        facts = Facts(
            code=item.code,
            state=State(item.state),
            lot_state=_arrival_state(lot.known, arrived),
            lot_known=lot.makers_lot is not None,
            material=material.name,
            material_kind=MaterialKind(material.kind),
            balance=item.balance,
            reserved=reserved.get(item.id, 0),
            good_until=expiry.on,
            good_because=expiry.because,
            zone=site.zone,
            opened_on=opened_on,
            opened_life_days=material.opened_life_days,
            not_before=container.not_before,
            alarm=alarms.get(item.id),
            keeps=ranges[item.id],
            clocks=clocks.get(item.id),
            storage=told[item.id],
            holds=tuple(holds[item.id]),
            permitted=tuple(permitted.get(item.id, ())) + tuple(permitted.get(lot.item_id, ())),
        )
        loaded.append(
            Loaded(item=item, container=container, lot=lot, lot_item=lot.known, material=material, facts=facts)
        )
    return loaded


def _containers(ids: list[int]) -> Any:
    """Containers with all that is told of them elsewhere: lot, arrival, material."""
    lot_items = another(Item, "lot_items")
    return (
        Container.select(Container, Lot, lot_items, Material, Receipt.id, Receipt.released_in)
        .join(Lot)
        .join(lot_items, on=(lot_items.id == Lot.item), attr="known")
        .switch(Container)
        .join(Material)
        .switch(Container)
        .join(Receipt, JOIN.LEFT_OUTER)
        .where(Container.item.in_(ids))
    )


def container_of(item: Item) -> Container:
    """The row of a container, with its material."""
    query = Container.select(Container, Material).join(Material)
    row: Container = query.where(Container.item == item.id).get()
    return row


def _arrival_state(lot: Item, arrival_released: bool) -> State:
    """A rejected lot is rejected whole; else each arrival is released on its own."""
    if lot.state == State.REJECTED:
        return State.REJECTED
    return State.RELEASED if arrival_released else State.QUARANTINE


def _reserved(ids: list[int], besides_mix: int | None) -> dict[int, int]:
    query = (
        PlannedPour.select(PlannedPour.container, fn.SUM(PlannedPour.amount_mg))
        .where(PlannedPour.container.in_(ids) & PlannedPour.settled_at.is_null())
        .group_by(PlannedPour.container)
    )
    if besides_mix is not None:
        query = query.where(PlannedPour.mix != besides_mix)
    return {container: int(amount) for container, amount in query.tuples()}


def _permitted(ids: list[int]) -> dict[int, list[Permitted]]:
    found: dict[int, list[Permitted]] = {}
    for row in Permission.select().where(Permission.item.in_(ids)).order_by(Permission.id):
        found.setdefault(row.item_id, []).append(
            Permitted(
                id=row.id,
                reasons=frozenset(row.reasons),
                decision=Decision(row.decision),
                until=row.until,
                asked_at=row.asked_at,
                signed_at=row.signed_at,
                ended_at=row.withdrawn_at or (row.signed_at if row.decision == Decision.REFUSED else None),
            )
        )
    return found


def load_one(item: Item, *, at: datetime, site: Site, besides_mix: int | None = None) -> Loaded:
    return load([item], at=at, site=site, besides_mix=besides_mix)[0]
