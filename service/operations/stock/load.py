"""The bulk loader behind fitness: all there is to know of any number of containers, in a fixed number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from peewee import JOIN, fn

from schemas.words import Decision, MaterialKind, MovementKind, State
from service.database import each, each_or_none, listed, looked_up, rows_of
from service.formulas.shelf_life import effective_expiry
from service.operations.door.shop import day_in_shop
from service.operations.ledger.graph import standing_holds
from service.operations.stock.fitness import Answer, Facts, Permitted, judge
from service.operations.stock.peroxides import alarms_of
from service.records.base import instant, microseconds
from service.records.items import Item, Permission
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
    stored = _stored(wanted, containers, at)
    alarms = alarms_of(containers.values())
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
            storage=stored[item.id],
            alarm=alarms.get(item.id),
            holds=tuple(holds[item.id]),
            permitted=tuple(permitted.get(item.id, ())) + tuple(permitted.get(lot.item_id, ())),
        )
        loaded.append(
            Loaded(item=item, container=container, lot=lot, lot_item=lot.known, material=material, facts=facts)
        )
    return loaded


def _containers(ids: list[int]) -> Any:
    """Containers with all that is told of them elsewhere: lot, arrival, material."""
    lot_items = Item.alias()
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
                ended_at=row.withdrawn_at or (row.signed_at if row.decision == Decision.REFUSED else None),
            )
        )
    return found


def _stored(items: list[Item], containers: dict[int, Container], at: datetime) -> dict[int, tuple[str, ...] | None]:
    """For each container: nothing where its place is not monitored, else what was outside the material's range there.

    Only readings since it came to the place count.
    """
    answer: dict[int, tuple[str, ...] | None] = {item.id: None for item in items}
    until = microseconds(at)
    rows = rows_of(_stored_text(), until, listed(answer), until, until) if answer else []
    for number, temperature_c, occurred_at in rows:
        material = containers[number].material
        answer[number] = ()
        if temperature_c is not None:
            answer[number] = (
                f"Stored at {temperature_c:g} °C on {instant(occurred_at):%-d %b %Y}; it keeps at "
                f"{material.storage_low_c:g} to {material.storage_high_c:g} °C.",
            )
    return answer


def _stored_text() -> str:
    """The monitored ones of some containers, each with the last reading outside its material's range, if there is one.

    The last reading of all is looked at first: where everything is outside, it is that one. Else those outside are
    found by their temperature; in a place that is kept as it should be they are few. The plus sign keeps both engines
    from going back through all of the history by its times instead.
    """
    came = (
        "coalesce((SELECT min(m.occurred_at) FROM movement m WHERE m.target_id = i.id"
        f" AND m.kind IN ('{MovementKind.PACKING}', '{MovementKind.DECANT}')), d.occurred_at)"
    )

    def newest(beyond: str) -> str:
        return (
            f"(SELECT r.id FROM storage_reading r WHERE r.place_id = t.place_id AND r.temperature_c {beyond}"
            " AND +r.occurred_at >= t.came AND +r.occurred_at <= ? ORDER BY +r.occurred_at DESC, r.id DESC LIMIT 1)"
        )

    last_outside = (
        "CASE WHEN l.occurred_at < t.came THEN NULL WHEN l.temperature_c < t.low OR l.temperature_c > t.high THEN l.id"
        f" ELSE (SELECT r.id FROM storage_reading r WHERE r.id IN ({newest('< t.low')}, {newest('> t.high')})"
        " ORDER BY r.occurred_at DESC, r.id DESC LIMIT 1) END"
    )
    return (
        "WITH there(id, place_id, low, high, came, last) AS (SELECT i.id, i.place_id, mt.storage_low_c,"
        f" mt.storage_high_c, {came}, (SELECT r.id FROM storage_reading r WHERE r.place_id = i.place_id"
        " AND r.occurred_at <= ? ORDER BY r.occurred_at DESC, r.id DESC LIMIT 1)"
        f" FROM {looked_up()} {each('item', 'i', 'i.id = given.id')} {each('container', 'c', 'c.item_id = i.id')}"
        f" JOIN material mt ON mt.id = c.material_id {each('deed', 'd', 'd.id = i.deed_id')}"
        " WHERE i.place_id IS NOT NULL AND mt.storage_low_c IS NOT NULL)"
        f" SELECT t.id, o.temperature_c, o.occurred_at FROM there t {each('storage_reading', 'l', 'l.id = t.last')}"
        f" {each_or_none('storage_reading', 'o', f'o.id = {last_outside}')}"
    )


def load_one(item: Item, *, at: datetime, site: Site, besides_mix: int | None = None) -> Loaded:
    return load([item], at=at, site=site, besides_mix=besides_mix)[0]
