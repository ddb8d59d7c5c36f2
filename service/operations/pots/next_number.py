"""The next number at the scale: it follows from what is in the cup, whatever can that came from (shop rules 19, 22)."""

import math
from collections.abc import Callable, Sequence
from typing import Any

from schemas.words import PARTS_OF_A_RATIO, Component, State
from service.formulas import ratio as ratios
from service.formulas.acceptance import AcceptanceLimits, acceptance_limits, resin_limits
from service.operations.ledger.amounts import grams
from service.operations.pots.pot import Pot
from service.operations.pots.scale import reading_u_g
from service.operations.pots.told import NextPour, PourWindow
from service.records.materials import Scale
from service.records.mixes import PlannedPour

# A pot is not split over two cans for less than this share of it (shop rule 13).
LEAST_SHARE = 0.1

WindowOf = Callable[..., PourWindow | None]

_OTHER = {Component.RESIN: Component.HARDENER, Component.HARDENER: Component.RESIN}


def missing_mg(pot: Pot, component: Component) -> int:
    """What is missing of a component: by the ratio to what is in of the other, and by the plan while none of it is."""
    other = pot.poured_mg(_OTHER[component])
    if other == 0:
        wanted = int(pot.mix.plan[f"{component}_mg"])
    elif component == Component.HARDENER:
        wanted = round(other * pot.mix.ratio)
    else:
        wanted = round(other / pot.mix.ratio)
    return max(0, wanted - pot.poured_mg(component))


def target_mg(pot: Pot, component: Component, container: int, *, correction: bool) -> int | None:
    """What a pour from that container was to be, if it was to be anything."""
    if pot.strange:
        return None
    if correction:
        found = ratios.correction(resin_g=pot.resin_mg / 1000, hardener_g=pot.hardener_mg / 1000, ratio=pot.mix.ratio)
        return round(found.add_g * 1000) if found.add == component else None
    missing = missing_mg(pot, component)
    if missing == 0:
        return None
    plans = _open(pot, component)
    own = next((p for p in plans if p.container_id == container), None)
    return missing if own is None or len(plans) == 1 else min(int(own.amount_mg), missing)


def to_come(pot: Pot) -> Component | None:
    """Which component is to be poured next; none where nothing that was planned is missing any more."""
    if pot.strange:
        return None
    if pot.both_in:
        return next((c for c in PARTS_OF_A_RATIO if missing_mg(pot, c) and _open(pot, c)), None)
    first = _first(pot)
    if not is_in(pot, first):
        return first
    return _OTHER[first] if _open(pot, _OTHER[first]) else None


def is_in(pot: Pot, component: Component) -> bool:
    """Whether all that was planned of the component that is poured first is in, but for what is not worth a can."""
    plans = _open(pot, component)
    if not plans:
        return True
    least = min(LEAST_SHARE * pot.mix.plan[f"{component}_mg"], plans[0].amount_mg / 2)
    return missing_mg(pot, component) < least


def _first(pot: Pot) -> Component:
    """Resin, unless there is hardener alone in the cup."""
    return Component.HARDENER if pot.hardener_mg and not pot.resin_mg else Component.RESIN


def not_needed(pot: Pot) -> Component | None:
    """The component of which no more is to come, though some is still reserved for the pot."""
    if pot.both_in or not pot.pours or pot.strange:
        return None
    first = _first(pot)
    return first if _open(pot, first) and is_in(pot, first) else None


def _open(pot: Pot, component: Component) -> list[PlannedPour]:
    return [p for p in pot.open_plans if p.component == component]


def next_pour(
    pot: Pot, *, target_of: Callable[..., int | None] | None = None, window_of: WindowOf | None = None
) -> NextPour | None:
    """The next number: of one component as planned, then of the other what belongs to the first as it was poured.

    A pot whose number follows from more than a ratio brings its own ``target_of``, and its own limits, ``window_of``.
    """
    component = to_come(pot) if pot.item.state == State.WEIGHING else None
    plans = [] if component is None else _open(pot, component)
    if component is None or not plans:
        return None
    plan = plans[0]
    target = (target_of or target_mg)(pot, component, plan.container_id, correction=False)
    if target is None:
        return None
    container = pot.named[plan.container_id].code
    scale = pot.scale(_scale_for(pot, component))
    # What to aim at is said as this scale can show it; the verdict stays with the exact ratio.
    target = as_shown(target, scale)
    if_not_zeroed = reading_if_not_zeroed(pot, scale, component, target)
    net, display = _windows(pot, component, scale, plans, target, if_not_zeroed, window_of)
    running = if_not_zeroed not in (None, target) and not pot.mix.plan["zeroed"]
    return NextPour(
        component=component,
        container=container,
        scale=pot.named[scale.item_id].code,
        target_mg=target,
        scale_reading_if_not_zeroed_mg=if_not_zeroed,
        tolerance_from_mg=None if net is None else net.tolerance_from_mg,
        tolerance_to_mg=None if net is None else net.tolerance_to_mg,
        accepted_from_mg=None if net is None else net.accepted_from_mg,
        accepted_to_mg=None if net is None else net.accepted_to_mg,
        if_not_zeroed=display,
        provable=None if net is None else (display if running and display else net).provable,
        sentence=_sentence(component, container, target, if_not_zeroed, net, display, running=running),
    )


