"""What the scales say of a pot: what to pour next, the verdict on its ratio, and whether it can be corrected."""

import math
from datetime import datetime
from typing import Literal, cast

from schemas.words import Component, State, Verdict
from service.formulas import ratio as ratios
from service.formulas.pot_weighings import Weighing, weighed_ratio_uncertainty_pct
from service.formulas.scales import acceptance_limits
from service.formulas.weighing import verdict as judge_verdict
from service.operations.pots.clock import Clock, clock_of, corrected_clock
from service.operations.pots.pot import OPEN_STATES, Pot, grams, minutes_between, percent
from service.operations.pots.scale import reading_u_g
from service.operations.pots.told import Judgement, MixCorrection, NextPour, Possible
from service.records.base import known
from service.records.materials import Scale
from service.records.people import Site


def target_mg(pot: Pot, component: Component, container: int, *, correction: bool) -> int | None:
    """What a pour from that container was to be, if it was to be anything."""
    if correction:
        found = ratios.correction(resin_g=pot.resin_mg / 1000, hardener_g=pot.hardener_mg / 1000, ratio=pot.mix.ratio)
        return round(found.add_g * 1000) if found.add == component else None
    plans = [p for p in pot.open_plans if p.component == component]
    own = next((p for p in plans if p.container_id == container), None)
    if component == Component.RESIN:
        if own is not None:
            return int(own.amount_mg)
        missing = pot.mix.plan["resin_mg"] - pot.resin_mg
        return missing if missing > 0 else None
    if pot.resin_mg == 0:
        return int(own.amount_mg) if own is not None else None
    missing = round(pot.resin_mg * pot.mix.ratio) - pot.hardener_mg
    if missing <= 0:
        return None
    if own is not None and len(plans) > 1:
        return min(int(own.amount_mg), missing)
    return missing


def next_pour(pot: Pot) -> NextPour | None:
    """The next number: resin as planned, then the hardener that belongs to the resin that was really poured."""
    if pot.item.state != State.WEIGHING:
        return None
    resin = [p for p in pot.open_plans if p.component == Component.RESIN and pot.hardener_mg == 0]
    hardener = [p for p in pot.open_plans if p.component == Component.HARDENER]
    plan = next(iter(resin or hardener), None)
    if plan is None:
        return None
    component, container = Component(plan.component), pot.named[plan.container_id].code
    target = target_mg(pot, component, plan.container_id, correction=False)
    if target is None:
        return None
    scale = pot.scale(pot.mix.plan["hardener_scale" if component == Component.HARDENER else "scale"])
    # What to aim at is said as this scale can show it; the verdict stays with the exact ratio.
    target = _as_shown(target, scale)
    if_not_zeroed = reading_if_not_zeroed(pot, scale, component, target)
    low = high = accepted_low = accepted_high = None
    alone = component == Component.HARDENER and pot.hardener_mg == 0 and len(hardener) == 1
    # Below a milligram there is nothing to limit.
    if alone and pot.resin_mg * pot.mix.ratio >= 1:
        low, high, accepted_low, accepted_high = _limits(pot, scale)
    return NextPour(
        component=component,
        container=container,
        scale=pot.named[scale.item_id].code,
        target_mg=target,
        scale_reading_if_not_zeroed_mg=if_not_zeroed,
        tolerance_from_mg=low,
        tolerance_to_mg=high,
        accepted_from_mg=accepted_low,
        accepted_to_mg=accepted_high,
        sentence=_next_sentence(component, container, target, if_not_zeroed, accepted_low, accepted_high),
    )


def _next_sentence(
    component: Component, container: str, target: int, if_not_zeroed: int | None, low: int | None, high: int | None
) -> str:
    parts = [f"Add {grams(target)} of {component} from {container}."]
    if if_not_zeroed is not None and if_not_zeroed != target:
        parts.append(f"The scale will read {grams(if_not_zeroed)} if you did not zero.")
    if low is not None and high is not None:
        parts.append(f"Accepted from {grams(low)} to {grams(high)}.")
    return " ".join(parts)


def reading_if_not_zeroed(pot: Pot, scale: Scale, component: Component, target: int) -> int | None:
    if pot.mix.separate_cups:
        return None
    last = pot.last_on(scale.item_id, component)
    return target + (last.reading_mg if last is not None else 0)


def _limits(pot: Pot, scale: Scale) -> tuple[int, int, int | None, int | None]:
    plan = pot.mix.plan
    apart = pot.mix.separate_cups or plan["scale"] != plan["hardener_scale"]
    resins = [p for p in pot.pours if p.component == Component.RESIN]
    found = acceptance_limits(
        resin_g=pot.resin_mg / 1000,
        ratio=pot.mix.ratio,
        tolerance_pct=pot.mix.tolerance_pct,
        interval_g=scale.interval_mg / 1000,
        repeatability_g=scale.repeatability_mg / 1000,
        zeroed=plan["zeroed"] or apart,
        resin_reading_u_g=reading_u_g(pot.scale(resins[-1].scale_id)) if apart else None,
        resin_readings=len(resins),
    )
    return (
        math.ceil(found.tolerance_low_g * 1000 - 1e-6),
        math.floor(found.tolerance_high_g * 1000 + 1e-6),
        None if found.accepted_low_g is None else round(found.accepted_low_g * 1000),
        None if found.accepted_high_g is None else round(found.accepted_high_g * 1000),
    )


