"""The ratio that a cup is judged by, where that hangs on what is in it: a catalyst's line, two hardeners blended."""

from typing import Any

from schemas.words import Component
from service.operations.pots.catalysts import tolerance_of
from service.operations.pots.dosing import base_mg, dose_of
from service.operations.pots.pot import Pot
from service.records.base import known


def settle_ratio(pot: Pot) -> dict[str, Any]:
    """Set a pot's ratio and tolerance by what is in it; the columns that change with them."""
    columns: dict[str, Any] = {}
    if pot.catalyst is not None:
        row = dose_of(pot)
        if row is not None:
            share = base_mg(pot) / pot.resin_mg if pot.resin_mg else 1.0
            columns = {"ratio": row.target_pct / 100 * share, "tolerance_pct": tolerance_of(row)}
    elif pot.blend is not None and not pot.blend["own_ratio"]:
        poured = blended_mg(pot)
        asks = sum(poured[part["material"]] / part["ratio"] for part in pot.blend["of"])
        if all(poured.values()):
            columns = {"ratio": sum(poured.values()) / asks}
    changed = {name: value for name, value in columns.items() if getattr(pot.mix, name) != value}
    for name, value in changed.items():
        setattr(pot.mix, name, value)
    return changed


def blended_mg(pot: Pot) -> dict[int, int]:
    """What is in of each hardener of a blend, by its material; a can that was blended before counts as neither."""
    found = {part["material"]: 0 for part in known(pot.blend)["of"]}
    for pour in pot.pours:
        material = pot.named[pour.container_id].material
        if pour.component == Component.HARDENER and material in found:
            found[material] += known(pour.movement.amount)
    return found
