"""A pot loaded once: its system, pours, fillers, plan; and what every act on a pot asks of it and changes in it.

An act loads its pot, and changes it here with what it writes, so that what follows from it, and the answer, are told
from the pot in hand. One loader serves one pot, a list of them and a report.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from peewee import JOIN

from schemas.words import Component, Kind, MovementKind, State
from service.formulas.clocks import LifePoint
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work
from service.operations.door.refusals import WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag, stands
from service.operations.ledger.undone_pours import undone
from service.operations.pots.system import life_points
from service.operations.stock.load import Loaded
from service.records.base import known
from service.records.items import Flag, Item, Movement
from service.records.journal import Deed, Document
from service.records.lookups import another, rows_among, rows_by
from service.records.materials import Container, Material, Scale, SystemHardener
from service.records.mixes import Closing, CupCheck, Mix, PlannedPour, Pour, Stirring
from service.records.people import Person

OPEN_STATES = (State.WEIGHING, State.RUNNING)
# The flag of a pot whose ratio its scale cannot prove, and the reason of its permit.
SMALL_POT = "scale-too-coarse"


@dataclass(frozen=True, slots=True)
class Named:
    """What the account of a pot calls by its code: a can with its lot and material, a scale with what it can show."""

    code: str
    name: str
    lot: str | None = None
    scale: Scale | None = None
    material: int | None = None
    kind: str | None = None

    @classmethod
    def can(cls, loaded: Loaded) -> "Named":
        """A can as a pot knows it."""
        item, material = loaded.item, loaded.material
        return cls(item.code, item.name, lot=loaded.lot_item.code, material=material.id, kind=material.kind)


@dataclass
class Pot:
    """A mix with its rows. `weighed` are all pours in the order in which they were weighed, each with its movement."""

    item: Item
    mix: Mix
    system: dict[str, Any]
    hardener: dict[str, Any]
    frozen_sha256: str
    started_by: str
    weighed: list[Pour] = field(default_factory=list)
    plans: list[PlannedPour] = field(default_factory=list)
    # What went in and out, and stands or was taken back.
    movements: list[Movement] = field(default_factory=list)
    stirrings: list[Stirring] = field(default_factory=list)
    named: dict[int, Named] = field(default_factory=dict)
    # Deed -> who did it.
    doers: dict[int, str] = field(default_factory=dict)

    @classmethod
    def of(cls, item: Item, mix: Mix, frozen: Document, hardener: int, *, started_by: str) -> "Pot":
        """A pot by its frozen system, and by the number of its hardener's material."""
        system = json.loads(bytes(frozen.content))
        own = next(h for h in system["hardeners"] if h["material"] == hardener)
        return cls(item, mix, system, own, frozen.sha256, started_by)

    @property
    def pours(self) -> list[Pour]:
        """Those that stand."""
        return [p for p in self.weighed if p.movement.cancelled_by_id is None]

    @property
    def fillers(self) -> list[Movement]:
        return self._moved(MovementKind.ADDITION)

    @property
    def applications(self) -> list[Movement]:
        return self._moved(MovementKind.APPLICATION)

    def _moved(self, kind: MovementKind) -> list[Movement]:
        return [m for m in self.movements if m.kind == kind and m.cancelled_by_id is None]

    @cached_property
    def flags(self) -> list[Flag]:
        """All flags on the pot; who raises one adds it here."""
        return rows_by(Flag, Flag.item, self.item.id)

    @property
    def settled(self) -> dict[int, str]:
        """Flags whose pour was taken back, each with a sentence."""
        return undone(self.flags, {self.item.id}) if any(p.movement.cancelled_by_id for p in self.weighed) else {}

    def flagged(self, flags: Iterable[Flag]) -> None:
        """Flags that were raised on the pot without asking it; they are here already if nobody has looked yet."""
        if "flags" in self.__dict__:
            self.flags.extend(flags)

    @cached_property
    def closing(self) -> Closing | None:
        """How it ended; a pot that is open has no closing that stands."""
        if self.item.state in OPEN_STATES:
            return None
        row: Closing | None = Closing.get_or_none((Closing.mix == self.item.id) & stands(Closing.deed))
        return row

    @cached_property
    def cup_checks(self) -> list[CupCheck]:
        query = CupCheck.select(CupCheck, called_then(Person, Deed.occurred_at).alias("by")).join(Deed).join(Person)
        rows = list(query.where((CupCheck.mix == self.item.id) & stands(CupCheck.deed)).order_by(CupCheck.id).objects())
        self.doers |= {row.deed_id: row.by for row in rows}
        return rows

    def scale(self, number: int) -> Scale:
        found = self.named[number].scale
        if found is None:
            raise LookupError(f"{self.named[number].code} is no scale")
        return found

    @property
    def strange(self) -> list[Pour]:
        """Pours of a material that is not of this recipe: with one of them in, ratio and pot life mean nothing."""
        return [p for p in self.pours if self.named[p.container_id].material not in self.materials]

    @property
    def materials(self) -> tuple[int, ...]:
        """What the recipe is made of."""
        promoter = (self.catalyst or {}).get("promoter")
        blended = [of["material"] for of in (self.blend or {}).get("of", ())]
        also = [promoter["material"]] if promoter is not None else blended
        return (self.system["resin"], self.hardener["material"], *also)

    @property
    def catalyst(self) -> dict[str, Any] | None:
        """What the data sheet says of the peroxide, where one starts the resin."""
        return self.hardener.get("catalyst")

    @property
    def blend(self) -> dict[str, Any] | None:
        """The hardeners that its hardener is blended from, where it is a blend."""
        return self.hardener.get("blend")

    def told(self, component: Component | str) -> Component:
        """A component as people call it: what stands where a hardener is, is a catalyst where it is a peroxide."""
        return Component.CATALYST if component == Component.HARDENER and self.catalyst else Component(component)

    def poured_mg(self, component: Component) -> int:
        return sum(known(p.movement.amount) for p in self.pours if p.component == component)

    @property
    def resin_mg(self) -> int:
        return self.poured_mg(Component.RESIN)

    @property
    def hardener_mg(self) -> int:
        return self.poured_mg(Component.HARDENER)

    @property
    def promoter_mg(self) -> int:
        return self.poured_mg(Component.PROMOTER)

    @property
    def total_mg(self) -> int:
        """Resin and hardener; fillers are judged apart."""
        return self.resin_mg + self.hardener_mg

    @property
    def both_in(self) -> bool:
        return self.resin_mg > 0 and self.hardener_mg > 0

    @property
    def open_plans(self) -> list[PlannedPour]:
        return [p for p in self.plans if p.settled_at is None]

    @property
    def cup_life(self) -> list[LifePoint]:
        return life_points(self.hardener["cup_life"])

    @property
    def shortest_life_min(self) -> float:
        """The shortest life that its table has."""
        table = self.hardener["cup_life"] if self.catalyst is None else self.catalyst["life"]
        return float(min(row["life_min"] for row in table))

    @property
    def tray_life(self) -> list[LifePoint]:
        return life_points(self.hardener["tray_life"])

    @property
    def film_life(self) -> list[LifePoint]:
        return life_points(self.hardener["film_life"])

    @property
    def life_uncertainty_pct(self) -> float:
        """How far its lives are known; a system that was frozen before it was asked for this has the usual 5 %."""
        return float(self.system.get("life_uncertainty_pct", 5.0))

    @property
    def largest_mg(self) -> int:
        return int(self.system["largest_pot_mg"])

    def last_on(self, scale: int, component: Component) -> Pour | None:
        """The last pour in the same cup on that scale: from its reading a running total goes on."""
        apart = self.mix.separate_cups
        same = [p for p in self.pours if p.scale_id == scale and (not apart or p.component == component)]
        # One that was poured back in part or corrected stands at its own time, not where it was written again.
        return max(reversed(same), key=lambda p: p.occurred_at, default=None)

    def standing_mg(self, scale: int, component: Component) -> int:
        """What that scale shows if nobody zeroed it since the last pour in that cup, with filler that went in since."""
        last = self.last_on(scale, component)
        if last is None:
            return 0
        since = [] if self.mix.separate_cups else [m for m in self.fillers if m.id > last.movement_id]
        return last.reading_mg + sum(known(m.amount) for m in since)


