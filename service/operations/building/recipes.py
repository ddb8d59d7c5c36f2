"""How the resin of a part may be mixed: hardener, size of pots, scale; each way with what it takes of each material."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from schemas.words import BuildConditionKind, Component
from service.formulas.planner import MOST_POTS, largest_workable_pot_g
from service.formulas.ratio import split_total
from service.operations.door.refusals import Unprocessable
from service.operations.ledger.amounts import grams
from service.operations.pots.catalysing import promoter_measurable
from service.operations.pots.planning import dosed
from service.operations.pots.scale import able_scales, smallest_honest_g, up_to_mg
from service.operations.pots.system import HardenerView, SystemView, hardeners_of, life_points, view_system
from service.records.items import Item
from service.records.materials import Material, ResinSystem, Scale
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class Bench:
    """What pots are mixed by: temperature, hands, and the scales that may be used now."""

    temperature_c: float
    wet_out_rate_g_min: float
    working_share: float
    scales: tuple[tuple[Item, Scale], ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """What a pot takes of one material."""

    component: Component
    material: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Pots:
    """Equal pots for one need."""

    count: int
    pot_mg: int
    scale: str | None
    components: tuple[Taken, ...]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to mix by a system, with the conditions that it asks for.

    ``apart``: a blend of hardeners goes into the cup as two, not from a can that was blended before. ``small``: a pot
    may be smaller than the scale can judge, on a permit.
    """

    system: SystemView
    hardener: HardenerView
    apart: bool
    small: bool
    conditions: tuple[tuple[BuildConditionKind, str], ...]


def current_systems(names: Iterable[str]) -> dict[str, SystemView]:
    """The approved revisions in use under these names."""
    query = ResinSystem.select(ResinSystem, Material).join(Material)
    wanted = (
        ResinSystem.name.in_(list(names)) & ResinSystem.approved_at.is_null(False) & ResinSystem.replaced_by.is_null()
    )
    rows = list(query.where(wanted).order_by(ResinSystem.revision))
    own = hardeners_of([row.id for row in rows])
    # Which document it was frozen as is not asked here.
    return {row.name: view_system(row, own[row.id], "") for row in rows}


def not_approved(names: Iterable[str]) -> dict[str, str]:
    """Why nothing can be mixed by these names, of which none has an approved revision."""
    wanted = list(names)
    query = ResinSystem.select(ResinSystem.name).where(ResinSystem.name.in_(wanted)).distinct()
    drafts = {row.name for row in query} if wanted else set()
    return {
        name: f"{name} is still a draft; the lead or quality approves it first."
        if name in drafts
        else f"There is no resin system {name} here; add it."
        for name in wanted
    }


def bench_of(
    *, at: datetime, site: Site, temperature_c: float, wet_out_rate_g_min: float, working_share: float
) -> Bench:
    return Bench(temperature_c, wet_out_rate_g_min, working_share, tuple(able_scales(at=at, site=site)))


def ways_of(system: SystemView, named: frozenset[int], bench: Bench) -> tuple[list[Way], list[str]]:
    """The ways to mix by a system, those that ask for least first, and why others are none.

    Any hardener will do where none of the system is named; else another one is a condition. A pot under what the scale
    can judge is a permit.
    """
    ways: list[Way] = []
    against: list[str] = []
    open_choice = not any(h.material in named for h in system.hardeners)
    scale = () if bench.scales else ((BuildConditionKind.SCALE_CHECK, "any"),)
    for raw in system.hardeners:
        try:
            one = dosed(system, raw, bench.temperature_c)
        except Unprocessable as wrong:
            against.append(wrong.sentence)
            continue
        if largest_mg(system, one, bench) < 1:
            against.append(
                f"At {bench.temperature_c:g} °C the table of {one.name} gives no pot life: cool the shop or take a "
                "slower hardener."
            )
            continue
        other = () if open_choice or raw.material in named else ((BuildConditionKind.HARDENER, str(raw.material)),)
        for apart in (False, True) if one.blend is not None else (False,):
            for small in (False, True):
                permit = ((BuildConditionKind.PERMIT, f"small pot {system.name}"),) if small else ()
                ways.append(Way(system, one, apart, small, (*scale, *other, *permit)))
    return sorted(ways, key=lambda way: len(way.conditions)), against