def _scale_for(pot: Pot, component: Component) -> int:
    return int(pot.mix.plan["hardener_scale" if component == Component.HARDENER else "scale"])


def _sentence(
    component: Component,
    container: str,
    target: int,
    reading: int | None,
    net: PourWindow | None,
    display: PourWindow | None,
    *,
    running: bool,
) -> str:
    """The limits stand beside the number that they are about: what is added, or where the scale will stand."""
    if running and reading is not None:
        parts = [f"Add {component} from {container} until the scale reads {grams(reading)}: {grams(target)} more."]
        return " ".join([*parts, *_limits_in_words(display)])
    parts = [f"Add {grams(target)} of {component} from {container}.", *_limits_in_words(net)]
    if reading is not None and reading != target:
        parts.append(f"The scale will read {grams(reading)} if you did not zero.")
        if display is not None and display.accepted_from_mg is not None and display.accepted_to_mg is not None:
            between = f"{grams(display.accepted_from_mg)} to {grams(display.accepted_to_mg)}"
            parts[-1] = f"{parts[-1][:-1]}, accepted from {between}."
    return " ".join(parts)


def _limits_in_words(window: PourWindow | None) -> list[str]:
    if window is None:
        return []
    if window.accepted_from_mg is None or window.accepted_to_mg is None:
        between = f"{grams(window.tolerance_from_mg)} to {grams(window.tolerance_to_mg)}"
        return [f"In tolerance from {between}; this scale cannot prove it."]
    return [f"Accepted from {grams(window.accepted_from_mg)} to {grams(window.accepted_to_mg)}."]


def reading_if_not_zeroed(pot: Pot, scale: Scale, component: Component, target: int) -> int | None:
    if pot.mix.separate_cups:
        return None
    return target + pot.standing_mg(scale.item_id, component)


def _windows(
    pot: Pot,
    component: Component,
    scale: Scale,
    plans: Sequence[PlannedPour],
    target: int,
    reading: int | None,
    window_of: WindowOf | None,
) -> tuple[PourWindow | None, PourWindow | None]:
    """Limits of what is added, and of where the scale may stand if nobody zeroed it; for the second component alone."""
    first = _OTHER[component]
    inside = pot.poured_mg(first)
    factor = pot.mix.ratio if component == Component.HARDENER else 1 / pot.mix.ratio
    # Below a milligram there is nothing to limit; of what is poured in several goes, the last has limits alone.
    if not inside or len(plans) > 1 or inside * factor < 1:
        return None, None
    if window_of is None:
        if pot.poured_mg(component):
            return None, None
        window_of = _window
    one_scale = not pot.mix.separate_cups and all(
        p.scale_id == scale.item_id for p in pot.pours if p.component == first
    )
    net = window_of(pot, component, scale, zeroed=pot.mix.plan["zeroed"] or not one_scale)
    if net is None or reading is None or reading == target or not one_scale:
        return net, None
    running_on = window_of(pot, component, scale, zeroed=False)
    return net, None if running_on is None else _moved(running_on, reading - target, int(scale.interval_mg))


def _moved(net: PourWindow, before_mg: int, step_mg: int) -> PourWindow:
    """The same limits on the display of a scale that stood there before, on steps that it can show."""
    low, high = net.accepted_from_mg, net.accepted_to_mg
    if low is not None and high is not None:
        low = -(-(low + before_mg) // step_mg) * step_mg
        high = (high + before_mg) // step_mg * step_mg
    if low is None or high is None or low > high:
        low = high = None
    return PourWindow(net.tolerance_from_mg + before_mg, net.tolerance_to_mg + before_mg, low, high)


def as_window(found: AcceptanceLimits) -> PourWindow:
    return PourWindow(
        math.ceil(found.tolerance_low_g * 1000 - 1e-6),
        math.floor(found.tolerance_high_g * 1000 + 1e-6),
        None if found.accepted_low_g is None else round(found.accepted_low_g * 1000),
        None if found.accepted_high_g is None else round(found.accepted_high_g * 1000),
    )


def _window(pot: Pot, component: Component, scale: Scale, *, zeroed: bool) -> PourWindow:
    first = _OTHER[component]
    pours = [p for p in pot.pours if p.component == first]
    first_u = max(reading_u_g(pot.scale(p.scale_id)) for p in pours) if zeroed else None
    facts: dict[str, Any] = {
        "ratio": pot.mix.ratio,
        "tolerance_pct": pot.mix.tolerance_pct,
        "interval_g": scale.interval_mg / 1000,
        "repeatability_g": scale.repeatability_mg / 1000,
        "zeroed": zeroed,
    }
    inside_g = pot.poured_mg(first) / 1000
    if component == Component.HARDENER:
        found = acceptance_limits(resin_g=inside_g, resin_reading_u_g=first_u, resin_readings=len(pours), **facts)
    else:
        found = resin_limits(hardener_g=inside_g, hardener_reading_u_g=first_u, hardener_readings=len(pours), **facts)
    return as_window(found)


def as_shown(mass_mg: int, scale: Scale) -> int:
    """To the nearest step of the display, and at least one."""
    return max(1, round(mass_mg / scale.interval_mg)) * int(scale.interval_mg)
