"""How far a resin system with fitted constants of its own has reacted in a cure (shop rule 37).

Drawn only where the resin system names constants and their source, and never in place of a stated cure. A system's
constants, as its document has them::

    {"source": "…",
     "kinetics": {"model": "nth order", "pre_exponential_per_min": …, "activation_energy_kj_mol": …, "order": …},
     "glass_transition": {"uncured_c": …, "cured_c": …, "dibenedetto_lambda": …}}

``model`` is "nth order", "autocatalytic" (with "initial_degree" above zero, and "diffusion" if there is a factor) or
"two regimes"; the fields are those of the models in ``service.formulas.cure_models``.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from service.formulas.cure_log import Log, gap_limit_min
from service.formulas.ranges import OutOfRange
from service.operations.graph import closure
from service.records.materials import ResinSystem
from service.records.mixes import Mix


def systems_in(parts: Iterable[int]) -> list[ResinSystem]:
    """The resin systems with constants of their own that these parts were made with."""
    made_of = {item for ids in closure(parts, back=True).values() for item in ids}
    mixes = Mix.select(Mix.system).where(Mix.item.in_(made_of))
    query = ResinSystem.select().where(ResinSystem.id.in_(mixes) & ResinSystem.constants.is_null(False))
    return [row for row in query.order_by(ResinSystem.id) if row.constants and row.constants.get("kinetics")]


def reacted(parts: Iterable[int], *, log: Log, probe: str, reference_c: float) -> list[dict[str, Any]]:
    """For each system its degree of cure after this cure alone, by the coldest part probe, and what follows from it."""
    systems = systems_in(parts)
    if not systems:
        return []
    samples = [(t, v) for t, v in zip(log.times_min, log.probes[probe], strict=True) if v is not None]
    times, temperatures = [t for t, _ in samples], [v for _, v in samples]
    answers = []
    for system in systems:
        answer: dict[str, Any] = {
            "system": system.name,
            "revision": system.revision,
            "source": system.constants.get("source"),
            "probe": probe,
            "degree_of_cure": None,
            "glass_transition_c": None,
            "reference_c": reference_c,
            "equivalent_min": None,
        }
        try:
            answer |= _worked_out(system.constants, times, temperatures, log, reference_c)
        except OutOfRange as wrong:
            answer["sentence"] = f"Not known: {wrong}"
        except (TypeError, KeyError, ValueError):
            answer["sentence"] = "Not known: the constants of the system lack a field, or have one that no model has."
        answers.append(answer)
    return answers


def _worked_out(
    constants: Mapping[str, Any], times: Sequence[float], temperatures: Sequence[float], log: Log, reference_c: float
) -> dict[str, Any]:
    from service.formulas.kinetics import degree_of_cure, glass_transition_c, time_to_degree_min

    longest = gap_limit_min(times_min=log.times_min)
    if any(later - earlier > longest for earlier, later in pairwise(times)):
        return {"sentence": "Not known: the log has gaps."}
    model, initial = _model(dict(constants["kinetics"]))
    degree = degree_of_cure(model=model, times_min=times, temperatures_c=temperatures, initial=initial)[-1]
    answer: dict[str, Any] = {
        "degree_of_cure": round(degree, 4),
        "sentence": "Counted over this cure alone. A figure from a model never replaces a stated cure.",
    }
    if constants.get("glass_transition"):
        answer["glass_transition_c"] = round(
            glass_transition_c(degree_of_cure=degree, **constants["glass_transition"]), 1
        )
    try:
        answer["equivalent_min"] = round(
            time_to_degree_min(model=model, temperature_c=reference_c, degree=max(degree, initial), initial=initial), 1
        )
    except OutOfRange:
        # At the reference temperature alone this degree is not reached: there is no such time.
        answer["equivalent_min"] = None
    return answer


def _model(fields: dict[str, Any]) -> tuple[Any, float]:
    from service.formulas.cure_models import Autocatalytic, DiffusionFactor, NthOrder, TwoRegime

    kinds = {"nth order": NthOrder, "autocatalytic": Autocatalytic, "two regimes": TwoRegime}
    name, initial = fields.pop("model"), fields.pop("initial_degree", 0.0)
    if name not in kinds:
        raise OutOfRange("model", repr(name)[:40], f"one of {', '.join(kinds)}")
    if fields.get("diffusion"):
        fields["diffusion"] = DiffusionFactor(**fields["diffusion"])
    return kinds[name](**fields), initial
