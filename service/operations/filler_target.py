"""How much filler or pigment a pot takes for a stated percentage, by what was really poured."""

from dataclasses import dataclass

from schemas.words import CountedOn
from service.formulas.additives import additive_g
from service.operations.pots import find_pot, grams
from service.operations.refusals import WrongState


@dataclass(frozen=True, slots=True)
class FillerTarget:
    percent: float
    of: str
    counted_on_mg: int
    target_mg: int
    in_mg: int
    add_mg: int
    sentence: str


def filler_target(mix: str, *, percent: float, of: CountedOn) -> FillerTarget:
    """How much filler the pot takes for a percentage of its resin or of resin and hardener, less what is in it."""
    pot = find_pot(mix)
    if not pot.resin_mg or (of == CountedOn.MIX and not pot.hardener_mg):
        raise WrongState(
            f"{'Resin and hardener are' if of == CountedOn.MIX else 'The resin is'} not in {pot.item.code} yet.",
            way_out="Filler goes in after resin and hardener were weighed and stirred.",
        )
    target = round(
        1000
        * additive_g(
            percent=percent,
            of=of.value,
            resin_g=pot.resin_mg / 1000,
            hardener_g=pot.hardener_mg / 1000 if of == CountedOn.MIX else None,
        )
    )
    inside = sum(m.amount for m in pot.fillers)
    base = pot.resin_mg if of == CountedOn.RESIN else pot.total_mg
    add = max(0, target - inside)
    what = "resin" if of == CountedOn.RESIN else "resin and hardener"
    sentence = f"{percent:g} % of {grams(base)} of {what} is {grams(target)}"
    sentence += f"; {grams(inside)} of filler is in, add {grams(add)}." if inside else f": add {grams(add)}."
    return FillerTarget(percent, str(of), base, target, inside, add, sentence)
