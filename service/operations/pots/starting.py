"""Starting a pot: all that can be asked before anything is poured, and the reservation that settles who has what."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from schemas.words import Component, Kind, Purpose, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.plain import plain
from service.operations.door.refusals import BarredFromTraceable, ShortStock, Unprocessable, WrongPair
from service.operations.ledger import ledger
from service.operations.pots.job import plan_of_job
from service.operations.pots.pot import OPEN_STATES, grams, pot_size
from service.operations.pots.start_checks import air_notices, check_scales
from service.operations.pots.systems import SYSTEMS, ratio_and_tolerance, refuse_peroxide
from service.operations.pots.view import MixView, view_mix
from service.operations.stock import load
from service.operations.stock.fitness import Answer, stops_a_start
from service.operations.stock.picking import fit_containers, pick_order
from service.operations.stock.using import refuse_unfit
from service.records.base import known
from service.records.items import Item
from service.records.journal import Deed
from service.records.materials import Container, ResinSystem, SystemHardener
from service.records.mixes import Mix, PlannedPour
from service.records.parts import Design, Part

# A pot is not split over two cans for less than this share of it (shop rule 13).
LEAST_SHARE = 0.1


# Masses given for the single cans may be off their sum by this much.
_ROUNDED_MG, _ROUNDED_SHARE = 1000, 0.01


@dataclass(frozen=True, slots=True)
class Chosen:
    """A can that was scanned for the pot, which component it is, and how much it is to give."""

    item: Item
    loaded: load.Loaded
    answer: Answer
    component: Component
    mass_mg: int | None

    @property
    def free_mg(self) -> int:
        return max(0, self.loaded.facts.balance - self.loaded.facts.reserved)


@operation
def start_mix(
    work: Work,
    *,
    system: int,
    purpose: Purpose,
    containers: Sequence[Mapping[str, Any]],
    scale: str,
    hardener: int | None = None,
    total_mg: int | None = None,
    resin_mg: int | None = None,
    hardener_mg: int | None = None,
    hardener_scale: str | None = None,
    zeroed: bool = True,
    separate_cups: bool = False,
    temperature_c: float | None = None,
    temperature_of_air: bool = False,
    parts: Sequence[str] = (),
    plan: Mapping[str, Any] | None = None,
) -> MixView:
    """Start a pot: may these cans be used, are they the right pair, is there enough, can the scale show the ratio?

    What is planned is reserved in its cans until it is poured or the pot is given up.
    """
    row: ResinSystem = SYSTEMS.current(system, pointer="/system")
    codes = [line["container"] for line in containers]
    if len(set(codes)) < len(codes):
        raise Unprocessable("Name each container once.", pointer="/containers")
    locked = ledger.lock(work, *codes, kinds=[Kind.CONTAINER])
    chosen_hardener = _hardener(row, hardener, locked.values())
    refuse_peroxide(row.resin)
    refuse_peroxide(chosen_hardener.material)
    chosen = [
        _chosen(work, locked[line["container"]], line.get("mass_mg"), row, chosen_hardener) for line in containers
    ]
    ratio, tolerance = ratio_and_tolerance(chosen_hardener)
    need = pot_size(row, ratio, total_mg=total_mg, resin_mg=resin_mg, hardener_mg=hardener_mg)
    draws = [
        (one, amount)
        for component in Component
        for one, amount in _shared([c for c in chosen if c.component == component], component, need[component], work)
    ]
    on, hardener_on = check_scales(
        work,
        scale=scale,
        hardener_scale=hardener_scale,
        resin_mg=need[Component.RESIN],
        hardener_mg=need[Component.HARDENER],
        ratio=ratio,
        tolerance_pct=tolerance,
        zeroed=zeroed,
        separate_cups=separate_cups,
        resin_pours=sum(1 for one, _ in draws if one.component == Component.RESIN),
        hardener_pours=sum(1 for one, _ in draws if one.component == Component.HARDENER),
    )
    for code in parts:
        _check_part(code, chosen)
    skipped = _skipped(work, draws)
    notices = _notices(work, draws, skipped)
    notices += air_notices(
        row, on, parts, at=work.act.occurred_at, temperature_c=temperature_c, of_air=temperature_of_air
    )
    job = plan_of_job(
        chosen_hardener,
        plan,
        at=work.act.occurred_at,
        pot_mg=sum(need.values()),
        temperature_c=temperature_c,
        scales=(on, hardener_on),
        zeroed=zeroed or separate_cups,
    )
    if job is not None and not job.agrees:
        notices.append(job.sentence if job.possible else f"{job.sentence} {job.sentences[0]}")
    item = ledger.new_item(
        work,
        Kind.MIX,
        name=f"{row.name} with {chosen_hardener.material.name}",
        state=State.WEIGHING,
        unit=Unit.MILLIGRAM,
    )
    mix = Mix.create(
        item=item,
        system=row,
        hardener=chosen_hardener,
        frozen=known(row.document_id),
        ratio=ratio,
        tolerance_pct=tolerance,
        purpose=purpose,
        planned_mg=sum(need.values()),
        plan={
            "resin_mg": need[Component.RESIN],
            "hardener_mg": need[Component.HARDENER],
            "scale": on.id,
            "hardener_scale": hardener_on.id,
            "zeroed": zeroed,
            "parts": list(parts),
            "skipped": skipped,
            "skipped_why": work.act.why if skipped else None,
            "notices": notices,
            "job": None if job is None else plain(job),
        },
        separate_cups=separate_cups,
        started_at=work.act.occurred_at,
        temperature_c=temperature_c,
        temperature_of_air=temperature_of_air,
    )
    for one, amount in draws:
        PlannedPour.create(mix=mix, container=one.item.id, component=one.component, amount_mg=amount)
        work.touch(one.item)
    work.note(
        mix=item.code,
        reserved={one.item.code: amount for one, amount in draws},
        skipped=skipped,
        frozen_sha256=known(row.document).sha256,
    )
    return work.answer(item, view_mix, at=work.act.occurred_at, site=work.site)


def _rows(row: ResinSystem) -> list[SystemHardener]:
    return list(SystemHardener.select().where(SystemHardener.system == row.id).order_by(SystemHardener.id))


def _hardener(row: ResinSystem, wanted: int | None, cans: Iterable[Item]) -> SystemHardener:
    """The hardener that was named, or else the one that was scanned."""
    rows = _rows(row)
    if wanted is not None:
        found = next((h for h in rows if h.material_id == wanted), None)
        if found is None:
            raise Unprocessable(
                f"Material {wanted} is no hardener of {row.name}; its hardeners are "
                f"{', '.join(f'{h.material.name} ({h.material_id})' for h in rows)}.",
                pointer="/hardener",
            )
        return found
    scanned = {Container.get_by_id(can.id).material_id for can in cans}
    among = [h for h in rows if h.material_id in scanned]
    if len(among) > 1:
        raise WrongPair(
            f"Two hardeners of {row.name} were scanned: {' and '.join(h.material.name for h in among)}.",
            way_out="A blend of hardeners is a recipe of its own. Scan one hardener, or name the one that is meant.",
        )
    if among:
        return among[0]
    if len(rows) == 1:
        return rows[0]
    raise Unprocessable("Say which hardener of the system is meant, or scan its can.", pointer="/hardener")


def _chosen(work: Work, item: Item, mass_mg: int | None, row: ResinSystem, hardener: SystemHardener) -> Chosen:
    """A can that was scanned: the right pair first, then fit for use."""
    loaded = load.load_one(item, at=work.act.occurred_at, site=work.site)
    component = _component(loaded, row, hardener)
    answer = loaded.judged(at=work.act.occurred_at, site=work.site)
    # All of it reserved is a matter of stock, settled below: whoever comes second is told what is left.
    if stops_a_start(answer) and any(r.kind != "reserved" for r in answer.reasons if r.decision is None):
        raise refuse_unfit(loaded, answer, at=work.act.occurred_at)
    return Chosen(item, loaded, answer, component, mass_mg)


def _component(loaded: load.Loaded, row: ResinSystem, hardener: SystemHardener) -> Component:
    if loaded.material.id == row.resin_id:
        return Component.RESIN
    if loaded.material.id == hardener.material_id:
        return Component.HARDENER
    expected = [
        {"component": Component.RESIN, "material": row.resin_id, "name": row.resin.name},
        {"component": Component.HARDENER, "material": hardener.material_id, "name": hardener.material.name},
    ]
    other = next((h for h in _rows(row) if h.material_id == loaded.material.id), None)
    if other is not None:
        raise WrongPair(
            f"{loaded.item.code} is {loaded.material.name} ({other.speed}); this pot is planned with "
            f"{hardener.material.name} ({hardener.speed}).",
            way_out=f"Scan {hardener.material.name}, or start the pot with hardener {other.material_id}: "
            f"{other.parts_by_weight:g} parts to 100, and another pot life.",
            container=loaded.item.code,
            expected=expected,
            other_recipe={
                "hardener": other.material_id,
                "name": other.material.name,
                "speed": other.speed,
                "parts_by_weight": other.parts_by_weight,
            },
        )
    raise WrongPair(
        f"{loaded.item.code} is {loaded.material.name}; {row.name} is {row.resin.name} with {hardener.material.name}.",
        way_out=f"Scan {row.resin.name} or {hardener.material.name}.",
        container=loaded.item.code,
        expected=expected,
    )


def _shared(chosen: list[Chosen], component: Component, need: int, work: Work) -> list[tuple[Chosen, int]]:
    """How much each can is to give: as said, else in the order in which they were scanned."""
    if not chosen:
        raise Unprocessable(f"Scan a container of {component} too.", pointer="/containers")
    said = sum(c.mass_mg for c in chosen if c.mass_mg is not None)
    open_ones = [c for c in chosen if c.mass_mg is None]
    if not open_ones and abs(said - need) <= max(_ROUNDED_MG, need * _ROUNDED_SHARE):
        # The masses were rounded by hand; the last can takes the difference.
        open_ones = [chosen[-1]]
        chosen = [*chosen[:-1], replace(chosen[-1], mass_mg=None)]
        said -= open_ones[0].mass_mg or 0
    if said > need or (not open_ones and said != need):
        raise Unprocessable(
            f"The masses of {component} add up to {grams(said)}; the pot takes {grams(need)}.", pointer="/containers"
        )
    missing, shares = need - said, {}
    for one in chosen:
        amount = one.mass_mg if one.mass_mg is not None else min(one.free_mg, missing)
        if one.mass_mg is None:
            missing -= amount
        if amount > one.free_mg:
            raise _short(work, [one], component, amount)
        shares[one.item.id] = amount
    if missing > 0:
        raise _short(work, open_ones, component, need - said)
    return [(one, shares[one.item.id]) for one in chosen if shares[one.item.id] > 0]


def _short(work: Work, cans: list[Chosen], component: Component, need: int) -> ShortStock:
    left = sum(c.free_mg for c in cans)
    used = {c.item.id for c in cans}
    others = [o for o in fit_containers(cans[0].loaded.material.id, at=work.act.occurred_at) if o.item.id not in used]
    enough = [o for o in others if o.facts.balance - o.facts.reserved >= need - left]
    instead = [o.item.code for o in (enough or others)][:3]
    return ShortStock(
        f"{' and '.join(c.item.code for c in cans)}: {grams(left)} of {component} is left that nobody has reserved, "
        f"{grams(need)} is wanted.",
        way_out=f"Scan {' or '.join(instead)} as well, or instead."
        if instead
        else "Mix a smaller pot, or fetch another can.",
        left_g=left / 1000,
        wanted_g=need / 1000,
        containers=[c.item.code for c in cans],
        instead=instead,
    )


def _check_part(code: str, chosen: list[Chosen]) -> None:
    part = ledger.find(code, Kind.PART)
    design = Design.get_by_id(Part.get_by_id(part.id).design_id)
    unknown = [c for c in chosen if not c.loaded.facts.lot_known]
    if design.traceable and unknown:
        raise BarredFromTraceable(
            f"The maker's lot of {unknown[0].item.code} is not known; {code} has to be traceable.",
            way_out="Take a can whose lot is known.",
            container=unknown[0].item.code,
        )


def _skipped(work: Work, plan: Sequence[tuple[Chosen, int]]) -> list[str]:
    """Cans that should have been used up first and would have given enough for it; nobody is stopped for it."""
    skipped = []
    taken = {one.item.id for one, _ in plan}
    for component in Component:
        ours = [(one, amount) for one, amount in plan if one.component == component]
        last = max(pick_order(one.loaded) for one, _ in ours)
        least = sum(amount for _, amount in ours) * LEAST_SHARE
        skipped += [
            other.item.code
            for other in fit_containers(ours[0][0].loaded.material.id, at=work.act.occurred_at)
            if other.item.id not in taken
            and pick_order(other) < last
            and other.facts.balance - other.facts.reserved >= least
        ]
    return skipped


def _notices(work: Work, plan: Sequence[tuple[Chosen, int]], skipped: list[str]) -> list[str]:
    """What is worth a word and stops nobody."""
    notices = []
    if skipped:
        question = "" if work.act.why else " Say in why, if there is a reason."
        notices.append(f"{', '.join(skipped)} should be used up first.{question}")
    for one, amount in plan:
        share = sum(a for o, a in plan if o.component == one.component)
        if amount < share * LEAST_SHARE:
            notices.append(
                f"Only {grams(amount)} comes from {one.item.code}: less than a tenth of the {one.component}."
            )
        notices += [
            f"{one.item.code} is used with deviation permit {r.permission} ({r.decision}): {r.sentence}"
            for r in one.answer.reasons
            if r.decision is not None
        ]
    other = (
        Item.select(Item.code)
        .join(Deed)
        .where((Item.kind == Kind.MIX) & Item.state.in_(OPEN_STATES) & (Deed.person == work.act.person))
        .order_by(Item.id)
    )
    open_pots = [pot.code for pot in other]
    if open_pots:
        notices.append(f"You have another pot open: {', '.join(open_pots)}. Use one up before you mix the next.")
    return notices
