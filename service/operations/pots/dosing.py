"""A pot that a peroxide starts, at the scales: next number, verdict, correction, life (shop rule 23)."""

import math
from collections.abc import Callable
from datetime import datetime, timedelta

from schemas.words import Component, ScaleForm, State, Verdict
from service.formulas.catalysts import dose_life, dose_limits
from service.formulas.clocks import Life
from service.formulas.peroxides import DoseRow, dose_correction, dose_verdict
from service.formulas.pot_weighings import Weighing, weighed_ratio_uncertainty_pct
from service.operations.ledger.amounts import grams
from service.operations.pots.catalysts import dose_for, life_points_by_percent, tolerance_of
from service.operations.pots.pot import OPEN_STATES, Pot
from service.operations.pots.scale import reading_u_g
from service.operations.pots.told import Judgement, MixCorrection, NextPour, Possible
from service.records.base import known
from service.records.materials import Scale
from service.records.mixes import PlannedPour, Pour


def dose_of(pot: Pot) -> DoseRow | None:
    return dose_for(known(pot.catalyst), pot.mix.temperature_c)


def base_mg(pot: Pot) -> int:
    """What the per cent is counted on: the resin as delivered, with the shop's fillers only where the sheet says so."""
    counted = sum(known(m.amount) for m in pot.fillers) if known(pot.catalyst)["with_fillers"] else 0
    return pot.resin_mg + counted


def percent_of(pot: Pot) -> float | None:
    return 100 * pot.hardener_mg / base_mg(pot) if pot.both_in else None


def promoter_pct(pot: Pot) -> float | None:
    if known(pot.catalyst)["promoter"] is None or not pot.resin_mg:
        return None
    return 100 * pot.promoter_mg / pot.resin_mg


def promoter_stirred(pot: Pot) -> bool:
    """Whether it was stirred since the last of the promoter went in."""
    last = max((p.occurred_at for p in pot.pours if p.component == Component.PROMOTER), default=None)
    return last is not None and any(s.ended_at >= last and s.started_at >= last for s in pot.stirrings)


def step_of(pot: Pot) -> str | None:
    """What is to be done now, where it is more than a number."""
    if pot.item.state != State.WEIGHING or pot.hardener_mg:
        return None
    if dose_of(pot) is None:
        return ask_for_dose(pot)
    promoter = known(pot.catalyst)["promoter"]
    if promoter is None or not pot.resin_mg:
        return None
    if not pot.promoter_mg:
        return f"Promoter first: {promoter['name']}, alone. The catalyst stays away."
    if not promoter_stirred(pot):
        return "Stir the promoter in, sides and base scraped, and put it away. Only then scan the catalyst."
    if not any(p.component == Component.HARDENER for p in pot.plans):
        return f"The promoter is in and away? Now scan {pot.hardener['name']}."
    return None


def ask_for_dose(pot: Pot) -> str:
    """Outside the table there is no figure."""
    name = pot.hardener["name"]
    if pot.mix.temperature_c is None:
        return f"Measure the resin's temperature: how much {name} it takes goes by that."
    spans = " and ".join(
        f"{row['temperature_from_c']:g} to {row['temperature_to_c']:g} °C" for row in known(pot.catalyst)["doses"]
    )
    return (
        f"The data sheet gives {name} for a resin at {spans}; it is at {pot.mix.temperature_c:g} °C. There is no "
        "figure for that: bring the resin to its temperature, or ask its supplier."
    )


def range_mg(pot: Pot, component: Component) -> tuple[int, int, int] | None:
    """Lowest, target and highest that the pot is to have of catalyst or promoter, for the resin that is in."""
    if component == Component.PROMOTER:
        promoter = known(pot.catalyst)["promoter"]
        if promoter is None or not pot.resin_mg:
            return None
        of, low, target, high = pot.resin_mg, promoter["lowest_pct"], promoter["target_pct"], promoter["highest_pct"]
    else:
        row = dose_of(pot)
        if row is None or not pot.resin_mg:
            return None
        of, low, target, high = base_mg(pot), row.lowest_pct, row.target_pct, row.highest_pct
    return math.ceil(of * low / 100), round(of * target / 100), math.floor(of * high / 100)


