"""The rates of the cure models, in pieces that are smooth."""

import math
from collections.abc import Callable

from service.formulas.arrhenius import GAS_CONSTANT_J_MOL_K
from service.formulas.cure_models import Autocatalytic, NthOrder, TwoRegime

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