def largest_mg(system: SystemView, hardener: HardenerView, bench: Bench) -> int:
    """The largest pot that can be worked in its share of the pot life."""
    largest = largest_workable_pot_g(
        points=life_points(hardener.cup_life),
        temperature_c=bench.temperature_c,
        wet_out_rate_g_min=bench.wet_out_rate_g_min,
        working_share=bench.working_share,
        largest_pot_g=system.largest_pot_mg / 1000,
    )
    return math.floor(largest * 1000 + 1e-6)


def pots_for(need_mg: int, way: Way, bench: Bench) -> Pots | str:
    """Fewest pots for a need, on the scale that wastes least; or why there are none."""
    workable = largest_mg(way.system, way.hardener, bench)
    found: list[tuple[int, int, str | None]] = []
    coarse: list[int] = []
    for item, row in bench.scales or ((None, None),):
        smallest, largest = 1, workable
        if row is not None:
            smallest = up_to_mg(smallest_honest_g(way.hardener.ratio, way.hardener.tolerance_pct, row))
            largest = min(workable, row.maximum_mg)
        if largest < (1 if way.small else smallest):
            coarse.append(smallest)
            continue
        count = -(-need_mg // largest)
        size = -(-need_mg // count)
        found.append((count, size if way.small else max(size, smallest), item.code if item is not None else None))
    if not found:
        return (
            f"A pot of {way.system.name} is at most {grams(workable)}, and one of less than {grams(min(coarse))} is "
            "not weighed well enough: take a finer scale, a slower hardener or more hands."
        )
    count, size, scale = min(found, key=lambda one: (one[0], one[0] * one[1], one[2] or ""))
    if count > MOST_POTS:
        return f"{grams(need_mg)} of {way.system.name} would take {count} pots; more than {MOST_POTS} are not planned."
    components = _components(size, way)
    promoter = next((one for one in components if one.component == Component.PROMOTER), None)
    if promoter is not None and bench.scales:
        rows = [row for _, row in bench.scales]
        kept = way.hardener.catalyst.promoter if way.hardener.catalyst is not None else None
        if kept is not None and not any(promoter_measurable(kept, promoter.mass_mg, row) for row in rows):
            return f"No scale of the shop can weigh {grams(promoter.mass_mg)} of {kept.name}: take a finer one."
    return Pots(count, size, scale, components)


def _components(pot_mg: int, way: Way) -> tuple[Taken, ...]:
    """As the start of a pot of that size reckons them."""
    resin = round(split_total(total_g=pot_mg / 1000, ratio=way.hardener.ratio).resin_g * 1000)
    hardener = pot_mg - resin
    taken = [Taken(Component.RESIN, way.system.resin, resin)]
    if way.apart and way.hardener.blend is not None:
        first, second = way.hardener.blend.of
        share = round(hardener * first.fraction_pct / 100)
        taken += [
            Taken(Component.HARDENER, first.material, share),
            Taken(Component.HARDENER, second.material, hardener - share),
        ]
        return tuple(one for one in taken if one.mass_mg > 0)
    if way.hardener.catalyst is None:
        return (*taken, Taken(Component.HARDENER, way.hardener.material, hardener))
    promoter = way.hardener.catalyst.promoter
    if promoter is not None:
        mass = max(1, round(resin * promoter.target_pct / 100))
        taken.append(Taken(Component.PROMOTER, promoter.material, mass))
    return (*taken, Taken(Component.CATALYST, way.hardener.material, hardener))


def materials_of_ways(ways: Mapping[str, Sequence[Way]]) -> set[int]:
    """Every material that any of these ways may draw from."""
    return {
        one.material for some in ways.values() for way in some for one in _components(way.system.largest_pot_mg, way)
    }
