"""The heat of a mix, and what to do with a cup that is left over.

- :func:`adiabatic_rise_k`: how hot a mix would get if no heat escaped.
- ``CupAdvice``: advice with its level; :func:`left_cup_advice`: for a cup with resin left in it.

The advice is general. The safety data sheet of the product, the data sheet, local rules and the shop's own fire
procedure come first.
"""

from dataclasses import dataclass
from typing import Literal, get_args

from service.formulas.ranges import OutOfRange, within

__all__ = ["CupAdvice", "adiabatic_rise_k", "left_cup_advice"]

CupState = Literal["cool", "warm", "smoking"]
Level = Literal["spread out", "act now", "keep away"]

LATE_SHARE_OF_LIFE = 0.75
"""From here on a cool cup is treated as a warm one: common practice, no source."""

DEFER = "The safety data sheet, the data sheet and the local rules come first."


@dataclass(frozen=True, slots=True)
class CupAdvice:
    """What to do with a cup.

    Attributes
    ----------
    level : str
        "spread out", "act now" or "keep away" [text].
    sentence : str
        What to do [text].
    """

    level: Level
    sentence: str


def adiabatic_rise_k(*, heat_of_reaction_j_g: float, heat_capacity_j_g_k: float) -> float:
    """Rise of temperature of a mix if no heat escaped: an upper bound for a large pot.

    Formula: ``dT = H/c``.

    Parameters
    ----------
    heat_of_reaction_j_g : float
        Heat of the full reaction per gram of mix, H [J/g].
    heat_capacity_j_g_k : float
        Specific heat capacity of the mix, c [J/(g K)].

    Returns
    -------
    float
        Rise [K].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Heat 0 to 2000 J/g; heat capacity 0.5 to 5 J/(g K).

    Examples
    --------
    >>> adiabatic_rise_k(heat_of_reaction_j_g=473.6, heat_capacity_j_g_k=2.0)
    236.8

    Source
    ------
    Balance of heat. Heat of the example: Lee, Loos and Springer, J. Composite Materials 16 (1982) 510 (from memory; a
    program that names it has the same, read: https://github.com/yvanblanchard/CuringThermoSetWithCalculix).
    """
    heat = within("heat_of_reaction_j_g", heat_of_reaction_j_g, 0, 2000, unit="J/g")
    return heat / within("heat_capacity_j_g_k", heat_capacity_j_g_k, 0.5, 5, unit="J/(g K)")


def left_cup_advice(*, mass_g: float, mass_limit_g: float, age_fraction: float, cup_state: CupState) -> CupAdvice:
    """What to do with a cup that has mixed resin left in it.

    A smoking cup: keep away. A warm one, or one above the mass that the resin system allows in a cup, or late in its
    pot life: act now. Otherwise: spread it out before it warms.

    Parameters
    ----------
    mass_g : float
        Mixed resin left in the cup [g].
    mass_limit_g : float
        Mass above which the shop leaves no mixed resin of this system in a cup [g].
    age_fraction : float
        Time since first contact over the pot life [-].
    cup_state : str
        "cool", "warm" or "smoking", as found without leaning over it [text].

    Returns
    -------
    CupAdvice
        Level and what to do [text].

    Raises
    ------
    OutOfRange
        If a number is outside its range, or the state is another word.

    Valid range
    -----------
    Mass 0 to 1e6 g; limit above 0 and at most 1e6 g; age 0 to 1e6.

    Examples
    --------
    >>> left_cup_advice(mass_g=380, mass_limit_g=200, age_fraction=0.5, cup_state="cool").level
    'act now'

    Source
    ------
    Flat wide containers for large amounts: US Army TM 1-1500-204-23-11. No foam or glass cups: published notes of boat
    resin makers. The rest is common practice, no source.
    """
    mass = within("mass_g", mass_g, 0, 1e6, unit="g")
    limit = within("mass_limit_g", mass_limit_g, 0, 1e6, above=True, unit="g")
    age = within("age_fraction", age_fraction, 0, 1e6)
    if cup_state not in get_args(CupState):
        raise OutOfRange("cup_state", repr(cup_state)[:40], f"one of {', '.join(get_args(CupState))}")
    if cup_state == "smoking":
        return CupAdvice(
            "keep away",
            "Do not move the cup and do not lean over it: the vapour harms and the cup may burn. Leave the room, warn "
            f"the others, ventilate if it can be done from outside, and follow the fire procedure. {DEFER}",
        )
    if cup_state == "warm" or mass > limit or age >= LATE_SHARE_OF_LIFE:
        if cup_state == "warm":
            reason = "The cup is warm"
        elif mass > limit:
            reason = f"{mass:.0f} g are more than the {limit:.0f} g that may stay in a cup"
        else:
            reason = f"{100 * age:.0f} % of the pot life is gone"
        return CupAdvice(
            "act now",
            f"{reason}. With gloves and eye protection, pour it at once into a flat metal tray, a thin layer, and set "
            "it outside on bare ground, away from people and from anything that burns. If it is too hot to hold or "
            f"begins to smoke, leave it and keep away. {DEFER}",
        )
    return CupAdvice(
        "spread out",
        "Spread the rest thin in a flat tray before it warms, keep the labelled cup for the check tomorrow, and throw "
        f"nothing into a bin before it is hard and cold. {DEFER}",
    )
