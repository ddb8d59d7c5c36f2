"""Acts and rules of a pot that a peroxide starts: promoter first, a second scan, one peroxide a pot (shop rule 23).

What must not be is refused while it is meant. What was poured is recorded, marked and held.
"""

from collections.abc import Mapping
from typing import Any

from schemas.words import Component, Kind, State
from service.formulas.peroxides import dose_tolerance_pct
from service.formulas.ranges import LEAST_MASS_G
from service.formulas.scales import too_coarse
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import (
    PeroxideBarred,
    ScaleTooCoarse,
    ShortStock,
    Unprocessable,
    WrongPair,
    WrongState,
)
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.pots.catalysts import PromoterView, dose_for, tolerance_of
from service.operations.pots.dosing import ask_for_dose, promoter_pct, promoter_stirred, range_mg, step_of
from service.operations.pots.pot import Named, Pot, flag_once, load_pot, require_open
from service.operations.pots.scale import LoadedScale, reading_u_g, require_able
from service.operations.pots.system import ratio_and_tolerance
from service.operations.pots.view import MixView, answered
from service.operations.stock.fitness import stops_a_start
from service.operations.stock.peroxides import is_organic_peroxide
from service.operations.stock.reserved import Taken, ask_if_reserved
from service.operations.stock.using import load_used, refuse_unfit
from service.records.base import known
from service.records.items import Item
from service.records.materials import Material, Scale, SystemHardener
from service.records.mixes import PlannedPour


def start_ratio(hardener: SystemHardener, temperature_c: float | None) -> tuple[float, float]:
    """Ratio and tolerance of a pot: of a peroxide by the resin's temperature, and outside its lines none."""
    if hardener.catalyst is None:
        return ratio_and_tolerance(hardener)
    row = dose_for(hardener.catalyst, temperature_c)
    if row is not None:
        return row.target_pct / 100, tolerance_of(row)
    name = hardener.material.name
    if temperature_c is None:
        raise Unprocessable(
            f"How much {name} the resin takes goes by its temperature; measure it, or give the air's and say so.",
            pointer="/temperature_c",
        )
    spans = " and ".join(
        f"{r['temperature_from_c']:g} to {r['temperature_to_c']:g} °C" for r in hardener.catalyst["doses"]
    )
    raise PeroxideBarred(
        f"The data sheet gives {name} for a resin at {spans}; it is at {temperature_c:g} °C, without a figure.",
        way_out="Bring the resin to its temperature, or ask its supplier; what the supplier says is a new revision.",
        pointer="/temperature_c",
    )


def promoter_mg(promoter: Mapping[str, Any], resin_mg: int) -> int:
    return max(1, round(resin_mg * promoter["target_pct"] / 100))


def _uncertainty_pct(reading_u: float, mass_mg: int) -> float:
    """Of one mass that is the difference of two readings, k = 2."""
    return 200 * 2**0.5 * reading_u / max(LEAST_MASS_G, mass_mg / 1000)


def _promoter_tolerance(promoter: Mapping[str, Any]) -> float:
    return dose_tolerance_pct(**{name: promoter[name] for name in ("lowest_pct", "target_pct", "highest_pct")})


def promoter_measurable(promoter: PromoterView, mass_mg: int, row: Scale) -> bool:
    """Could that much of a promoter be weighed on this scale?"""
    tolerance = dose_tolerance_pct(
        lowest_pct=promoter.lowest_pct, target_pct=promoter.target_pct, highest_pct=promoter.highest_pct
    )
    uncertainty = _uncertainty_pct(reading_u_g(row), mass_mg)
    return not too_coarse(uncertainty_pct=min(uncertainty, 1e9), tolerance_pct=tolerance)


