"""Cans and pots as the person at the scales needs them: may I use this, what goes with it, what is there instead."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from schemas.words import PARTS_OF_A_RATIO, Component, ContainerState, Fitness, Kind, ScaleForm
from service.operations.door.refusals import Unprocessable
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.operations.ledger.trace import Look
from service.operations.pots.belonging import component_of
from service.operations.pots.pot import OPEN_STATES, Pot, find_pot, minutes_between
from service.operations.pots.pump_start import planned_strokes
from service.operations.pots.receiving import newest_received
from service.operations.pots.scale import able_scales, reading_u_g
from service.operations.pots.targets import wanted_mg
from service.operations.pots.view import MixView, stirring_counts_from, view_pot
from service.operations.stock import load
from service.operations.stock.containers import ContainerView, view_container
from service.operations.stock.picking import fit_containers
from service.records.base import as_word, known
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.materials import Material, ResinSystem, SystemHardener
from service.records.mixes import Mix, PlannedPour

# Less than this does not show in minutes of one decimal.
_CUT_IS_SEEN_MIN = 0.05

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
    scanned
        What is scanned with it for the start: of a peroxide that needs a promoter that one, for it goes in first.
    doses
        Of a peroxide: its lines by the resin's temperature, in words.
    """

    system: int
    system_name: str
    component: Component
    hardener: int
    name: str
    parts_by_weight: float
    largest_pot_mg: int
    scanned: str
    doses: tuple[str, ...] = ()


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
    """What a component can be measured on now; of a graduated measure, a milligram is a microlitre."""

    code: str
    name: str
    form: ScaleForm
    step_mg: int
    maximum_mg: int


@dataclass(frozen=True, slots=True)
class Following:
    """What the hardener follows from once the resin is known, for a page whose network is away in between.

    Attributes
    ----------
    resin_u_g, hardener_u_g
        Standard uncertainty of a reading of either scale: the limits are those that the scales can prove.
    zeroed
        Whether the limits hold for a scale that is zeroed before the hardener, as they do on two scales.
    same_scale
        Whether both are weighed on one scale, which stands at the resin if nobody zeroes it.
    """

    container: str
    scale: str
    ratio: float
    resin_u_g: float
    hardener_u_g: float
    zeroed: bool
    same_scale: bool


@dataclass(frozen=True, slots=True)
class PotAtBench:
    """A pot with the names of the cans that it speaks of, and what its scales can show.

    Attributes
    ----------
    target_ml
        Where the next number is read off a graduated measure: its volume, by the density of the material.
    strokes
        Where a pump gives it: how many of resin and of hardener.
    sent_before
        What the scale of the next number has handed over last; none if nothing beside it hands readings over.
    following
        What comes after the next number; none but before the first pour of a pot of two cans.
    stirring_from
        What was stirred before does not count; none while a component is missing.
    stirring_cut
        How much of what was told last does not count, in a sentence; none if all of it does.
    """

    pot: MixView
    names: dict[str, str]
    steps_mg: dict[str, int]
    forms: dict[str, ScaleForm]
    target_ml: float | None
    strokes: tuple[int, int] | None
    sent_before: int | None
    following: Following | None
    stirring_from: datetime | None
    stirring_cut: str | None


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


@dataclass(frozen=True, slots=True)
class OtherCan:
    """A can that was scanned at a pot which is being weighed: may it be poured from, and how much?

    Attributes
    ----------
    strange
        Why it does not belong to this pot, if it does not.
    scale
        On which the pot's component is weighed.
    """

    seen: CanAtBench
    strange: str | None
    target_mg: int | None
    scale: str
    step_mg: int


def can_at_bench(container: str, *, at: datetime) -> CanAtBench:
    """A can that was scanned, with what it goes with, how much hangs on it, and what to take instead of it."""
    return _can_at_bench(ledger.find(container, Kind.CONTAINER), at=at)[0]


def _can_at_bench(item: Item, *, at: datetime) -> tuple[CanAtBench, load.Loaded]:
    site = the_site()
    loaded = load.load_one(item, at=at, site=site)
    answer = loaded.judged(at=at, site=site)
    instead: tuple[Choice, ...] = ()
    if answer.answer != Fitness.FIT:
        fit = fit_containers(loaded.material.id, at=at, site=site)
        instead = choices([one for one in fit if one.item.id != item.id][:_CHOICES])
    seen = CanAtBench(
        can=view_container(loaded, answer, instead=[one.code for one in instead]),
        goes_with=partners(loaded.material.id),
        instead=instead,
        pots=_open_pots(item),
        parts=Look.at(item.id, back=False).counts().get("part", 0),
    )
    return seen, loaded


def scales_at_bench(*, at: datetime) -> tuple[ScaleChoice, ...]:
    """The scales, measures and pumps with which a pot can be started now."""
    able = able_scales(at=at, site=the_site(), forms=tuple(ScaleForm))
    return tuple(
        ScaleChoice(item.code, item.name, as_word(ScaleForm, row.form), row.interval_mg, row.maximum_mg)
        for item, row in able
    )


