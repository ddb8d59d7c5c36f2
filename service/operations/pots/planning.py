"""What the shelf can give: what is fit, which pot can be built from which cans, and how many pots a job takes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from schemas.words import Component, ContainerState, Kind, Unit
from service.formulas._draws import draws_for_equal_pots
from service.formulas.catalysts import PercentPoint, dose_life
from service.formulas.peroxides import DoseRow, dose_at
from service.formulas.planner import Can, PotPlan, largest_workable_pot_g, plan_pots
from service.formulas.ratio import split_total
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.operations.ledger.amounts import counted_in, grams
from service.operations.pots.catalysts import tolerance_of
from service.operations.pots.scale import able_scales, load_scales, require_able, smallest_honest_g, up_to_mg
from service.operations.pots.system import HardenerView, SystemView, find_system, life_points, view_system
from service.operations.pots.systems import SYSTEMS
from service.operations.stock import load
from service.operations.stock.picking import fit_among, fit_containers, on_shelf
from service.operations.stock.reserved import reserved_of
from service.records.base import as_word, known
from service.records.materials import Material
from service.records.people import Site

# The planner looks at this many cans a side, first expired first.
_MOST_CANS = 40
MOST_CANS_NAMED = 200
"""Of the cans that are fit for use so many are named; what is free in all of them is told."""


@dataclass(frozen=True, slots=True)
class CanView:
    """A can that is fit for use, with what nobody has reserved, in the unit of its material."""

    container: str
    lot: str
    state: ContainerState
    place: str | None
    good_until: date | None
    free_mg: int | None
    free_mm: int | None
    free_pieces: int | None


@dataclass(frozen=True, slots=True)
class StockView:
    """What there is of one material for a pot, and whether it is enough.

    Attributes
    ----------
    cans
        Fit for use only, first expired first: the first 200; GET /v1/containers?material= lists all on the shelf.
    cans_count
        How many are fit.
    reserved_mg
        What is reserved for orders and not taken yet: amounts, in none of these cans.
    free_mg
        What is in all of them that neither a pot nor an order has reserved.
    """

    material: int
    name: str
    cans: tuple[CanView, ...]
    cans_count: int
    reserved_mg: int | None
    reserved_mm: int | None
    free_mg: int | None
    free_mm: int | None
    free_pieces: int | None


@dataclass(frozen=True, slots=True)
class DrawView:
    component: Component
    container: str
    mass_mg: int


@dataclass(frozen=True, slots=True)
class PotView:
    """Whether a pot of that mass can be built now, and from which cans."""

    possible: bool
    mass_mg: int
    resin_mg: int
    hardener_mg: int
    draws: tuple[DrawView, ...]
    short_resin_mg: int
    short_hardener_mg: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Availability:
    stock: tuple[StockView, ...]
    pot: PotView | None


@dataclass(frozen=True, slots=True)
class PotInPlan:
    mass_mg: int
    resin_mg: int
    hardener_mg: int
    draws: tuple[DrawView, ...]
    start_after_min: float


@dataclass(frozen=True, slots=True)
class MixPlan:
    """What a pot, or a job of several, takes, and whether the shop can make it now.

    Attributes
    ----------
    largest_workable_mg
        The largest pot that can be wetted out within its share of the pot life.
    smallest_honest_mg
        The smallest pot whose ratio the scale can judge.
    """

    possible: bool
    pots: tuple[PotInPlan, ...]
    leftover_mg: int
    lots: tuple[str, ...]
    scale: str
    largest_workable_mg: int
    smallest_honest_mg: int
    short_resin_mg: int
    short_hardener_mg: int
    sentences: tuple[str, ...]


def _system(number: int) -> SystemView:
    return view_system(find_system(number, pointer="/system"))


def read_availability(
    *,
    at: datetime,
    material: int | None = None,
    system: int | None = None,
    hardener: int | None = None,
    mass_mg: int | None = None,
) -> Availability:
    """What is fit for use and reserved by nobody: of one material, or for a pot of a resin system."""
    if (material is None) == (system is None):
        raise Unprocessable("Ask for a material or for a resin system, one of the two.", pointer="/material")
    if material is not None:
        if hardener is not None or mass_mg is not None:
            raise Unprocessable("A hardener and a mass go with a resin system; leave them out.", pointer="/material")
        reserved = reserved_of([material], at=at)
        cans = fit_containers(material, at=at, site=the_site())
        return Availability(stock=(_stock(material, cans, reserved),), pot=None)
    view = _system(int(system or 0))
    one = _hardener(view, hardener)
    resin_cans, hardener_cans = _fit_sides(view, one, at=at, site=the_site())
    reserved = reserved_of([view.resin, one.material], at=at)
    pot = None if mass_mg is None else _pot(view, one, mass_mg, resin_cans, hardener_cans, reserved)
    stock = (_stock(view.resin, resin_cans, reserved), _stock(one.material, hardener_cans, reserved))
    return Availability(stock=stock, pot=pot)


def _hardener(view: SystemView, hardener: int | None) -> HardenerView:
    found = [h for h in view.hardeners if hardener is None or h.material == hardener]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{h.name} ({h.material})" for h in view.hardeners)
    raise Unprocessable(f"Say which hardener of {view.name}: {names}.", pointer="/hardener")


def _fit_sides(
    view: SystemView, hardener: HardenerView, *, at: datetime, site: Site
) -> tuple[list[load.Loaded], list[load.Loaded]]:
    """The cans of resin and of hardener that are fit for use, loaded together."""
    shelf = load.load(on_shelf([view.resin, hardener.material]), at=at, site=site)
    resin, other = (fit_among(shelf, material, at=at, site=site) for material in (view.resin, hardener.material))
    return resin, other


def _free(loaded: load.Loaded) -> int:
    return max(0, loaded.facts.balance - loaded.facts.reserved)


def _by_unit(amount: int, unit: Unit) -> dict[str, int | None]:
    units = {"free_mg": Unit.MILLIGRAM, "free_mm": Unit.MILLIMETRE, "free_pieces": Unit.PIECE}
    return {name: amount if unit == own else None for name, own in units.items()}


def _stock(material: int, cans: Sequence[load.Loaded], reserved: Mapping[int, int]) -> StockView:
    row = find_row(Material, material, "material")
    unit = Unit(known(cans[0].item.unit)) if cans else counted_in(row.kind)
    kept = reserved.get(material, 0)
    return StockView(
        material=row.id,
        name=row.name,
        cans=tuple(
            CanView(
                container=c.item.code,
                lot=c.lot_item.code,
                state=as_word(ContainerState, c.item.state),
                place=c.item.place.code if c.item.place is not None else None,
                good_until=c.facts.good_until,
                **_by_unit(_free(c), unit),
            )
            for c in cans[:MOST_CANS_NAMED]
        ),
        cans_count=len(cans),
        reserved_mg=kept if unit == Unit.MILLIGRAM else None,
        reserved_mm=kept if unit == Unit.MILLIMETRE else None,
        **_by_unit(max(0, sum(_free(c) for c in cans) - kept), unit),
    )


def _pot(
    view: SystemView,
    hardener: HardenerView,
    mass_mg: int,
    resin_cans: Sequence[load.Loaded],
    hardener_cans: Sequence[load.Loaded],
    reserved: Mapping[int, int],
) -> PotView:
    resin_mg = round(split_total(total_g=mass_mg / 1000, ratio=hardener.ratio).resin_g * 1000)
    sides = ((Component.RESIN, resin_mg, resin_cans), (Component.HARDENER, mass_mg - resin_mg, hardener_cans))
    kept = {Component.RESIN: reserved.get(view.resin, 0), Component.HARDENER: reserved.get(hardener.material, 0)}
    draws: list[DrawView] = []
    short = {name: max(0, need - max(0, sum(_free(c) for c in cans) - kept[name])) for name, need, cans in sides}
    split_too_small = False
    for name, need, cans in sides:
        found = None
        if need > 0 and not short[name]:
            found = draws_for_equal_pots(
                pot_mg=need, pots=1, lots=[c.lot_item.code for c in cans], left_mg=[_free(c) for c in cans]
            )
            split_too_small = split_too_small or found is None
        draws += [DrawView(name, cans[i].item.code, amount) for i, amount in (found[0] if found else [])]
    possible = not any(short.values()) and not split_too_small and mass_mg <= view.largest_pot_mg
    return PotView(
        possible=possible,
        mass_mg=mass_mg,
        resin_mg=resin_mg,
        hardener_mg=mass_mg - resin_mg,
        draws=tuple(draws) if possible else (),
        short_resin_mg=short[Component.RESIN],
        short_hardener_mg=short[Component.HARDENER],
        sentence=_pot_sentence(view, mass_mg, short, kept, draws, split_too_small),
    )


def _pot_sentence(
    view: SystemView,
    mass_mg: int,
    short: Mapping[Component, int],
    kept: Mapping[Component, int],
    draws: Sequence[DrawView],
    split_too_small: bool,
) -> str:
    if mass_mg > view.largest_pot_mg:
        return f"The largest pot of {view.name} is {grams(view.largest_pot_mg)}; ask for a plan of several."
    if any(short.values()):
        missing = [f"{grams(amount)} of {name}" for name, amount in short.items() if amount]
        orders = [f"{grams(kept[name])} of {name}" for name, amount in short.items() if amount and kept[name]]
        because = f" {' and '.join(orders)} is reserved for orders." if orders else ""
        return f"The shelf is short of {' and '.join(missing)}.{because}"
    if split_too_small:
        return "There is enough in all, but not without taking less than a tenth of the pot from one can."
    return "Yes: " + ", ".join(f"{grams(d.mass_mg)} from {d.container}" for d in draws) + "."


def plan_mixes(
    *,
    at: datetime,
    system: int,
    need_mg: int,
    wet_out_rate_g_min: float,
    temperature_c: float,
    hardener: int | None = None,
    working_share: float = 0.5,
    scale: str | None = None,
) -> MixPlan:
    """Plan the pots of a job: how many, how large, from which cans, and when to start each. Nothing is reserved."""
    view = _system(system)
    if view.approved_at is None or view.replaced_by_id is not None:
        SYSTEMS.current(system, pointer="/system")  # refuses, and says what to do instead
    one = dosed(view, _hardener(view, hardener), temperature_c)
    site = the_site()
    code, smallest = _smallest_honest(one, scale, at=at, site=site)
    resin_cans, hardener_cans = _fit_sides(view, one, at=at, site=site)
    plan, side, largest = pots_of_job(
        view,
        one,
        resin_cans=resin_cans,
        hardener_cans=hardener_cans,
        need_g=need_mg / 1000,
        wet_out_rate_g_min=wet_out_rate_g_min,
        temperature_c=temperature_c,
        working_share=working_share,
        smallest_honest_pot_g=smallest,
    )
    pots = tuple(
        PotInPlan(
            mass_mg=_mg(pot.total_g),
            resin_mg=_mg(pot.resin_g),
            hardener_mg=_mg(pot.hardener_g),
            draws=tuple(DrawView(Component(side[can]), can, _mg(amount)) for can, amount in pot.draws),
            start_after_min=pot.start_after_min,
        )
        for pot in plan.pots
    )
    return MixPlan(
        possible=plan.possible,
        pots=pots,
        leftover_mg=_mg(plan.leftover_g),
        lots=plan.lots_touched,
        scale=code,
        largest_workable_mg=_mg(largest),
        smallest_honest_mg=up_to_mg(smallest),
        short_resin_mg=_mg(plan.short_resin_g),
        short_hardener_mg=_mg(plan.short_hardener_g),
        sentences=plan.sentences,
    )


def pots_of_job(
    view: SystemView,
    hardener: HardenerView,
    *,
    resin_cans: Sequence[load.Loaded],
    hardener_cans: Sequence[load.Loaded],
    need_g: float,
    wet_out_rate_g_min: float,
    temperature_c: float,
    working_share: float,
    smallest_honest_pot_g: float,
) -> tuple[PotPlan, dict[str, str], float]:
    """The plan of a job from what is fit and free now, which component each can is, and the largest workable pot."""
    if not hardener.cup_life:
        hardener = dosed(view, hardener, temperature_c)
    cans = {"resin": resin_cans[:_MOST_CANS], "hardener": hardener_cans[:_MOST_CANS]}
    work: dict[str, Any] = {
        "points": life_points(hardener.cup_life),
        "temperature_c": temperature_c,
        "wet_out_rate_g_min": wet_out_rate_g_min,
        "working_share": working_share,
        "largest_pot_g": view.largest_pot_mg / 1000,
    }
    plan = plan_pots(
        need_g=need_g,
        smallest_honest_pot_g=smallest_honest_pot_g,
        ratio=hardener.ratio,
        resin_cans=[_as_can(c) for c in cans["resin"]],
        hardener_cans=[_as_can(c) for c in cans["hardener"]],
        **work,
    )
    side = {c.item.code: name for name, listed in cans.items() for c in listed}
    return plan, side, largest_workable_pot_g(**work)


def dosed(view: SystemView, one: HardenerView, temperature_c: float) -> HardenerView:
    """A peroxide by the line for the resin's temperature, and the life at its target; any other hardener as it is."""
    if one.catalyst is None:
        return one
    row = dose_at(rows=[DoseRow(**line) for line in one.catalyst.doses], temperature_c=temperature_c)
    life = None
    if row is not None:
        points = [PercentPoint(**line) for line in one.catalyst.life]
        life = dose_life(points=points, percent=row.target_pct, temperature_c=temperature_c)
    if row is None or life is None or life.minutes is None:
        raise Unprocessable(
            f"The data sheet gives no figure for {one.name} at {temperature_c:g} °C.",
            way_out="Bring the resin to a temperature that the sheet has, or ask its supplier.",
            pointer="/temperature_c",
        )
    point = {"mass_g": view.largest_pot_mg / 1000, "temperature_c": temperature_c, "life_min": life.minutes}
    return replace(one, ratio=row.target_pct / 100, tolerance_pct=tolerance_of(row), cup_life=(point,))


def _mg(mass_g: float) -> int:
    return round(mass_g * 1000)


def _as_can(loaded: load.Loaded) -> Can:
    return Can(loaded.item.code, loaded.lot_item.code, _free(loaded) / 1000)


def _smallest_honest(hardener: HardenerView, scale: str | None, *, at: datetime, site: Site) -> tuple[str, float]:
    """The scale that is meant, or else the finest that may be used now, and the smallest pot that it can judge."""
    if scale is not None:
        item = ledger.find(scale, Kind.SCALE)
        able = [(item, require_able(load_scales([item], at=at)[item.id], at=at, site=site))]
    else:
        able = able_scales(at=at, site=site)
    if not able:
        raise WrongState("No scale of the shop may be used now.", way_out="Check one with its check weight first.")
    ratio, tolerance = hardener.ratio, hardener.tolerance_pct
    honest = ((item.code, smallest_honest_g(ratio, tolerance, row)) for item, row in able)
    return min(honest, key=lambda pair: (pair[1], pair[0]))