def require_measurable(work: Work, promoter: Mapping[str, Any], mass_mg: int, loaded: LoadedScale) -> LoadedScale:
    """The promoter has a scale check of its own: 0.4 g on 0.1 g is no measurement."""
    item = loaded.item
    row = require_able(loaded, at=work.act.occurred_at, site=work.site)
    tolerance, uncertainty = _promoter_tolerance(promoter), _uncertainty_pct(reading_u_g(row), mass_mg)
    if not too_coarse(uncertainty_pct=min(uncertainty, 1e9), tolerance_pct=tolerance):
        return loaded
    raise ScaleTooCoarse(
        f"{item.code} {item.name} knows {grams(mass_mg)} of {promoter['name']} to ± {uncertainty:.2g} %; "
        f"a third of its range to either side is {tolerance / 3:.2g} %.",
        way_out="Weigh the promoter on a finer scale, or mix a larger pot.",
        uncertainty_pct=uncertainty,
        tolerance_pct=tolerance,
        capable=[],
    )


@operation
def scan_catalyst(
    work: Work, *, mix: str, container: str, promoter_away: bool = False, despite_reservation: bool = False
) -> MixView:
    """Scan the peroxide for a pot: the promoter is stirred in and put away. What it is to give is reserved in its can.

    It is refused while the promoter is not in and stirred; the two are never on the bench together.
    """
    locked = ledger.lock(work, mix, container, kinds=[Kind.MIX, Kind.CONTAINER])
    item, can = locked[mix], locked[container]
    require_open(item)
    pot = load_pot(item)
    if pot.catalyst is None:
        raise Unprocessable(f"{pot.system['name']} takes no catalyst.", pointer="/container")
    loaded = load_used(work, can, besides_mix=item.id)
    if loaded.material.id != pot.hardener["material"]:
        raise WrongPair(
            f"{can.code} is {loaded.material.name}; this pot takes {pot.hardener['name']}.",
            way_out=f"Take it back to its place, and scan {pot.hardener['name']}.",
            container=can.code,
        )
    _require_promoted(pot, promoter_away=promoter_away)
    if pot.hardener_mg or any(p.component == Component.HARDENER for p in pot.open_plans):
        raise WrongState(f"The catalyst of {item.code} is scanned already.", way_out="Go on with the next number.")
    wanted = range_mg(pot, Component.HARDENER)
    if wanted is None:
        raise PeroxideBarred(ask_for_dose(pot), way_out="Note the resin's temperature with the contact of this pot.")
    answer = loaded.judged(at=work.act.occurred_at, site=work.site)
    if stops_a_start(answer):
        raise refuse_unfit(work, loaded, answer)
    free = loaded.facts.balance - loaded.facts.reserved
    if free < wanted[1]:
        raise ShortStock(
            f"{can.code}: {grams(max(0, free))} is left that nobody has reserved, {grams(wanted[1])} is wanted.",
            way_out="Scan another container of it.",
            left_g=max(0, free) / 1000,
            wanted_g=wanted[1] / 1000,
            containers=[can.code],
            instead=[],
        )
    ask_if_reserved(work, [Taken(can, loaded.material.id, wanted[1])], into=item, despite=despite_reservation)
    plan = PlannedPour.create(mix=pot.mix, container=can.id, component=Component.HARDENER, amount_mg=wanted[1])
    pot.plans.append(plan)
    pot.named[can.id] = Named.can(loaded)
    work.touch(item, can)
    work.note(mix=item.code, catalyst=can.code, reserved_mg=wanted[1])
    return answered(work, pot)


def _require_promoted(pot: Pot, *, promoter_away: bool) -> None:
    if not pot.resin_mg:
        raise PeroxideBarred(
            "There is no resin in the cup; a peroxide is never the first in it.", way_out="Weigh the resin first."
        )
    promoter = known(pot.catalyst)["promoter"]
    if promoter is None:
        return
    if not pot.promoter_mg or not promoter_stirred(pot):
        raise PeroxideBarred(
            f"{promoter['name']} is not in and stirred yet.",
            way_out=step_of(pot) or "Weigh the promoter in and stir it; then scan the catalyst.",
        )
    if not promoter_away:
        raise PeroxideBarred(
            f"{promoter['name']} and {pot.hardener['name']} are never on the bench together.",
            way_out=f"Put {promoter['name']} away, then say that it is.",
            answer_with={"promoter_away": True},
        )