def dose_target_mg(pot: Pot, component: Component, container: int, *, correction: bool) -> int | None:
    """What a pour from that container was to be, if it was to be anything."""
    if correction:
        found = _correction(pot)
        if found is None or (found[0] == Component.RESIN) != (component == Component.RESIN):
            return None
        return found[1] if component != Component.PROMOTER else None
    own = next((p for p in pot.open_plans if p.container_id == container and p.component == component), None)
    if component == Component.RESIN:
        missing = int(pot.mix.plan["resin_mg"]) - pot.resin_mg
        shared = sum(1 for p in pot.open_plans if p.component == component) > 1
        if missing <= 0:
            return None
        return min(int(own.amount_mg), missing) if own is not None and shared else missing
    wanted = range_mg(pot, component)
    if wanted is None:
        return int(own.amount_mg) if own is not None and component == Component.PROMOTER else None
    missing = wanted[1] - (pot.promoter_mg if component == Component.PROMOTER else pot.hardener_mg)
    return missing if missing > 0 else None


def _to_come(pot: Pot) -> PlannedPour | None:
    """In the order that keeps promoter and peroxide apart."""
    plans = {c: [p for p in pot.open_plans if p.component == c] for c in (Component.RESIN, Component.PROMOTER)}
    if plans[Component.RESIN] and pot.resin_mg < 0.9 * pot.mix.plan["resin_mg"]:
        return plans[Component.RESIN][0]
    if known(pot.catalyst)["promoter"] is not None and not pot.promoter_mg:
        return next(iter(plans[Component.PROMOTER]), None)
    if step_of(pot) is not None:
        return None
    return next((p for p in pot.open_plans if p.component == Component.HARDENER), None)


def next_dose(pot: Pot) -> NextPour | None:
    """The next number: resin, promoter, catalyst, each only when what has to come before it is done."""
    plan = _to_come(pot) if pot.item.state == State.WEIGHING else None
    if plan is None:
        return None
    component = Component(plan.component)
    target = dose_target_mg(pot, component, plan.container_id, correction=False)
    if target is None:
        return None
    scale = pot.scale(_scale_for(pot, component))
    target = max(1, round(target / scale.interval_mg)) * int(scale.interval_mg)
    limits = range_mg(pot, component) if component != Component.RESIN else None
    low = high = None
    if limits is not None:
        low, high = _accepted(pot, component, scale)
    not_zeroed = None if pot.mix.separate_cups else target + pot.standing_mg(scale.item_id, component)
    told = pot.told(component)
    container = pot.named[plan.container_id].code
    sentence = f"Add {grams(target)} of {told} from {container}."
    if limits is not None:
        sentence += f" The data sheet allows {grams(limits[0])} to {grams(limits[2])}"
        provable = low is not None and high is not None
        sentence += f"; accepted from {grams(known(low))} to {grams(known(high))}." if provable else "."
        sentence += "" if provable else " This scale or measure cannot prove it."
    if not_zeroed is not None and not_zeroed != target:
        sentence += f" The scale will read {grams(not_zeroed)} if you did not zero."
    return NextPour(
        component=told,
        container=container,
        scale=pot.named[scale.item_id].code,
        target_mg=target,
        scale_reading_if_not_zeroed_mg=not_zeroed,
        tolerance_from_mg=None if limits is None else limits[0],
        tolerance_to_mg=None if limits is None else limits[2],
        accepted_from_mg=low,
        accepted_to_mg=high,
        if_not_zeroed=None,
        provable=None if limits is None else low is not None,
        sentence=sentence,
    )