def load_pots(items: Iterable[Item]) -> dict[int, Pot]:
    """These pots, each with its rows, in a fixed number of statements; by the number of the item."""
    wanted = {item.id: item for item in items}
    ids = list(wanted)
    pots: dict[int, Pot] = {}
    systems: dict[int, dict[str, Any]] = {}
    for mix in _mixes(ids):
        system = systems.get(mix.frozen_id) or systems.setdefault(mix.frozen_id, json.loads(bytes(mix.content)))
        hardener = next(h for h in system["hardeners"] if h["material"] == mix.material)
        pots[mix.item_id] = Pot(wanted[mix.item_id], mix, system, hardener, mix.sha256, mix.started_by)
    if not pots:
        return pots
    moved: dict[int, Movement] = {}
    into_or_out = Movement.target.in_(ids) | Movement.source.in_(ids)
    for movement in Movement.select().where(into_or_out).order_by(Movement.id):
        moved[movement.id] = movement
        for number in {movement.source_id, movement.target_id} & pots.keys():
            pots[known(number)].movements.append(movement)
    for pour in _pours(ids):
        pour.movement = moved[pour.movement_id]
        pots[pour.mix_id].weighed.append(pour)
        pots[pour.mix_id].doers[pour.deed_id] = pour.by
    for plan in rows_among(PlannedPour, PlannedPour.mix, ids):
        pots[plan.mix_id].plans.append(plan)
    stirred = Stirring.select().where(Stirring.mix.in_(ids) & stands(Stirring.deed)).order_by(Stirring.id)
    for stirring in stirred:
        pots[stirring.mix_id].stirrings.append(stirring)
    named = names_of(set().union(*(_mentioned(pot) for pot in pots.values())))
    for pot in pots.values():
        pot.named = dict(named)
    return pots


