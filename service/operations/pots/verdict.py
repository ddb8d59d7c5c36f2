"""What the scales say of a pot: the verdict on its ratio, and whether it can be corrected."""

from datetime import datetime

from schemas.words import Component, MaterialKind, Verdict
from service.formulas import ratio as ratios
from service.formulas.pot_weighings import weighed_ratio_uncertainty_pct
from service.formulas.weighing import verdict as judge_verdict
from service.operations.ledger.amounts import grams
from service.operations.pots.clock import Clock, clock_of, corrected_clock
from service.operations.pots.dosing import correct_dose, judge_dose, weighings_of
from service.operations.pots.next_number import as_shown, reading_if_not_zeroed
from service.operations.pots.pot import OPEN_STATES, Pot, minutes_between
from service.operations.pots.told import Judgement, MixCorrection, Possible
from service.records.base import known
from service.records.people import Site


def percent(value: float) -> str:
    return f"{value:+.1f} %" if abs(value) >= 0.05 else "0.0 %"


def judge(pot: Pot) -> Judgement | None:
    """The ratio as poured, with what the scales can know of it.

    None while a component is missing, and none where another material is in: the recipe's ratio is not about that.
    """
    if not pot.both_in or pot.strange:
        return None
    if pot.catalyst is not None:
        return judge_dose(pot)
    resin_g, hardener_g = pot.resin_mg / 1000, pot.hardener_mg / 1000
    deviation = ratios.deviation_pct(resin_g=resin_g, hardener_g=hardener_g, ratio=pot.mix.ratio)
    uncertainty = weighed_ratio_uncertainty_pct(weighings=weighings_of(pot), resin_g=resin_g, hardener_g=hardener_g)
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


def correction(pot: Pot, *, at: datetime, site: Site) -> MixCorrection | None:
    """What to add to a pot not surely within its tolerance, and whether that may still be done (shop rule 20)."""
    judged = judge(pot)
    if judged is None or judged.verdict == Verdict.WITHIN or pot.item.state not in OPEN_STATES:
        return None
    if pot.catalyst is not None:
        return correct_dose(pot, judged, against=lambda total: _against(pot, total, at=at, site=site))
    found = ratios.correction(resin_g=pot.resin_mg / 1000, hardener_g=pot.hardener_mg / 1000, ratio=pot.mix.ratio)
    if found.add == "nothing":
        return None
    component = Component(found.add)
    last = [p for p in pot.pours if p.component == component][-1]
    scale = pot.scale(last.scale_id)
    add = as_shown(round(found.add_g * 1000), scale)
    total = pot.total_mg + add
    against, not_known = _against(pot, total, at=at, site=site)
    if_not_zeroed = reading_if_not_zeroed(pot, scale, component, add)
    clock = corrected_clock(pot, total_mg=total)
    sentence = f"Add {grams(add)} of {component}; the pot will weigh {grams(total)}. Stir again."
    if against:
        sentence = f"It cannot be corrected any more. {' '.join(against)}"
    else:
        sentence += _deadline(pot, clock)
    if not_known and not against:
        sentence = f"Ask before you correct. {' '.join(not_known)} {sentence}"
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
    # A little pigment is no filler: it may even go in before the hardener.
    if any(pot.named[known(m.source_id)].kind != MaterialKind.PIGMENT for m in pot.fillers):
        against.append("Filler is in.")
    if total_mg > pot.largest_mg:
        against.append(f"It would weigh {grams(total_mg)}, the largest pot is {grams(pot.largest_mg)}.")
    contact = pot.mix.contact_at
    if contact is not None:
        clock = clock_of(pot)
        gone = max(0.0, minutes_between(contact, at))
        if clock.life_min is not None and gone > clock.life_min * site.correction_share_pct / 100:
            against.append(
                f"{min(gone, clock.life_min):.0f} of its {clock.life_min:.0f} min are gone, "
                f"more than {site.correction_share_pct} %."
            )
        elif clock.life_min is None and clock.over(at):
            against.append("Its pot life is over.")
        elif clock.life_min is None:
            not_known.append("How much of its pot life is gone is not known.")
    return against, not_known