def pot_at_bench(mix: str, *, at: datetime) -> PotAtBench:
    """A pot as the person at the scales needs it."""
    pot = find_pot(mix)
    view = view_pot(pot, at=at, site=the_site())
    scales = {named.code: named.scale for named in pot.named.values() if named.scale is not None}
    return PotAtBench(
        pot=view,
        names={named.code: named.name for named in pot.named.values()},
        steps_mg={code: row.interval_mg for code, row in scales.items()},
        forms={code: as_word(ScaleForm, row.form) for code, row in scales.items()},
        target_ml=_target_ml(pot, view),
        strokes=_strokes(pot, view),
        sent_before=_sent_before(pot, view, at=at),
        following=_following(pot, view),
        stirring_from=stirring_counts_from(pot),
        stirring_cut=_stirring_cut(pot),
    )


def _stirring_cut(pot: Pot) -> str | None:
    """Of the newest stirring that was told after the last pour: what lay before that pour stirred no mix."""
    begun, told = stirring_counts_from(pot), max(pot.stirrings, key=lambda s: s.deed_id, default=None)
    if begun is None or told is None or told.deed_id < max(p.deed_id for p in pot.pours):
        return None
    whole = minutes_between(told.started_at, told.ended_at)
    counted = max(0.0, minutes_between(max(told.started_at, begun), told.ended_at))
    if whole - counted < _CUT_IS_SEEN_MIN:
        return None
    return f"Of the {whole:.1f} min told, only {counted:.1f} min since the last pour count."


def _following(pot: Pot, view: MixView) -> Following | None:
    """The pot's ratio as what follows the first pour, where nothing else decides what that is."""
    plans = {plan.component: plan for plan in pot.open_plans}
    if view.next is None or pot.pours or view.separate_cups or view.peroxide is not None:
        return None
    if set(plans) != set(PARTS_OF_A_RATIO) or len(pot.open_plans) != len(plans):
        return None
    resin, hardener = pot.mix.plan["scale"], pot.mix.plan["hardener_scale"]
    if any(pot.scale(number).form != ScaleForm.SCALE for number in (resin, hardener)):
        return None
    return Following(
        container=pot.named[plans[Component.HARDENER].container_id].code,
        scale=pot.named[hardener].code,
        ratio=pot.mix.ratio,
        resin_u_g=reading_u_g(pot.scale(resin)),
        hardener_u_g=reading_u_g(pot.scale(hardener)),
        zeroed=bool(pot.mix.plan["zeroed"]) or resin != hardener,
        same_scale=resin == hardener,
    )


def can_at_pot(mix: str, container: str, *, at: datetime) -> OtherCan:
    """A can that was scanned in mid-weighing, asked about before it is poured from: fit, and of this recipe?"""
    pot, item = find_pot(mix), ledger.find(container, Kind.CONTAINER)
    seen, loaded = _can_at_bench(item, at=at)
    try:
        component, strange = component_of(pot, item, loaded.material)
    except Unprocessable as no:
        component, strange = Component.RESIN, no.sentence
    on = pot.mix.plan["scale" if component == Component.RESIN else "hardener_scale"]
    return OtherCan(
        seen=seen,
        strange=strange,
        target_mg=None if strange else wanted_mg(pot, component, item.id, correction=False),
        scale=pot.named[on].code,
        step_mg=pot.scale(on).interval_mg,
    )


def _target_ml(pot: Pot, view: MixView) -> float | None:
    wanted = view.next
    on = None if wanted is None else next(n.scale for n in pot.named.values() if n.code == wanted.scale)
    if wanted is None or on is None or on.form != ScaleForm.MEASURE:
        return None
    can = next(n for n in pot.named.values() if n.code == wanted.container)
    density = None if can.material is None else Material.get_by_id(can.material).density_g_ml
    return None if density is None else wanted.target_mg / 1000 / density


def _sent_before(pot: Pot, view: MixView, *, at: datetime) -> int | None:
    wanted = view.next.scale if view.next is not None else view.pours[-1].scale if view.correction is not None else None
    number = next((number for number, named in pot.named.items() if named.code == wanted), None)
    return None if number is None else newest_received(number, at=at)


def _strokes(pot: Pot, view: MixView) -> tuple[int, int] | None:
    shots, plan = pot.mix.plan.get("pump"), pot.mix.plan
    if shots is None or view.next is None:
        return None
    wanted = planned_strokes(shots, plan["resin_mg"], plan["hardener_mg"])
    return wanted.resin, wanted.hardener


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
    catalyst = row.catalyst or {}
    promoter = catalyst.get("promoter")
    return Partner(
        system=row.system_id,
        system_name=row.system.name,
        component=Component.RESIN if is_resin else Component.HARDENER,
        hardener=row.material_id,
        name=names[other],
        parts_by_weight=row.parts_by_weight,
        largest_pot_mg=row.system.largest_pot_mg,
        scanned=names[other] if promoter is None or not is_resin else promoter["name"],
        doses=tuple(_dose_in_words(line) for line in catalyst.get("doses", ())),
    )


def _dose_in_words(line: Mapping[str, float]) -> str:
    return (
        f"{line['target_pct']:g} % at {line['temperature_from_c']:g} to {line['temperature_to_c']:g} °C "
        f"({line['lowest_pct']:g} to {line['highest_pct']:g} %)"
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