def _mixes(ids: list[int]) -> Iterable[Any]:
    return (
        Mix.select(
            Mix,
            SystemHardener.material.alias("material"),
            Document.sha256.alias("sha256"),
            Document.content.alias("content"),
            called_then(Person, Deed.occurred_at).alias("started_by"),
        )
        .join(SystemHardener)
        .switch(Mix)
        .join(Document)
        .switch(Mix)
        .join(Item)
        .join(Deed, on=(Deed.id == Item.deed))
        .join(Person)
        .where(Mix.item.in_(ids))
        .objects()
    )


def _pours(ids: list[int]) -> Iterable[Any]:
    query = Pour.select(Pour, called_then(Person, Deed.occurred_at).alias("by")).join(Deed).join(Person)
    return query.where(Pour.mix.in_(ids)).order_by(Pour.id).objects()


def _mentioned(pot: Pot) -> set[int]:
    """Numbers of everything that the account of a pot names."""
    weighed = {number for row in pot.weighed for number in (row.container_id, row.scale_id)}
    moved = {known(m.source_id) for m in pot.fillers} | {known(m.target_id) for m in pot.applications}
    plan: dict[str, Any] = pot.mix.plan or {}
    scales: set[int] = {plan[name] for name in ("scale", "hardener_scale", "promoter_scale") if name in plan}
    return weighed | moved | scales | {p.container_id for p in pot.plans}


def names_of(numbers: Iterable[int]) -> dict[int, Named]:
    """What these items are called; of cans the lot, of scales what they can show."""
    lots = another(Item, "lots")
    rows = (
        Item.select(
            Item.id,
            Item.code,
            Item.name,
            lots.code.alias("lot"),
            Material.id.alias("material"),
            Material.kind.alias("what"),
            Scale,
        )
        .join(Scale, JOIN.LEFT_OUTER, on=(Scale.item == Item.id))
        .switch(Item)
        .join(Container, JOIN.LEFT_OUTER, on=(Container.item == Item.id))
        .join(lots, JOIN.LEFT_OUTER, on=(lots.id == Container.lot))
        .switch(Container)
        .join(Material, JOIN.LEFT_OUTER, on=(Material.id == Container.material))
        .where(Item.id.in_(list(numbers)))
        .dicts()
    )
    columns = [f.name for f in Scale._meta.sorted_fields]
    return {
        row["id"]: Named(
            code=row["code"],
            name=row["name"],
            lot=row["lot"],
            material=row["material"],
            kind=row["what"],
            scale=Scale(**{name: row[name] for name in columns}) if row["item"] is not None else None,
        )
        for row in rows
    }


def load_pot(item: Item) -> Pot:
    return load_pots([item])[item.id]


def find_pot(code: str) -> Pot:
    return load_pot(ledger.find(code, Kind.MIX))


def require_open(item: Item) -> None:
    """A pot that was closed has its account; what was forgotten is set right by correcting the closing."""
    if item.state not in OPEN_STATES:
        raise WrongState(
            f"{item.code} is {item.state}.",
            way_out="If something was forgotten, correct the entry that closed it first.",
        )


def flag_once(
    work: Work,
    pot: Pot,
    kind: str,
    sentence: str,
    *,
    stops: bool,
    hold: bool = False,
    about: str | None = None,
    permission: int | None = None,
    **facts: Any,
) -> None:
    """Flag a pot for a reason once, or once for each thing that it is about: the same fact twice is not two faults."""
    settled = pot.settled
    if any(f.kind == kind and f.facts.get("about") == about and f.id not in settled for f in pot.flags):
        return
    if about is not None:
        facts["about"] = about
    pot.flags.append(raise_flag(work, pot.item, kind, sentence, stops=stops, hold=hold, permission=permission, **facts))


def settle_plans(work: Work, pot: Pot, *, container: int | None = None, component: Component | None = None) -> None:
    """Give back what was reserved: in one container, of one component, or all of it."""
    settled: list[Any] = [
        p for p in pot.open_plans if container in (None, p.container_id) and component in (None, Component(p.component))
    ]
    if settled:
        numbers = [p.id for p in settled]
        PlannedPour.update(settled_at=work.act.occurred_at).where(PlannedPour.id.in_(numbers)).execute()
    for plan in settled:
        plan.settled_at = work.act.occurred_at


def update_mix(work: Work, pot: Pot, **columns: Any) -> None:
    """Set cached columns of a pot; its version rises so that a reader sees it."""
    Mix.update(**columns).where(Mix.item == pot.item.id).execute()
    for name, value in columns.items():
        setattr(pot.mix, name, value)
    work.carry(pot.item)


def minutes_between(earlier: datetime, later: datetime) -> float:
    return (later - earlier).total_seconds() / 60
