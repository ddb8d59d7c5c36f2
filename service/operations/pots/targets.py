"""What a pour was to be, in each kind of pot: by its ratio, by a catalyst's line, by the fraction of a blend."""

from schemas.words import Component
from service.operations.pots.blending import blend_window, blended_target_mg
from service.operations.pots.dosing import dose_target_mg
from service.operations.pots.next_number import next_pour, target_mg
from service.operations.pots.pot import Pot
from service.operations.pots.told import NextPour


def next_of_blend(pot: Pot) -> NextPour | None:
    """The next number of a pot whose hardener is blended in the cup, the last of them with its limits."""
    hardeners = [p for p in pot.plans if p.component == Component.HARDENER]
    if all(pot.named[p.container_id].material == pot.hardener["material"] for p in hardeners):
        # It was blended in a can before.
        return next_pour(pot)
    return next_pour(pot, target_of=wanted_mg, window_of=blend_window)


def wanted_mg(pot: Pot, component: Component, container: int, *, correction: bool) -> int | None:
    if pot.catalyst is not None:
        return None if pot.strange else dose_target_mg(pot, component, container, correction=correction)
    if pot.blend is not None and component == Component.HARDENER and not correction and not pot.strange:
        blended = pot.named[container].material if container in pot.named else None
        if blended != pot.hardener["material"]:
            return blended_target_mg(pot, container)
    return target_mg(pot, component, container, correction=correction)
