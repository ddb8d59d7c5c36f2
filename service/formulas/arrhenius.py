"""How temperature speeds up and slows down the ageing of a resin.

- :func:`activation_energy_kj_mol`: from two lives at two temperatures.
- :func:`rate_factor`: how many times faster at one temperature than at another.
- :func:`equivalent_age_min`: a temperature history as minutes at one temperature.
- :func:`rule_of_thumb_factor`: twice as fast for every 10 K.

An equivalent time never replaces a stated post-cure (shop rule 37): a resin vitrifies some 10 to 20 K above its cure
temperature and stops, whatever the sum says. Cup and film each have an activation energy of their own (shop rule 24).
"""

import math
from collections.abc import Sequence

from service.formulas.ranges import OutOfRange, within

__all__ = ["activation_energy_kj_mol", "equivalent_age_min", "rate_factor", "rule_of_thumb_factor"]

GAS_CONSTANT_J_MOL_K = 8.314462618
ZERO_CELSIUS_K = 273.15
LARGEST_STEP_K = 5.0
"""Five points of Gauss and Legendre over 5 K of an Arrhenius curve err by less than 1e-7 of what it brings up to 200
kJ/mol at -60 °C, where the curve is steepest, and by less than 1e-4 at 500 kJ/mol there."""

# Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4, n = 5; the digits
# agree with a reprint of Riley, Hobson and Bence, table 27.8 (read), and a test integrates powers.
_HALF = ((0.0, 128 / 225), *(
    (sign * math.sqrt(5 + bend * 2 * math.sqrt(10 / 7)) / 3, (322 - bend * 13 * math.sqrt(70)) / 900)
    for sign in (-1, 1)
    for bend in (-1, 1)
))  # fmt: skip
_GAUSS = tuple(((1 + place) / 2, weight / 2) for place, weight in _HALF)
"""Places within a step, and what each weighs."""


def _kelvin(argument: str, temperature_c: float) -> float:
    """Hand back a temperature of the workshop, oven or freezer [K], or refuse it."""
    return within(argument, temperature_c, -60, 400, unit="°C") + ZERO_CELSIUS_K


def _energy(value: float) -> float:
    return within("activation_energy_kj_mol", value, 0, 500, unit="kJ/mol")


def activation_energy_kj_mol(
    *, temperature_1_c: float, life_1_min: float, temperature_2_c: float, life_2_min: float
) -> float:
    """Activation energy from two lives (pot life, gel time) of the same mass at two temperatures.

    Formula: ``E = R ln(t1/t2) / (1/T1 - 1/T2)``.

    Parameters
    ----------
    temperature_1_c : float
        Cooler temperature, T1 [°C].
    life_1_min : float
        Life at it, t1 [min].
    temperature_2_c : float
        Hotter temperature, T2 [°C].
    life_2_min : float
        Life at it, t2 [min].

    Returns
    -------
    float
        Activation energy [kJ/mol].

    Raises
    ------
    OutOfRange
        If a number is outside its range, the second temperature is not at least 1 K hotter, or its life is longer.

    Valid range
    -----------
    Temperatures -60 to 400 °C; lives above 0 and at most 1e7 min, the hotter one not the longer.

    Examples
    --------
    >>> activation_energy_kj_mol(temperature_1_c=20, life_1_min=60, temperature_2_c=30, life_2_min=30)
    51.22

    Source
    ------
    Arrhenius equation; R = 8.314462618 J/(mol K), CODATA 2018.
    """
    first, second = _kelvin("temperature_1_c", temperature_1_c), _kelvin("temperature_2_c", temperature_2_c)
    within("temperature_2_c", temperature_2_c, temperature_1_c + 1, 400, unit="°C")
    longer = within("life_1_min", life_1_min, 0, 1e7, above=True, unit="min")
    shorter = within("life_2_min", life_2_min, 0, longer, above=True, unit="min")
    return GAS_CONSTANT_J_MOL_K * math.log(longer / shorter) / (1 / first - 1 / second) / 1000


def rate_factor(*, temperature_c: float, reference_c: float, activation_energy_kj_mol: float) -> float:
    """How many times faster a resin ages at one temperature than at the reference.

    Formula: ``exp(-(E/R)(1/T - 1/T_ref))``.

    Parameters
    ----------
    temperature_c : float
        Temperature, T [°C].
    reference_c : float
        Reference temperature, T_ref [°C].
    activation_energy_kj_mol : float
        Activation energy, E [kJ/mol].

    Returns
    -------
    float
        Factor [-]; 1 at the reference.

    Raises
    ------
    OutOfRange
        If a temperature or the energy is outside its range.

    Valid range
    -----------
    Temperatures -60 to 400 °C; energy 0 to 500 kJ/mol.

    Examples
    --------
    >>> rate_factor(temperature_c=30, reference_c=23, activation_energy_kj_mol=50)
    1.5982

    Source
    ------
    Arrhenius equation.
    """
    temperature, reference = _kelvin("temperature_c", temperature_c), _kelvin("reference_c", reference_c)
    energy = 1000 * _energy(activation_energy_kj_mol)
    return math.exp(-energy / GAS_CONSTANT_J_MOL_K * (1 / temperature - 1 / reference))