def judge_order(work: Work, pot: Pot, can: Item, material: Material, component: Component) -> None:
    """What is poured now against what is in the cup: recorded in any case, and held where it never should have been."""
    if component == Component.PROMOTER:
        if any(p.component == Component.HARDENER and _peroxide(pot, p.container_id) for p in pot.pours):
            sentence = (
                f"{can.code} {material.name}, a promoter, went onto the peroxide in the cup. Keep away and watch it."
            )
            _alarm(work, pot, "promoter-after-peroxide", sentence)
        return
    if not is_organic_peroxide(material):
        return
    name = f"{can.code} {material.name}"
    promoter = (pot.catalyst or {}).get("promoter")
    if pot.catalyst is None:
        _alarm(work, pot, "peroxide-misused", f"{name} is an organic peroxide; {pot.system['name']} takes none.")
    elif not pot.resin_mg:
        _alarm(work, pot, "peroxide-first", f"{name} was the first in the cup; a peroxide never is.")
    others = {
        pot.named[p.container_id].material
        for p in pot.pours
        if p.component == Component.HARDENER and pot.named[p.container_id].material != material.id
    }
    if others:
        _alarm(work, pot, "two-peroxides", f"{name} went to another hardener or peroxide in the cup; one a pot.")
    if promoter is None:
        return
    if not pot.promoter_mg:
        _alarm(work, pot, "promoter-missing", f"{name} went in before {promoter['name']}; promoter comes first.")
    elif not promoter_stirred(pot):
        _alarm(work, pot, "promoter-not-stirred", f"{name} went in before {promoter['name']} was stirred in.")
    if not any(p.container_id == can.id and p.component == Component.HARDENER for p in pot.plans):
        flag_once(work, pot, "no-second-scan", f"{name} was poured without the second scan.", stops=False)


def _peroxide(pot: Pot, container: int) -> bool:
    """In a peroxide-cured pot all that stands where a hardener does is one, or is held as strange anyway."""
    return pot.catalyst is not None or container in {p.container_id for p in pot.strange}


def _alarm(work: Work, pot: Pot, kind: str, sentence: str) -> None:
    flag_once(work, pot, kind, sentence, stops=True, hold=True)


def judge_promoter(work: Work, pot: Pot) -> None:
    """The promoter against its own range, and its scale against what it had to show."""
    promoter, poured = (pot.catalyst or {}).get("promoter"), None
    if promoter is not None:
        poured = promoter_pct(pot)
    if promoter is None or poured is None:
        return
    if not promoter["lowest_pct"] <= poured <= promoter["highest_pct"]:
        sentence = (
            f"{promoter['name']}: {poured:.2g} % of the resin; the data sheet gives {promoter['lowest_pct']:g} to "
        )
        sentence += f"{promoter['highest_pct']:g} %."
        flag_once(work, pot, "promoter-outside", sentence, stops=True, hold=True)
    last = [p for p in pot.pours if p.component == Component.PROMOTER][-1]
    own = last.uncertainty_mg
    mass = pot.promoter_mg
    uncertainty = 200 * own / mass if own is not None else _uncertainty_pct(reading_u_g(pot.scale(last.scale_id)), mass)
    if too_coarse(uncertainty_pct=min(1e9, uncertainty), tolerance_pct=_promoter_tolerance(promoter)):
        sentence = f"{promoter['name']}: {grams(mass)} is known only to ± {uncertainty:.2g} %; the scale is too coarse."
        flag_once(work, pot, "promoter-not-measured", sentence, stops=False)


def judge_dose_at_use(work: Work, pot: Pot) -> None:
    """At the first application: was there a figure at all, and was the temperature the resin's?"""
    if pot.catalyst is None:
        return
    if pot.both_in and range_mg(pot, Component.HARDENER) is None:
        flag_once(work, pot, "dose-not-known", ask_for_dose(pot), stops=True, hold=True)
    if pot.mix.temperature_of_air and pot.mix.temperature_c is not None:
        sentence = f"Catalysed by the air's {pot.mix.temperature_c:g} °C; the resin's temperature is not known."
        flag_once(work, pot, "temperature-of-air", sentence, stops=False)
    if pot.catalyst["promoter"] is not None and not pot.promoter_mg and pot.item.state != State.ABANDONED:
        flag_once(
            work, pot, "promoter-missing", f"No {pot.catalyst['promoter']['name']} is in it.", stops=True, hold=True
        )