def _scale_for(pot: Pot, component: Component) -> int:
    plan = pot.mix.plan
    if component == Component.RESIN:
        return int(plan["scale"])
    return int(plan.get("promoter_scale", plan["scale"]) if component == Component.PROMOTER else plan["hardener_scale"])


def _accepted(pot: Pot, component: Component, scale: Scale) -> tuple[int | None, int | None]:
    promoter = known(pot.catalyst)["promoter"]
    row = promoter if component == Component.PROMOTER else dose_of(pot)
    if row is None:
        return None, None
    get = row.__getitem__ if isinstance(row, dict) else lambda name: getattr(row, name)
    base = pot.resin_mg if component == Component.PROMOTER else base_mg(pot)
    resin_u = max((pour_u_g(pot, p) for p in pot.pours if p.component == Component.RESIN), default=0.0)
    found = dose_limits(
        base_g=base / 1000,
        lowest_pct=get("lowest_pct"),
        target_pct=get("target_pct"),
        highest_pct=get("highest_pct"),
        base_u_g=resin_u,
        reading_u_g=math.sqrt(2) * reading_u_g(scale),
        step_g=scale.interval_mg / 1000,
    )
    low, high = found.accepted_low_g, found.accepted_high_g
    return None if low is None else round(low * 1000), None if high is None else round(high * 1000)


def pour_u_g(pot: Pot, pour: Pour) -> float:
    """Standard uncertainty of one pour: its own where it was measured out or pumped, else of two readings."""
    if pour.uncertainty_mg is not None:
        return pour.uncertainty_mg / 1000
    return math.sqrt(2) * reading_u_g(pot.scale(pour.scale_id))


def weighings_of(pot: Pot) -> list[Weighing]:
    """The pours of the two components that a ratio is of, with what each can know."""
    return [
        Weighing(
            component="resin" if p.component == Component.RESIN else "hardener",
            scale=f"{p.scale_id} {p.component}" if pot.mix.separate_cups else str(p.scale_id),
            reading_u_g=pour_u_g(pot, p) / math.sqrt(2),
            zeroed=p.zeroed or p.emptied_cup_mg is not None,
        )
        for p in pot.pours
        if p.component != Component.PROMOTER
    ]


def judge_dose(pot: Pot) -> Judgement | None:
    """The catalyst as poured against its range, with what scale or measure can know of it."""
    row, poured = dose_of(pot), percent_of(pot)
    if row is None or poured is None or pot.strange:
        return None
    uncertainty = weighed_ratio_uncertainty_pct(
        weighings=weighings_of(pot), resin_g=pot.resin_mg / 1000, hardener_g=pot.hardener_mg / 1000
    )
    verdict = Verdict(
        dose_verdict(
            percent=poured, uncertainty_pct=uncertainty, lowest_pct=row.lowest_pct, highest_pct=row.highest_pct
        )
    )
    under = poured < row.target_pct
    opening = {
        Verdict.WITHIN: "Catalyst within its range",
        Verdict.NEAR: "Catalyst near the limit, more than the scale can tell",
        Verdict.OUTSIDE: "Under-catalysed: it may stay soft"
        if under
        else "Over-catalysed: hard, and badly cured for all that",
    }[verdict]
    sentence = (
        f"{opening}. {poured:.2f} % of the resin, known to ± {poured * uncertainty / 100:.2g} %; the data sheet gives "
        f"{row.lowest_pct:g} to {row.highest_pct:g} % at {row.temperature_from_c:g} to {row.temperature_to_c:g} °C."
    )
    if pot.mix.temperature_of_air:
        sentence += " By the temperature of the air; the resin's is not known."
    deviation = 100 * (poured / row.target_pct - 1)
    return Judgement(deviation, uncertainty, tolerance_of(row), verdict, sentence)


