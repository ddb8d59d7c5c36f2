"""Models of the cure of a resin, with the constants fitted for it.

- ``NthOrder``, ``Autocatalytic`` (with ``DiffusionFactor``), ``TwoRegime``.

What is computed with them stands in ``kinetics``.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from service.formulas.arrhenius import GAS_CONSTANT_J_MOL_K
from service.formulas.ranges import OutOfRange, within

__all__ = ["Autocatalytic", "DiffusionFactor", "NthOrder", "TwoRegime"]


@dataclass(frozen=True, slots=True)
class NthOrder:
    """``da/dt = A exp(-E/RT) (1 - a)^n``.

    Attributes
    ----------
    pre_exponential_per_min : float
        A [1/min].
    activation_energy_kj_mol : float
        E [kJ/mol].
    order : float
        n, 0.1 to 10 [-].
    """

    pre_exponential_per_min: float
    activation_energy_kj_mol: float
    order: float

    def __post_init__(self) -> None:
        _constants(self.pre_exponential_per_min, self.activation_energy_kj_mol)
        within("order", self.order, 0.1, 10)


@dataclass(frozen=True, slots=True)
class DiffusionFactor:
    """``1 / (1 + exp(C (a - (a0 + aT T))))``, T in kelvin: the reaction slows down as the resin turns to glass.

    Attributes
    ----------
    steepness : float
        C, above 0 and at most 1000 [-].
    critical_degree : float
        a0, the critical degree extrapolated to 0 K [-].
    critical_degree_per_k : float
        aT [1/K].
    """

    steepness: float
    critical_degree: float
    critical_degree_per_k: float

    def __post_init__(self) -> None:
        within("steepness", self.steepness, 0, 1000, above=True)
        within("critical_degree", self.critical_degree, -10, 10)
        within("critical_degree_per_k", self.critical_degree_per_k, 0, 1, unit="1/K")


@dataclass(frozen=True, slots=True)
class Autocatalytic:
    """``da/dt = A exp(-E/RT) a^m (1 - a)^n``, with a diffusion factor or without one.

    Attributes
    ----------
    pre_exponential_per_min : float
        A [1/min].
    activation_energy_kj_mol : float
        E [kJ/mol].
    order_of_degree : float
        m, 0 to 10 [-].
    order_of_rest : float
        n, 0.1 to 10 [-].
    diffusion : DiffusionFactor or None
        Slows the reaction down near the glass transition [-].
    """

    pre_exponential_per_min: float
    activation_energy_kj_mol: float
    order_of_degree: float
    order_of_rest: float
    diffusion: DiffusionFactor | None = None

    def __post_init__(self) -> None:
        _constants(self.pre_exponential_per_min, self.activation_energy_kj_mol)
        within("order_of_degree", self.order_of_degree, 0, 10)
        within("order_of_rest", self.order_of_rest, 0.1, 10)


@dataclass(frozen=True, slots=True)
class TwoRegime:
    """``(K1 + K2 a)(1 - a)(B - a)`` up to the switch, ``K3 (1 - a)`` above it, ``Ki = Ai exp(-Ei/RT)``.

    The rate jumps at the switch. Where the first form would fall below zero, the cure stands still.

    Attributes
    ----------
    pre_exponentials_per_min : tuple of three floats
        A1, A2 and A3; A2 may be below zero [list of 1/min].
    activation_energies_kj_mol : tuple of three floats
        E1, E2 and E3 [list of kJ/mol].
    end_of_first : float
        B, at which the first form would end [-].
    switch_degree : float
        Degree of cure at the switch, below B [-].
    """

    pre_exponentials_per_min: tuple[float, float, float]
    activation_energies_kj_mol: tuple[float, float, float]
    end_of_first: float
    switch_degree: float

    def __post_init__(self) -> None:
        for name, three in (
            ("pre_exponentials_per_min", self.pre_exponentials_per_min),
            ("activation_energies_kj_mol", self.activation_energies_kj_mol),
        ):
            if len(three) != 3:
                raise OutOfRange(name, f"a list of {len(three)}", "a list of three numbers")
        for number, (factor, energy) in enumerate(
            zip(self.pre_exponentials_per_min, self.activation_energies_kj_mol, strict=True)
        ):
            low = -1e30 if number == 1 else 0
            within(f"pre_exponentials_per_min[{number}]", factor, low, 1e30, above=True, unit="1/min")
            within(f"activation_energies_kj_mol[{number}]", energy, 0, 500, unit="kJ/mol")
        within("end_of_first", self.end_of_first, 0, 1, above=True)
        within("switch_degree", self.switch_degree, 0, self.end_of_first, above=True, below=True)


def _constants(pre_exponential: float, energy: float) -> None:
    within("pre_exponential_per_min", pre_exponential, 0, 1e30, above=True, unit="1/min")
    within("activation_energy_kj_mol", energy, 0, 500, unit="kJ/mol")


Model = NthOrder | Autocatalytic | TwoRegime

Rate = Callable[[float, float], float]
"""From degree of cure and temperature [K] to the rate [1/min]."""


def _arrhenius(pre_exponential: float, energy_kj_mol: float, kelvin: float) -> float:
    return pre_exponential * math.exp(-1000 * energy_kj_mol / (GAS_CONSTANT_J_MOL_K * kelvin))


def regimes(model: Model) -> list[tuple[float, Rate]]:
    """Smooth pieces of the rate, each with the degree at which it ends."""
    if isinstance(model, NthOrder):
        first, energy, order = model.pre_exponential_per_min, model.activation_energy_kj_mol, model.order
        return [(1.0, lambda degree, kelvin: _arrhenius(first, energy, kelvin) * (1 - degree) ** order)]
    if isinstance(model, Autocatalytic):
        return [(1.0, lambda degree, kelvin: _autocatalytic(model, degree, kelvin))]
    factors, energies = model.pre_exponentials_per_min, model.activation_energies_kj_mol

    def below(degree: float, kelvin: float) -> float:
        k1, k2 = (_arrhenius(factors[i], energies[i], kelvin) for i in (0, 1))
        return max(0.0, (k1 + k2 * degree) * (1 - degree) * (model.end_of_first - degree))

    def above(degree: float, kelvin: float) -> float:
        return _arrhenius(factors[2], energies[2], kelvin) * (1 - degree)

    return [(model.switch_degree, below), (1.0, above)]


def _autocatalytic(model: Autocatalytic, degree: float, kelvin: float) -> float:
    rate = _arrhenius(model.pre_exponential_per_min, model.activation_energy_kj_mol, kelvin)
    rate *= degree**model.order_of_degree * (1 - degree) ** model.order_of_rest
    if model.diffusion is None:
        return rate
    slow = model.diffusion
    exponent = slow.steepness * (degree - (slow.critical_degree + slow.critical_degree_per_k * kelvin))
    return rate / (1 + math.exp(min(exponent, 700)))