def equivalent_age_min(
    *,
    times_min: Sequence[float],
    temperatures_c: Sequence[float],
    reference_c: float,
    activation_energy_kj_mol: float,
) -> float:
    """Minutes at the reference temperature that age a resin as much as a temperature history did.

    Formula: ``t_eq = integral of exp(-(E/R)(1/T - 1/T_ref)) dt``, straight lines between the samples, each of them
    integrated by Gauss and Legendre's rule of five points in steps of at most 5 K. The same time given twice is a jump.

    Parameters
    ----------
    times_min : sequence of float
        Times, not descending, at least two [list of min].
    temperatures_c : sequence of float
        Temperature at each of them [list of °C].
    reference_c : float
        Reference temperature, T_ref [°C].
    activation_energy_kj_mol : float
        Activation energy, E [kJ/mol].

    Returns
    -------
    float
        Equivalent age [min].

    Raises
    ------
    OutOfRange
        If a number is outside its range, times descend, or the lists differ in length.

    Valid range
    -----------
    2 to 1,000,000 samples; times 0 to 1e8 min; temperatures -60 to 400 °C; energy 0 to 500 kJ/mol. A sum of Arrhenius
    factors holds while the resin is not glassy and the mix does not heat itself unseen.

    Examples
    --------
    >>> equivalent_age_min(
    ...     times_min=[0, 60, 60, 120], temperatures_c=[23, 23, 30, 30], reference_c=23, activation_energy_kj_mol=50
    ... )
    155.9

    Source
    ------
    Arrhenius equation, summed as in maturity methods; common practice, no source, for the summing.
    """
    if not 2 <= len(times_min) <= 1_000_000:
        raise OutOfRange("times_min", f"a list of {len(times_min)}", "a list of 2 to 1,000,000 times")
    if len(temperatures_c) != len(times_min):
        given = f"a list of {len(temperatures_c)}"
        raise OutOfRange("temperatures_c", given, f"a list of {len(times_min)}, one for each time")
    reference = _kelvin("reference_c", reference_c)
    slope = 1000 * _energy(activation_energy_kj_mol) / GAS_CONSTANT_J_MOL_K

    def factor(temperature_k: float) -> float:
        return math.exp(slope * (1 / reference - 1 / temperature_k))

    pieces = []
    earlier = within("times_min[0]", times_min[0], 0, 1e8, unit="min")
    cooler = _kelvin("temperatures_c[0]", temperatures_c[0])
    for index in range(1, len(times_min)):
        later = within(f"times_min[{index}]", times_min[index], earlier, 1e8, unit="min")
        hotter = _kelvin(f"temperatures_c[{index}]", temperatures_c[index])
        steps = max(1, math.ceil(abs(hotter - cooler) / LARGEST_STEP_K))
        rise, width = (hotter - cooler) / steps, (later - earlier) / steps
        for step in range(steps if width > 0 else 0):
            low = cooler + rise * step
            pieces.append(width * math.fsum(weight * factor(low + rise * place) for place, weight in _GAUSS))
        earlier, cooler = later, hotter
    return math.fsum(pieces)


def rule_of_thumb_factor(*, temperature_c: float, reference_c: float) -> float:
    """How many times faster at one temperature than at another, by the rule of thumb.

    Formula: ``2^((T - T_ref)/10)``. Real resins lie between 1.5 and 2.5 for every 10 K.

    Parameters
    ----------
    temperature_c : float
        Temperature, T [°C].
    reference_c : float
        Reference temperature, T_ref [°C].

    Returns
    -------
    float
        Factor [-]; 1 at the reference.

    Raises
    ------
    OutOfRange
        If a temperature is outside -60 to 400 °C, or the two lie more than 40 K apart.

    Valid range
    -----------
    Temperatures -60 to 400 °C, at most 40 K between the two.

    Examples
    --------
    >>> rule_of_thumb_factor(temperature_c=30, reference_c=23)
    1.6245

    Source
    ------
    Published support notes of resin makers: gel time halves for every 18 °F (10 K). A rule of thumb.
    """
    _kelvin("temperature_c", temperature_c)
    _kelvin("reference_c", reference_c)
    within("temperature_c", temperature_c, reference_c - 40, reference_c + 40, unit="°C")
    return float(2 ** ((temperature_c - reference_c) / 10))