def _correction(pot: Pot) -> tuple[Component, int, int] | None:
    """What to add, how much, and how much at most."""
    row = dose_of(pot)
    if row is None or not pot.both_in:
        return None
    counted = base_mg(pot) - pot.resin_mg
    found = dose_correction(
        resin_g=pot.resin_mg / 1000,
        catalyst_g=pot.hardener_mg / 1000,
        lowest_pct=row.lowest_pct,
        target_pct=row.target_pct,
        highest_pct=row.highest_pct,
        fillers_counted_g=counted / 1000,
    )
    add, most = round(found.add_g * 1000), math.floor(found.most_g * 1000 + 1e-6)
    if found.add == "nothing":
        # Within the range, but too near an end for what the scale can tell: to the target, or nothing.
        short = round(base_mg(pot) * row.target_pct / 100) - pot.hardener_mg
        if short <= 0:
            return None
        top = math.floor(base_mg(pot) * row.highest_pct / 100) - pot.hardener_mg
        return Component.HARDENER, short, top
    return (Component.RESIN if found.add == "resin" else Component.HARDENER), add, most


def correct_dose(
    pot: Pot,
    judged: Judgement,
    *,
    against: Callable[[int], tuple[list[str], list[str]]],
) -> MixCorrection | None:
    """Catalyst up to the top of the range; over the top fresh resin only under its conditions; else discard."""
    found = _correction(pot)
    if judged.verdict == Verdict.WITHIN or pot.item.state not in OPEN_STATES or found is None:
        return None
    component, add, most = found
    scale = pot.scale([p for p in pot.pours if p.component == component][-1].scale_id)
    if scale.form == ScaleForm.SCALE:
        # What the display can show, and not over the top of the range.
        most -= most % scale.interval_mg
        add = max(1, min(round(add / scale.interval_mg), most // scale.interval_mg)) * scale.interval_mg
    total = pot.total_mg + add
    not_any_more, not_known = against(total)
    told = pot.told(component)
    if component == Component.RESIN and pot.promoter_mg:
        not_known.append("The fresh resin takes its share of promoter, and that may not meet the peroxide in the cup.")
    why_not = (*not_any_more, *not_known)
    if not_any_more:
        sentence = (
            f"It cannot be corrected any more. {' '.join(not_any_more)} Discard it: spread out, outdoors, watched."
        )
    else:
        sentence = f"Add {grams(add)} of {told}, at most {grams(most)}; the pot will weigh {grams(total)}. Stir again."
        if not_known:
            sentence = f"Ask before you correct. {' '.join(not_known)} {sentence}"
    life = life_of(pot, catalyst_mg=pot.hardener_mg + (add if component == Component.HARDENER else 0), resin_mg=(
        base_mg(pot) + (add if component == Component.RESIN else 0)
    ))  # fmt: skip
    contact = pot.mix.contact_at
    minutes = None if life is None else life.minutes
    bound = None if life is None else life.shorter_than_min
    return MixCorrection(
        add=told,
        add_mg=add,
        total_mg=total,
        scale_reading_if_not_zeroed_mg=None
        if pot.mix.separate_cups
        else add + pot.standing_mg(scale.item_id, component),
        possible=Possible.NO if not_any_more else Possible.ASK if not_known else Possible.YES,
        why_not=why_not,
        life_min=minutes,
        use_before=_after(contact, minutes),
        over_after=_after(contact, bound),
        sentence=sentence,
    )


def _after(contact: datetime | None, minutes: float | None) -> datetime | None:
    return None if contact is None or minutes is None else contact + timedelta(seconds=int(minutes * 60))


def life_of(pot: Pot, *, catalyst_mg: int | None = None, resin_mg: int | None = None) -> Life | None:
    """Life by the resin's temperature and the per cent of catalyst; none while one of the two is not known."""
    catalyst, base = catalyst_mg or pot.hardener_mg, resin_mg or base_mg(pot)
    temperature = pot.mix.temperature_c
    if not catalyst or not base or temperature is None:
        return None
    percent = 100 * catalyst / base
    if percent > 100:
        return None
    points = life_points_by_percent(known(pot.catalyst))
    return dose_life(points=points, percent=percent, temperature_c=temperature)
