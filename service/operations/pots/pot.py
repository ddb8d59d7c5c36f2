"""A pot loaded once: its system, pours, fillers, plan; and what every act on a pot asks of it."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import Component, Kind, MovementKind, State
from service.formulas.clocks import LifePoint
from service.formulas.ratio import hardener_target_g, resin_target_g, split_total
from service.operations.door.operation import Work
from service.operations.door.refusals import PotTooLarge, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag, stands
from service.operations.pots.systems import life_points
from service.records.base import known
from service.records.items import Flag, Item, Movement
from service.records.lookups import rows_by
from service.records.materials import ResinSystem, Scale
from service.records.mixes import Mix, PlannedPour, Pour, Stirring

OPEN_STATES = (State.WEIGHING, State.RUNNING)


@dataclass(frozen=True, slots=True)
class Pot:
    """A mix with its rows. `pours` are those that stand, in the order in which they were weighed."""

    item: Item
    mix: Mix
    system: dict[str, Any]
    hardener: dict[str, Any]
    pours: tuple[Pour, ...]
    taken_back: tuple[Pour, ...]
    plans: tuple[PlannedPour, ...]
    fillers: tuple[Movement, ...]
    applications: tuple[Movement, ...]
    stirrings: tuple[Stirring, ...]

    def poured_mg(self, component: Component) -> int:
        return sum(known(p.movement.amount) for p in self.pours if p.component == component)

    @property
    def resin_mg(self) -> int:
        return self.poured_mg(Component.RESIN)

    @property
    def hardener_mg(self) -> int:
        return self.poured_mg(Component.HARDENER)

    @property
    def total_mg(self) -> int:
        """Resin and hardener; fillers are judged apart."""
        return self.resin_mg + self.hardener_mg

    @property
    def both_in(self) -> bool:
        return self.resin_mg > 0 and self.hardener_mg > 0

    @property
    def open_plans(self) -> tuple[PlannedPour, ...]:
        return tuple(p for p in self.plans if p.settled_at is None)

    @property
    def cup_life(self) -> list[LifePoint]:
        return life_points(self.hardener["cup_life"])

    @property
    def tray_life(self) -> list[LifePoint]:
        return life_points(self.hardener["tray_life"])

    @property
    def film_life(self) -> list[LifePoint]:
        return life_points(self.hardener["film_life"])

    @property
    def largest_mg(self) -> int:
        return int(self.system["largest_pot_mg"])

    def last_on(self, scale: Scale | int, component: Component) -> Pour | None:
        """The last pour in the same cup on that scale: from its reading a running total goes on."""
        number = scale if isinstance(scale, int) else scale.item_id
        same = [
            p for p in self.pours if p.scale_id == number and (not self.mix.separate_cups or p.component == component)
        ]
        return same[-1] if same else None


def load_pot(item: Item) -> Pot:
    mix = Mix.get_by_id(item.id)
    system = json.loads(bytes(mix.frozen.content))
    into = {m.id: m for m in rows_by(Movement, Movement.target, item.id)}
    movements = [m for m in (*into.values(), *rows_by(Movement, Movement.source, item.id)) if m.cancelled_by_id is None]
    pours = rows_by(Pour, Pour.mix, item.id)
    for pour in pours:
        pour.movement = into[pour.movement_id]
    material = mix.hardener.material_id
    return Pot(
        item=item,
        mix=mix,
        system=system,
        hardener=next(h for h in system["hardeners"] if h["material"] == material),
        pours=tuple(p for p in pours if p.movement.cancelled_by_id is None),
        taken_back=tuple(p for p in pours if p.movement.cancelled_by_id is not None),
        plans=tuple(rows_by(PlannedPour, PlannedPour.mix, item.id)),
        fillers=tuple(m for m in movements if m.kind == MovementKind.ADDITION),
        applications=tuple(m for m in movements if m.kind == MovementKind.APPLICATION),
        stirrings=_stirrings(item),
    )


def _stirrings(item: Item) -> tuple[Stirring, ...]:
    if not rows_by(Stirring, Stirring.mix, item.id):
        return ()
    return tuple(Stirring.select().where((Stirring.mix == item.id) & stands(Stirring.deed)).order_by(Stirring.id))


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
    item: Item,
    kind: str,
    sentence: str,
    *,
    stops: bool,
    hold: bool = False,
    about: str | None = None,
    **facts: Any,
) -> None:
    """Flag a pot for a reason once, or once for each thing that it is about: the same fact twice is not two faults."""
    known = Flag.select().where((Flag.item == item.id) & (Flag.kind == kind))
    if any(flag.facts.get("about") == about for flag in known):
        return
    if about is not None:
        facts["about"] = about
    raise_flag(work, item, kind, sentence, stops=stops, hold=hold, **facts)


def settle_plans(work: Work, pot: Pot, *, container: int | None = None) -> None:
    """Give back what was reserved, in one container or in all of them."""
    for plan in pot.open_plans:
        if container is None or plan.container_id == container:
            PlannedPour.update(settled_at=work.act.occurred_at).where(PlannedPour.id == plan.id).execute()


def update_mix(work: Work, item: Item, **columns: Any) -> None:
    """Set cached columns of a pot; its version rises so that a reader sees it."""
    Mix.update(**columns).where(Mix.item == item.id).execute()
    work.carry(item)


def minutes_between(earlier: datetime, later: datetime) -> float:
    return (later - earlier).total_seconds() / 60


def percent(value: float) -> str:
    return f"{value:+.1f} %" if abs(value) >= 0.05 else "0.0 %"


def grams(mg: int) -> str:
    """Grams with the decimals that the book has, and no more."""
    return f"{mg / 1000:.3f}".rstrip("0").rstrip(".") + " g"


def pot_size(
    row: ResinSystem, ratio: float, *, total_mg: int | None, resin_mg: int | None, hardener_mg: int | None
) -> dict[Component, int]:
    """Resin and hardener of a pot that was asked for by its total, its resin, or the hardener that is left."""
    if sum(given is not None for given in (total_mg, resin_mg, hardener_mg)) != 1:
        raise Unprocessable("Give total_g, resin_g or hardener_g, one of the three.", pointer="/total_g")
    if total_mg is not None:
        resin_mg = round(split_total(total_g=total_mg / 1000, ratio=ratio).resin_g * 1000)
        hardener_mg = total_mg - resin_mg
    elif resin_mg is not None:
        hardener_mg = round(hardener_target_g(resin_g=resin_mg / 1000, ratio=ratio) * 1000)
    resin_mg = resin_mg or round(resin_target_g(hardener_g=(hardener_mg or 0) / 1000, ratio=ratio) * 1000)
    hardener_mg = hardener_mg or 0
    if resin_mg < 1 or hardener_mg < 1:
        raise Unprocessable(
            "So small a pot cannot be weighed: a component would be under a milligram.", pointer="/total_g"
        )
    total = resin_mg + hardener_mg
    if total > row.largest_pot_mg:
        pots = -(-total // row.largest_pot_mg)
        raise PotTooLarge(
            f"{grams(total)} is more than the largest pot of {row.name}, {grams(row.largest_pot_mg)}.",
            way_out=f"Mix {pots} pots of {grams(-(-total // pots))}, one after the other.",
            largest_g=row.largest_pot_mg / 1000,
            pots=pots,
        )
    return {Component.RESIN: resin_mg, Component.HARDENER: hardener_mg}