def judge(pot: Pot) -> Judgement | None:
    """The ratio as poured, with what the scales can know of it; nothing while a component is missing."""
    if not pot.both_in:
        return None
    resin_g, hardener_g = pot.resin_mg / 1000, pot.hardener_mg / 1000
    deviation = ratios.deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=pot.mix.ratio)
    uncertainty = weighed_ratio_uncertainty_pct(weighings=_weighings(pot), resin_g=resin_g, hardener_g=hardener_g)
    verdict = Verdict(
        judge_verdict(deviation_pct=deviation, uncertainty_pct=uncertainty, tolerance_pct=pot.mix.tolerance_pct)
    )
    opening = {
        Verdict.WITHIN: "Ratio within its tolerance",
        Verdict.NEAR: "Ratio near the limit, more than the scale can tell",
        Verdict.OUTSIDE: "Ratio outside its tolerance",
    }[verdict]
    sentence = (
        f"{opening}: hardener {percent(deviation)}, known to ± {uncertainty:.2g} %; "
        f"the tolerance is ± {pot.mix.tolerance_pct:.3g} %."
    )
    return Judgement(deviation, uncertainty, pot.mix.tolerance_pct, verdict, sentence)


def _weighings(pot: Pot) -> list[Weighing]:
    return [
        Weighing(
            component=cast(Literal["resin", "hardener"], str(p.component)),
            scale=f"{p.scale_id} {p.component}" if pot.mix.separate_cups else str(p.scale_id),
            reading_u_g=reading_u_g(pot.scale(p.scale_id)),
            zeroed=p.zeroed or p.emptied_cup_mg is not None,
        )
        for p in pot.pours
    ]


def correction(pot: Pot, *, at: datetime, site: Site) -> MixCorrection | None:
    """What to add to a pot not surely within its tolerance, and whether that may still be done (shop rule 20)."""
    judged = judge(pot)
    if judged is None or judged.verdict == Verdict.WITHIN or pot.item.state not in OPEN_STATES:
        return None
    found = ratios.correction(resin_g=pot.resin_mg / 1000, hardener_g=pot.hardener_mg / 1000, ratio=pot.mix.ratio)
    if found.add == "nothing":
        return None
    component = Component(found.add)
    add, total = round(found.add_g * 1000), round(found.total_g * 1000)
    against, not_known = _against(pot, total, at=at, site=site)
    last = [p for p in pot.pours if p.component == component][-1]
    scale = pot.scale(last.scale_id)
    add = _as_shown(add, scale)
    if_not_zeroed = reading_if_not_zeroed(pot, scale, component, add)
    clock = corrected_clock(pot, total_mg=total)
    sentence = f"Add {grams(add)} of {component}; the pot will weigh {grams(total)}. Stir again."
    if against:
        sentence = f"It cannot be corrected any more: {' '.join(against)}"
    else:
        sentence += _deadline(pot, clock)
    if not_known and not against:
        sentence = f"Ask before you correct: {' '.join(not_known)} {sentence}"
    return MixCorrection(
        add=component,
        add_mg=add,
        total_mg=total,
        scale_reading_if_not_zeroed_mg=if_not_zeroed,
        possible=Possible.NO if against else Possible.ASK if not_known else Possible.YES,
        why_not=(*against, *not_known),
        life_min=clock.life_min if clock else None,
        use_before=clock.use_before if clock else None,
        over_after=clock.over_after if clock else None,
        sentence=sentence,
    )


def _deadline(pot: Pot, clock: Clock | None) -> str:
    """The clock is not set back by a correction, and a heavier pot has less time (shop rule 20)."""
    if clock is None:
        return ""
    if clock.life_min is None:
        bound = minutes_between(known(pot.mix.contact_at), clock.over_after) if clock.over_after else None
        return "" if bound is None else f" It then lives shorter than {bound:.1f} min from first contact."
    return f" It then lives {clock.life_min:.1f} min from first contact."


def _against(pot: Pot, total_mg: int, *, at: datetime, site: Site) -> tuple[list[str], list[str]]:
    """What forbids a correction, and what is not known that might."""
    against, not_known = [], []
    if pot.applications:
        against.append("Some of it has been applied.")
    if pot.fillers:
        against.append("Filler is in.")
    if total_mg > pot.largest_mg:
        against.append(f"It would weigh {grams(total_mg)}, the largest pot is {grams(pot.largest_mg)}.")
    contact = pot.mix.contact_at
    if contact is not None:
        clock = clock_of(pot)
        gone = max(0.0, minutes_between(contact, at))
        if clock.life_min is not None and gone > clock.life_min * site.correction_share_pct / 100:
            against.append(
                f"{gone:.0f} of its {clock.life_min:.0f} min are gone, more than {site.correction_share_pct} %."
            )
        elif clock.life_min is None and clock.over(at):
            against.append("Its pot life is over.")
        elif clock.life_min is None:
            not_known.append("How much of its pot life is gone is not known.")
    return against, not_known


def _as_shown(mass_mg: int, scale: Scale) -> int:
    """To the nearest step of the display, and at least one."""
    return max(1, round(mass_mg / scale.interval_mg)) * int(scale.interval_mg)
