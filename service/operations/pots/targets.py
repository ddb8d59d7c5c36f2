"""What a pour was to be, in each kind of pot: by its ratio, by a catalyst's line, by the fraction of a blend."""

from schemas.words import Component
from service.operations.pots.blending import blended_target_mg
from service.operations.pots.dosing import dose_target_mg
from service.operations.pots.next_number import target_mg
from service.operations.pots.pot import Pot


def wanted_mg(pot: Pot, component: Component, container: int, *, correction: bool) -> int | None:
    if pot.catalyst is not None:
        return None if pot.strange else dose_target_mg(pot, component, container, correction=correction)
    if pot.blend is not None and component == Component.HARDENER and not correction and not pot.strange:
        blended = pot.named[container].material if container in pot.named else None
        if blended != pot.hardener["material"]:
            return blended_target_mg(pot, container)
    return target_mg(pot, component, container, correction=correction)
