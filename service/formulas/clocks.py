"""How long a mix may be worked: tables of life by mass and temperature (shop rules 24 to 27).

- ``LifePoint``: one line of a data sheet's table; ``Life``: an answer with what it is worth.
- :func:`life_min`: life of a mass at a temperature, from the table.
- :func:`corrected_deadline_min`: life after a correction has made the pot larger.
- :func:`rule_of_thumb_life`: a single point moved to another temperature, marked as a rule of thumb.
- :func:`tray_deadline_min`: a pot spread out in a tray: what it has lived in the cup stays lived.
- from ``arrhenius``: :func:`activation_energy_kj_mol`, :func:`rate_factor`, :func:`equivalent_age_min`,
  :func:`rule_of_thumb_factor`.

Cup and film have tables of their own, and so has a tray: the caller hands over the right one. A figure from a table
does not replace watching the pot: a cup that warms up is spread out or taken outside, whatever the clock says.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.formulas._life_table import LifeTable, life_table
from service.formulas.arrhenius import (
    activation_energy_kj_mol,
    equivalent_age_min,
    rate_factor,
    rule_of_thumb_factor,
)
from service.formulas.ranges import within

__all__ = [
    "Life",
    "LifePoint",
    "activation_energy_kj_mol",
    "corrected_deadline_min",
    "equivalent_age_min",
    "life_min",
    "rate_factor",
    "rule_of_thumb_factor",
    "rule_of_thumb_life",
    "tray_deadline_min",
]

Bound = Literal["exact", "shorter than", "at least, held at the edge", "rule of thumb"]

SLOWEST_FACTOR = 1.5
"""By how much a life grows for 10 K at the least: the rule of thumb never promises more."""


@dataclass(frozen=True, slots=True)
class LifePoint:
    """One point of a life table.

    Attributes
    ----------
    mass_g : float
        Mass of the mix, above 0 and at most 1e6 [g].
    temperature_c : float
        Temperature of the mix, or of the mould for a film, -20 to 200 [°C].
    life_min : float
        Life, above 0 and at most 1e6 [min].
    """

    mass_g: float
    temperature_c: float
    life_min: float

    def __post_init__(self) -> None:
        _mass("mass_g", self.mass_g)
        _temperature("temperature_c", self.temperature_c)
        within("life_min", self.life_min, 0, 1e6, above=True, unit="min")


@dataclass(frozen=True, slots=True)
class Life:
    """How long a mix may be worked, and what the figure is worth.

    Attributes
    ----------
    minutes : float or None
        Life to work by; None where the table gives no figure [min].
    bound : Bound
        "exact" on the table or between its points; "shorter than" when hotter or heavier than the table; "at least,
        held at the edge" when cooler or lighter, or where only heavier or hotter points speak for it; "rule of thumb"
        [text].
    shorter_than_min : float or None
        The life that it stays below, where there is no figure and the table proves one [min].
    sentence : str
        The same in words [text].
    """

    minutes: float | None
    bound: Bound
    shorter_than_min: float | None
    sentence: str


def _mass(argument: str, value: float) -> float:
    return within(argument, value, 0, 1e6, above=True, unit="g")


def _temperature(argument: str, value: float) -> float:
    return within(argument, value, -20, 200, unit="°C")


def life_min(*, points: Sequence[LifePoint], mass_g: float, temperature_c: float) -> Life:
    """Life of a mass of mix at a temperature, from a table.

    Formula: ``ln(life)`` is linear in temperature between the points of one mass, and linear in ``ln(mass)`` between
    the masses. Hotter or heavier than the table, there is no figure, only the life at the nearest edge that it stays
    below. Cooler or lighter, the life at the nearest edge is kept, never a longer one. In a ragged table, a point is
    the least life of all that is lighter and cooler, and the longest of all that is heavier and hotter.

    Parameters
    ----------
    points : sequence of LifePoint
        The table: any number of masses, each with its own temperatures; one point is a table too [g, °C, min].
    mass_g : float
        Mass of the mix [g].
    temperature_c : float
        Temperature of the mix, or of the mould for a film [°C].

    Returns
    -------
    Life
        Minutes, or what they stay below, with what the figure is worth [min].

    Raises
    ------
    OutOfRange
        If the table is empty, names a point twice, or gives a hotter or heavier mix the longer life; if the mass or
        the temperature is outside its range.

    Valid range
    -----------
    1 to 400 points of at most 10,000 masses times temperatures; mass above 0 and at most 1e6 g; temperature -20 to
    200 °C.

    Examples
    --------
    >>> table = [LifePoint(100, 20, 40), LifePoint(100, 30, 20), LifePoint(400, 20, 30), LifePoint(400, 30, 15)]
    >>> life_min(points=table, mass_g=200, temperature_c=25).minutes
    24.49
    >>> life_min(points=table, mass_g=200, temperature_c=35).sentence
    'Shorter than 17.3 min: 35 °C is hotter than the table (30 °C).'
    >>> ragged = [LifePoint(100, 20, 40), LifePoint(500, 25, 20)]
    >>> life_min(points=ragged, mass_g=600, temperature_c=20).shorter_than_min
    40.0
    >>> life_min(points=ragged, mass_g=300, temperature_c=25).sentence
    '20.0 min, held at the edge of the table: for 300 g at 25 °C it goes by what heavier or hotter pots live.'

    Source
    ------
    Shop rule 26. Linear in ln(life) is the Arrhenius equation over a narrow range of temperature; linear in ln(mass) is
    common practice, no source.
    """
    table = life_table(points)
    mass, temperature = _mass("mass_g", mass_g), _temperature("temperature_c", temperature_c)
    found = table.at(mass, temperature)
    single = " The table has one point only." if len(points) == 1 else ""
    if found.log_life is None:
        reasons = _beyond(table, mass, temperature)
        if found.log_below is None:
            return Life(None, "shorter than", None, f"No figure: {reasons}.{single}")
        below = math.exp(found.log_below)
        return Life(None, "shorter than", below, f"Shorter than {below:.1f} min: {reasons}.{single}")
    minutes = math.exp(found.log_life)
    edges = _edges(table, mass, temperature, proved_only=found.proved_only)
    if edges:
        sentence = f"{minutes:.1f} min, held at the edge of the table: {edges}.{single}"
        return Life(minutes, "at least, held at the edge", None, sentence)
    return Life(minutes, "exact", None, f"{minutes:.1f} min at {temperature:g} °C for {mass:g} g.{single}")


def _beyond(table: LifeTable, mass: float, temperature: float) -> str:
    """Why there is no figure."""
    hottest, heaviest = table.temperatures[-1], table.masses[-1]
    reasons = []
    if temperature > hottest:
        reasons.append(f"{temperature:g} °C is hotter than the table ({hottest:g} °C)")
    if mass > heaviest:
        reasons.append(f"{mass:g} g is heavier than the table ({heaviest:g} g)")
    return " and ".join(reasons) or f"the table has nothing as heavy as {mass:g} g at {temperature:g} °C or hotter"


def _edges(table: LifeTable, mass: float, temperature: float, *, proved_only: bool) -> str:
    """Why a figure is one that the life is at least."""
    coolest, lightest = table.temperatures[0], table.masses[0]
    reasons = []
    if temperature < coolest:
        reasons.append(f"{temperature:g} °C is cooler than the table ({coolest:g} °C)")
    if mass < lightest:
        reasons.append(f"{mass:g} g is lighter than the table ({lightest:g} g)")
    if proved_only:
        reasons.append(f"for {mass:g} g at {temperature:g} °C it goes by what heavier or hotter pots live")
    return " and ".join(reasons)


def corrected_deadline_min(
    *, points: Sequence[LifePoint], mass_before_g: float, mass_after_g: float, temperature_c: float
) -> Life:
    """Minutes from first contact until a pot is to be used up, after a correction has made it larger.

    The clock is not set back: the deadline stays with first contact and is shortened for the new mass.

    Parameters
    ----------
    points : sequence of LifePoint
        The cup's table [g, °C, min].
    mass_before_g : float
        Mass of the mix before the correction [g].
    mass_after_g : float
        Mass after it [g].
    temperature_c : float
        Temperature of the mix [°C].

    Returns
    -------
    Life
        Minutes from first contact, or what they stay below [min].

    Raises
    ------
    OutOfRange
        If the mass has become smaller, or see ``life_min``.

    Valid range
    -----------
    As ``life_min``; the mass after is at least the mass before.

    Examples
    --------
    >>> table = [LifePoint(100, 20, 40), LifePoint(400, 20, 30)]
    >>> corrected_deadline_min(points=table, mass_before_g=100, mass_after_g=110, temperature_c=20).minutes
    39.2

    Source
    ------
    Shop rule 20.
    """
    before = _mass("mass_before_g", mass_before_g)
    after = within("mass_after_g", mass_after_g, before, 1e6, unit="g")
    return life_min(points=points, mass_g=after, temperature_c=temperature_c)


def rule_of_thumb_life(*, point: LifePoint, temperature_c: float) -> Life:
    """Life at another temperature from a single point, by the rule of thumb.

    Formula: hotter ``life * 2^((T_point - T)/10)``; cooler ``life * 1.5^((T_point - T)/10)``, the slow end of real
    resins, so that it never promises more than that; for the mass of the point and no heavier one.

    Parameters
    ----------
    point : LifePoint
        What the data sheet gives [g, °C, min].
    temperature_c : float
        Temperature, T [°C].

    Returns
    -------
    Life
        Minutes, marked "rule of thumb" [min].

    Raises
    ------
    OutOfRange
        If the temperature lies more than 20 K from the point's.

    Valid range
    -----------
    -20 to 200 °C, at most 20 K from the point.

    Examples
    --------
    >>> rule_of_thumb_life(point=LifePoint(100, 20, 70), temperature_c=30).minutes
    35.0

    Source
    ------
    Published support notes of resin makers: gel time halves for every 18 °F (10 K). A rule of thumb; the limit of 20 K
    is common practice, no source.
    """
    _temperature("temperature_c", temperature_c)
    within("temperature_c", temperature_c, point.temperature_c - 20, point.temperature_c + 20, unit="°C")
    cooler_by = point.temperature_c - temperature_c
    if cooler_by > 0:
        minutes, said = point.life_min * SLOWEST_FACTOR ** (cooler_by / 10), f"{SLOWEST_FACTOR:g} times for 10 K cooler"
    else:
        minutes = point.life_min / rule_of_thumb_factor(temperature_c=temperature_c, reference_c=point.temperature_c)
        said = "half for every 10 K"
    sentence = (
        f"About {minutes:.0f} min by rule of thumb ({said}), from {point.life_min:g} min at "
        f"{point.temperature_c:g} °C for {point.mass_g:g} g. A heavier pot lives shorter."
    )
    return Life(minutes, "rule of thumb", None, sentence)


def tray_deadline_min(*, cup_life_min: float, tray_life_min: float, moved_after_min: float) -> float:
    """Minutes from first contact until a pot that was moved into a tray is to be used up.

    Formula: ``t + (1 - t/L_cup)*L_tray``, and ``L_cup`` where t has reached it. The share of its life that the mix has
    spent in the cup is spent; the rest runs by the tray's table. That is never later than the tray's life counted from
    first contact, as long as the tray's life is the longer one.

    Parameters
    ----------
    cup_life_min : float
        Life in the cup at the mass and temperature of the mix, L_cup [min].
    tray_life_min : float
        Life in the tray by its own table, L_tray [min].
    moved_after_min : float
        When it was moved, from first contact, t [min].

    Returns
    -------
    float
        Minutes from first contact [min].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Lives above 0 and at most 1e6 min; moved after 0 to 1e6 min.

    Examples
    --------
    >>> tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=10)
    50.0
    >>> tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=40)
    30.0

    Source
    ------
    Common practice, no source: shares of life used up add to one, as in an equivalent age.
    """
    cup = within("cup_life_min", cup_life_min, 0, 1e6, above=True, unit="min")
    tray = within("tray_life_min", tray_life_min, 0, 1e6, above=True, unit="min")
    moved = within("moved_after_min", moved_after_min, 0, 1e6, unit="min")
    if moved >= cup:
        return cup
    return moved + (1 - moved / cup) * tray
