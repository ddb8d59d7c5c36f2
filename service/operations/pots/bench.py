"""Cans and pots as the person at the scales needs them: may I use this, what goes with it, what is there instead."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from schemas.words import Component, ContainerState, Fitness, Kind
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.operations.ledger.trace import Look
from service.operations.pots.pot import OPEN_STATES, find_pot
from service.operations.pots.scale import able_scales
from service.operations.pots.view import MixView, view_pot
from service.operations.stock import load
from service.operations.stock.containers import ContainerView, view_container
from service.operations.stock.picking import fit_containers
from service.records.base import as_word, known
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Material, ResinSystem, SystemHardener
from service.records.mixes import Mix, PlannedPour

# More than these nobody at a bench chooses from.
_CHOICES = 3


@dataclass(frozen=True, slots=True)
class Partner:
    """What a material is mixed with, by one approved resin system.

    Attributes
    ----------
    component
        What the material that was asked about is in it.
    parts_by_weight
        Grams of hardener to 100 g of resin.
    """

    system: int
    system_name: str
    component: Component
    hardener: int
    name: str
    parts_by_weight: float
    largest_pot_mg: int


@dataclass(frozen=True, slots=True)
class Choice:
    """A can to take: where it stands, and what is left in it."""

    code: str
    name: str
    left_mg: int
    unit: str
    sealed: bool
    place: str | None


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A scale on which a pot can be started now."""

    code: str
    name: str
    step_mg: int
    maximum_mg: int


@dataclass(frozen=True, slots=True)
class PotAtBench:
    """A pot with the names of the cans that it speaks of, and the steps of its scales."""

    pot: MixView
    names: dict[str, str]
    steps_mg: dict[str, int]


@dataclass(frozen=True, slots=True)
class CanAtBench:
    """A can, and all that is asked about it before it is poured from.

    Attributes
    ----------
    goes_with
        What its material is mixed with, system by system.
    instead
        Fit cans of the same material, first expired first, where this one is not fit.
    pots
        Pots that mean to take of it and are still open.
    parts
        How many parts were made of it already.
    """

    can: ContainerView
    goes_with: tuple[Partner, ...]
    instead: tuple[Choice, ...]
    pots: tuple[str, ...]
    parts: int


def can_at_bench(container: str, *, at: datetime) -> CanAtBench:
    """A can that was scanned, with what it goes with, how much hangs on it, and what to take instead of it."""
    item = ledger.find(container, Kind.CONTAINER)
    site = the_site()
    loaded = load.load_one(item, at=at, site=site)
    answer = loaded.judged(at=at, site=site)
    instead: tuple[Choice, ...] = ()
    if answer.answer != Fitness.FIT:
        fit = fit_containers(loaded.material.id, at=at, site=site)
        instead = choices([one for one in fit if one.item.id != item.id][:_CHOICES])
    return CanAtBench(
        can=view_container(loaded, answer, instead=[one.code for one in instead]),
        goes_with=partners(loaded.material.id),
        instead=instead,
        pots=_open_pots(item),
        parts=Look.at(item.id, back=False).counts().get("part", 0),
    )


def scales_at_bench(*, at: datetime) -> tuple[ScaleChoice, ...]:
    """The scales on which a pot can be started now."""
    able = able_scales(at=at, site=the_site())
    return tuple(ScaleChoice(item.code, item.name, row.interval_mg, row.maximum_mg) for item, row in able)


def pot_at_bench(mix: str, *, at: datetime) -> PotAtBench:
    """A pot as the person at the scales needs it."""
    pot = find_pot(mix)
    view = view_pot(pot, at=at, site=the_site())
    return PotAtBench(
        pot=view,
        names={named.code: named.name for named in pot.named.values()},
        steps_mg={named.code: named.scale.interval_mg for named in pot.named.values() if named.scale is not None},
    )


def choices(loaded: Iterable[load.Loaded]) -> tuple[Choice, ...]:
    """Cans to choose from, with the places where they stand."""
    rows = list(loaded)
    places = {p.id: p.name for p in rows_among(Item, Item.id, {r.item.place_id for r in rows if r.item.place_id})}
    return tuple(
        Choice(
            code=r.item.code,
            name=r.material.name,
            left_mg=r.item.balance,
            unit=known(r.item.unit),
            sealed=as_word(ContainerState, r.item.state) == ContainerState.SEALED,
            place=places.get(r.item.place_id or 0),
        )
        for r in rows
    )


def partners(material: int) -> tuple[Partner, ...]:
    """What a material is mixed with, by the resin systems that are approved and not replaced."""
    rows = list(
        SystemHardener.select(SystemHardener, ResinSystem)
        .join(ResinSystem)
        .where(
            ((ResinSystem.resin == material) | (SystemHardener.material == material))
            & ResinSystem.approved_at.is_null(False)
            & ResinSystem.replaced_by.is_null()
        )
        .order_by(ResinSystem.name, SystemHardener.id)
    )
    numbers = {number for row in rows for number in (row.system.resin_id, row.material_id)}
    names = {m.id: m.name for m in rows_among(Material, Material.id, numbers)}
    return tuple(_partner(row, material, names) for row in rows)


def _partner(row: SystemHardener, material: int, names: Mapping[int, str]) -> Partner:
    is_resin = row.system.resin_id == material
    other = row.material_id if is_resin else row.system.resin_id
    return Partner(
        system=row.system_id,
        system_name=row.system.name,
        component=Component.RESIN if is_resin else Component.HARDENER,
        hardener=row.material_id,
        name=names[other],
        parts_by_weight=row.parts_by_weight,
        largest_pot_mg=row.system.largest_pot_mg,
    )


def _open_pots(can: Item) -> tuple[str, ...]:
    rows = (
        Item.select(Item.id, Item.code)
        .join(Mix, on=(Mix.item == Item.id))
        .join(PlannedPour, on=(PlannedPour.mix == Mix.item))
        .where((PlannedPour.container == can.id) & Item.state.in_(OPEN_STATES))
        .order_by(Item.id.desc())
        .distinct()
        .limit(_CHOICES)
    )
    return tuple(row.code for row in rows)
