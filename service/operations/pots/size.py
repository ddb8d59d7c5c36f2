"""How much of each component a pot takes, asked for by its total, its resin or the hardener that is left."""

from schemas.words import Component
from service.formulas.ratio import hardener_target_g, resin_target_g, split_total
from service.operations.door.refusals import PotTooLarge, Unprocessable
from service.operations.ledger.amounts import grams
from service.records.materials import ResinSystem


def pot_size(
    row: ResinSystem, ratio: float, *, total_mg: int | None, resin_mg: int | None, hardener_mg: int | None
) -> dict[Component, int]:
    """Resin and hardener of a pot that was asked for by its total, its resin, or the hardener that is left."""
    if sum(given is not None for given in (total_mg, resin_mg, hardener_mg)) != 1:
        raise Unprocessable(
            "Say how much, in one way: resin and hardener together, the resin, or the hardener.", pointer="/total_g"
        )
    if total_mg is not None:
        resin_mg = round(split_total(total_g=total_mg / 1000, ratio=ratio).resin_g * 1000)
        hardener_mg = total_mg - resin_mg
    elif resin_mg is not None:
        hardener_mg = round(hardener_target_g(resin_g=resin_mg / 1000, ratio=ratio) * 1000)
    resin_mg = resin_mg or round(resin_target_g(hardener_g=(hardener_mg or 0) / 1000, ratio=ratio) * 1000)
    hardener_mg = hardener_mg or 0
    if resin_mg < 1 or hardener_mg < 1:
        raise Unprocessable(
            "So small a pot cannot be weighed: a component would be under a milligram.", pointer="/total_g"
        )
    total = resin_mg + hardener_mg
    if total > row.largest_pot_mg:
        pots = -(-total // row.largest_pot_mg)
        raise PotTooLarge(
            f"{grams(total)} is more than the largest pot of {row.name}, {grams(row.largest_pot_mg)}.",
            way_out=f"Mix {pots} pots of {grams(-(-total // pots))}, one after the other.",
            largest_g=row.largest_pot_mg / 1000,
            pots=pots,
        )
    return {Component.RESIN: resin_mg, Component.HARDENER: hardener_mg}
