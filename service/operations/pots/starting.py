"""Starting a pot: all that can be asked before anything is poured, and the reservation that settles who has what."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from schemas.words import Component, Decision, Kind, Purpose, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.plain import plain
from service.operations.door.refusals import BarredFromTraceable, ShortStock, Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.permitting import ask_permit
from service.operations.pots.catalysing import promoter_mg, require_measurable, start_ratio
from service.operations.pots.job import plan_of_job
from service.operations.pots.next_number import LEAST_SHARE
from service.operations.pots.pot import OPEN_STATES, SMALL_POT, Named, Pot, flag_once
from service.operations.pots.pump_start import planned_strokes, pump_of, pump_sentence
from service.operations.pots.recipe import Chosen, Recipe, find_recipe
from service.operations.pots.scale import LoadedScale
from service.operations.pots.size import pot_size
from service.operations.pots.start_checks import air_notices, check_scales, design_notices, load_instruments
from service.operations.pots.view import MixView, answered
from service.operations.stock.picking import pick_order
from service.operations.stock.reserved import WHOLE_SHARE, Taken, ask_if_reserved, drawn_for
from service.records.items import Item
from service.records.journal import Deed
from service.records.mixes import Mix, PlannedPour
from service.records.parts import Design, Part

# Masses given for the single cans may be off their sum by this much.
_ROUNDED_MG, _ROUNDED_SHARE = 1000, 0.01


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
    promoter_scale: str | None = None,
    zeroed: bool = True,
    separate_cups: bool = False,
    temperature_c: float | None = None,
    temperature_of_air: bool = False,
    parts: Sequence[str] = (),
    plan: Mapping[str, Any] | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> MixView:
    """Start a pot: may these cans be used, are they the right pair, is there enough, can the scale show the ratio?

    What is planned is reserved in its cans until it is poured or the pot is given up. A pot that is too small for its
    scale is asked about; `confirmed` starts it, and asks for the permit that settles its flag.
    """
    recipe = find_recipe(work, system, hardener, containers)
    ratio, tolerance = start_ratio(recipe.hardener, temperature_c)
    finer = promoter_scale or hardener_scale or scale
    instruments = load_instruments(work, scale, hardener_scale, finer)
    shots = pump_of(instruments[scale], recipe.system.resin_id, recipe.hardener.material_id)
    ratio = ratio if shots is None else shots["ratio"]
    need = pot_size(recipe.system, ratio, total_mg=total_mg, resin_mg=resin_mg, hardener_mg=hardener_mg)
    promoter = recipe.promoter
    if promoter is not None:
        need[Component.PROMOTER] = promoter_mg(promoter, need[Component.RESIN])
    draws = _draws(work, recipe, need)
    on, hardener_on, coarse = check_scales(
        work,
        instruments=instruments,
        scale=scale,
        hardener_scale=hardener_scale,
        resin_mg=need[Component.RESIN],
        hardener_mg=need[Component.HARDENER],
        ratio=ratio,
        tolerance_pct=tolerance,
        zeroed=zeroed,
        separate_cups=separate_cups,
        resin_pours=sum(1 for one, _ in draws if one.component == Component.RESIN),
        hardener_pours=max(1, sum(1 for one, _ in draws if one.component == Component.HARDENER)),
        largest_mg=recipe.view.largest_pot_mg,
        confirmed=confirmed,
    )
    promoter_on = None
    if promoter is not None:
        promoter_on = require_measurable(work, promoter, need[Component.PROMOTER], instruments[finer])
    meant_for = _parts(parts, recipe.chosen)
    shares = {p.item_id: WHOLE_SHARE // len(meant_for) for p in meant_for if p.line_id is not None}
    leaving = [Taken(one.item, one.loaded.material.id, amount) for one, amount in draws]
    ask_if_reserved(work, leaving, shares=shares, loaded=recipe.shelf, despite=despite_reservation)
    against = [said for part in meant_for for said in design_notices(part, recipe.system.name, purpose)]
    skipped = _skipped(work, recipe, draws)
    notices = [*against, *_notices(work, draws, skipped)]
    notices += air_notices(
        recipe.system,
        [on.item, *(part.item for part in meant_for)],
        at=work.act.occurred_at,
        temperature_c=temperature_c,
        of_air=temperature_of_air,
    )
    if shots is not None:
        strokes = planned_strokes(shots, need[Component.RESIN], need[Component.HARDENER])
        notices.append(pump_sentence(on.item.code, on.item.name, strokes.uncertainty_pct, tolerance))
    job = plan_of_job(
        recipe.view,
        recipe.hardener.material_id,
        plan,
        resin_cans=recipe.fit(work, Component.RESIN),
        hardener_cans=recipe.fit(work, Component.HARDENER),
        pot_mg=sum(need.values()),
        temperature_c=temperature_c,
        scales=(on.row, hardener_on.row),
        zeroed=zeroed or separate_cups,
    )
    if job is not None and not job.agrees:
        notices.append(job.sentence if job.possible else f"{job.sentence} {job.sentences[0]}")
    kept = {
        "resin_mg": need[Component.RESIN],
        "hardener_mg": need[Component.HARDENER],
        "scale": on.item.id,
        "hardener_scale": hardener_on.item.id,
        **({} if promoter_on is None else {"promoter_scale": promoter_on.item.id}),
        "zeroed": zeroed,
        **({} if shots is None else {"pump": shots}),
        "parts": list(parts),
        "skipped": skipped,
        "skipped_why": work.act.why if skipped else None,
        "notices": notices,
        "job": None if job is None else plain(job),
    }
    pot = _reserve(
        work,
        recipe,
        draws,
        (on, hardener_on) if promoter_on is None else (on, hardener_on, promoter_on),
        ratio=ratio,
        tolerance_pct=tolerance,
        purpose=purpose,
        planned_mg=sum(need.values()),
        plan=kept,
        separate_cups=separate_cups,
        temperature_c=temperature_c,
        temperature_of_air=temperature_of_air,
    )
    drawn_for(work, pot.item, shares)
    if coarse is not None:
        permit = ask_permit(work, pot.item, [SMALL_POT])
        flag_once(work, pot, SMALL_POT, coarse, stops=True, permission=permit.id)
    return answered(work, pot)


def _draws(work: Work, recipe: Recipe, need: Mapping[Component, int]) -> list[tuple[Chosen, int]]:
    return [
        draw
        for component in recipe.scanned_first
        for chosen, part in recipe.chosen_of(component, need[component])
        for draw in _shared(work, recipe, chosen, component, {component: part})
    ]


def _reserve(
    work: Work,
    recipe: Recipe,
    draws: Sequence[tuple[Chosen, int]],
    scales: tuple[LoadedScale, ...],
    **facts: Any,
) -> Pot:
    """Make the pot, and keep what it is to take in its cans for it."""
    row, hardener = recipe.system, recipe.hardener
    item = ledger.new_item(
        work, Kind.MIX, name=f"{row.name} with {hardener.material.name}", state=State.WEIGHING, unit=Unit.MILLIGRAM
    )
    mix = Mix.create(
        item=item,
        system=row,
        hardener=hardener,
        frozen=recipe.frozen,
        started_at=work.act.occurred_at,
        **facts,
    )
    pot = Pot.of(item, mix, recipe.frozen, hardener.material_id, started_by=work.who)
    for one, amount in draws:
        pot.plans.append(PlannedPour.create(mix=mix, container=one.item.id, component=one.component, amount_mg=amount))
        pot.named[one.item.id] = Named.can(one.loaded)
        work.touch(one.item)
    for scale in scales:
        pot.named[scale.item.id] = Named(scale.item.code, scale.item.name, scale=scale.row)
    work.note(
        mix=item.code,
        reserved={one.item.code: amount for one, amount in draws},
        skipped=mix.plan["skipped"],
        frozen_sha256=recipe.frozen.sha256,
    )
    return pot


def _shared(
    work: Work, recipe: Recipe, chosen: list[Chosen], component: Component, needed: Mapping[Component, int]
) -> list[tuple[Chosen, int]]:
    """How much each can is to give: as said, else in the order in which they were scanned."""
    need = needed[component]
    if not chosen:
        told = component if component != Component.HARDENER or recipe.hardener.catalyst is None else Component.CATALYST
        raise Unprocessable(f"Scan a container of {told} too.", pointer="/containers")
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
            raise _short(work, recipe, [one], component, amount)
        shares[one.item.id] = amount
    if missing > 0:
        raise _short(work, recipe, open_ones, component, need - said)
    return [(one, shares[one.item.id]) for one in chosen if shares[one.item.id] > 0]


def _short(work: Work, recipe: Recipe, cans: list[Chosen], component: Component, need: int) -> ShortStock:
    left = sum(c.free_mg for c in cans)
    used = {c.item.id for c in cans}
    others = [o for o in recipe.fit(work, component) if o.item.id not in used]
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


def _parts(codes: Sequence[str], chosen: list[Chosen]) -> list[Part]:
    """What the pot is meant for, if these cans may go into it."""
    if not codes:
        return []
    query = Part.select(Part, Item, Design).join(Item).switch(Part).join(Design)
    rows = {row.item.code: row for row in query.where(Item.code.in_(list(codes)))}
    unknown = [c for c in chosen if not c.loaded.facts.lot_known]
    for code in codes:
        if code not in rows:
            ledger.find(code, Kind.PART)
        if rows[code].design.traceable and unknown:
            raise BarredFromTraceable(
                f"The maker's lot of {unknown[0].item.code} is not known; {code} has to be traceable.",
                way_out="Take a can whose lot is known.",
                container=unknown[0].item.code,
            )
    return [rows[code] for code in codes]


def _skipped(work: Work, recipe: Recipe, plan: Sequence[tuple[Chosen, int]]) -> list[str]:
    """Cans that should have been used up first and would have given enough for it; nobody is stopped for it."""
    skipped = []
    taken = {one.item.id for one, _ in plan}
    for component in recipe.scanned_first:
        ours = [(one, amount) for one, amount in plan if one.component == component]
        last = max(pick_order(one.loaded) for one, _ in ours)
        least = sum(amount for _, amount in ours) * LEAST_SHARE
        skipped += [
            other.item.code
            for other in recipe.fit(work, component)
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
            + (" Nobody has signed it yet; the part is not released before." if r.decision == Decision.ASKED else "")
            for r in one.answer.reasons
            if r.decision is not None
        ]
    other = (
        Item.select(Item.id, Item.code)
        .join(Deed)
        .where((Item.kind == Kind.MIX) & Item.state.in_(OPEN_STATES) & (Deed.person == work.act.person))
    )
    open_pots = [pot.code for pot in sorted(other, key=lambda pot: pot.id)]
    if open_pots:
        notices.append(f"You have another pot open: {', '.join(open_pots)}. Use one up before you mix the next.")
    return notices
