"""Degree of cure and glass transition: only with constants of the system's own, and never in place of a verdict."""

import math
from typing import Any

import pytest

from schemas.words import MovementKind, State
from service.database import connected, writing
from service.records.items import Item, Movement
from service.records.journal import Deed, Document
from service.records.materials import Material, ResinSystem, SystemHardener
from service.records.mixes import Mix
from service.records.people import Site
from tests import makers
from tests.conftest import NOW
from tests.forging import beside_any_act
from tests.logger_files import SEMICOLONS, every, ramp, semicolons

FIRST_ORDER = {
    "source": "scanning calorimetry, own report 7",
    "kinetics": {
        "model": "nth order",
        "pre_exponential_per_min": 1e6,
        "activation_energy_kj_mol": 50,
        "order": 1,
    },
    "glass_transition": {"uncured_c": -20, "cured_c": 220, "dibenedetto_lambda": 0.5},
}
RATE_AT_60_C = 1e6 * math.exp(-50_000 / (8.314462618 * 333.15))


def _made_of(part: str, constants: Any) -> None:
    """A mix of a system with these constants, applied to the part."""
    with connected(), writing(), beside_any_act():
        deed, site = Deed.select().first(), Site.select().first()
        resin = Material.create(name="Alder 10 resin", kind="resin")
        system = ResinSystem.create(
            name="Alder 10", revision=1, data_sheet="4", resin=resin, tolerance_kind="percent of ratio",
            tolerance_value=2, tolerance_source="data sheet", largest_pot_mg=10**6, constants=constants,
        )  # fmt: skip
        hardener = SystemHardener.create(system=system, material=resin, speed="slow", parts_by_weight=30, cup_life=[])
        item = Item.create(code="M000018", kind="M", name="Alder 10", state=State.CLOSED, site=site, deed=deed)
        Mix.create(
            item=item, system=system, hardener=hardener, frozen=Document.select().first(), ratio=0.3, tolerance_pct=2,
            purpose="wet-out", planned_mg=1000, started_at=NOW,
        )  # fmt: skip
        target = Item.get(Item.code == part)
        Movement.create(source=item, target=target, kind=MovementKind.APPLICATION, occurred_at=NOW, deed=deed)


def _kinetics(api: Any, constants: Any, *, minutes: Any = None) -> list[dict[str, Any]]:
    made = makers.schedule(api)
    logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    part = makers.laid_up_part(api)
    if constants is not None:
        _made_of(part, constants)
    cure = api.post("/v1/cures", {"schedule": made["name"], "parts": [part]})["code"]
    api.shop.clock.forward(minutes=60)
    hot = {"root": ramp([(0, 62)]), "tip": ramp([(0, 60)]), "air": ramp([(0, 70)])}
    raw = semicolons(NOW, minutes or every(5, until_min=60), hot)
    answer = api.call("POST", f"/v1/cures/{cure}/logs?logger={logger}&part_probes=root,tip&air_probes=air", raw)
    assert answer.status_code == 201
    return list(api.post(f"/v1/cures/{cure}/end")["verdict"]["kinetics"])


def test_the_coldest_probe_says_how_far_the_resin_reacted(api: Any) -> None:
    found = _kinetics(api, FIRST_ORDER)[0]
    # First order at constant temperature: a = 1 - exp(-k t); DiBenedetto with λ = 0.5.
    degree = 1 - math.exp(-RATE_AT_60_C * 60)
    transition = -20 + 240 * 0.5 * degree / (1 - 0.5 * degree)
    assert found["probe"] == "tip"
    assert found["degree_of_cure"] == pytest.approx(degree, abs=2e-4)
    assert found["glass_transition_c"] == pytest.approx(transition, abs=0.1)
    # At 60 °C all the time, the time is its own equivalent.
    assert (found["reference_c"], found["equivalent_min"]) == (60, pytest.approx(60, abs=0.1))
    assert "never replaces a stated cure" in found["sentence"]
    assert found["source"] == "scanning calorimetry, own report 7"


def test_the_gel_point_and_the_rate_at_the_end_stand_beside_it(api: Any) -> None:
    """Two epoxy groups and four hydrogens, even: 1/√3 (Flory and Stockmayer, from memory); a = 1 − exp(−kt) there."""
    network = {"epoxy_functionality": 2, "hydrogen_functionality": 4, "hydrogens_per_epoxy": 1.0}
    found = _kinetics(api, {**FIRST_ORDER, "network": network})[0]
    assert found["gel_point"] == pytest.approx(1 / math.sqrt(3), abs=1e-4)
    assert 55 < -math.log(1 - 1 / math.sqrt(3)) / RATE_AT_60_C < 60
    assert found["gelled_by_min"] == 60, "the first sample past it"
    degree = 1 - math.exp(-RATE_AT_60_C * 60)
    assert found["rate_at_end_per_min"] == pytest.approx(RATE_AT_60_C * (1 - degree), rel=5e-3)


def test_an_excess_gels_at_the_conversion_of_the_scarcer_groups(api: Any) -> None:
    """Half the hydrogens: all of them at √(1/(r·3)) = 0.82, the epoxy at half of that; not reached within this hour."""
    network = {"epoxy_functionality": 2, "hydrogen_functionality": 4, "hydrogens_per_epoxy": 0.5}
    found = _kinetics(api, {**FIRST_ORDER, "network": network})[0]
    assert (found["gel_point"], found["gelled_by_min"]) == (pytest.approx(math.sqrt(2 / 3), abs=1e-4), None)
    assert "gel point, at 82% at least, not reached" in found["sentence"]


@pytest.mark.parametrize("constants", [None, {"source": "own report 7", "heat_of_reaction_j_g": 420}])
def test_without_fitted_constants_nothing_is_drawn(api: Any, constants: Any) -> None:
    assert _kinetics(api, constants) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"model": "guessed"}, "one of nth order"),
        ({"order": 99}, "order is 99"),
        ({"colour": "amber"}, "lack a field, or have one that no model has"),
    ],
)
def test_constants_that_do_not_fit_are_told_and_the_cure_still_ends(
    api: Any, change: dict[str, Any], says: str
) -> None:
    constants = {**FIRST_ORDER, "kinetics": {**FIRST_ORDER["kinetics"], **change}}  # type: ignore[dict-item]
    found = _kinetics(api, constants)[0]
    assert found["degree_of_cure"] is None
    assert says in found["sentence"]


def test_over_a_gap_no_degree_is_drawn(api: Any) -> None:
    found = _kinetics(api, FIRST_ORDER, minutes=[0, 5, 10, 40, 45, 50, 55, 60])[0]
    assert (found["degree_of_cure"], found["sentence"]) == (None, "Not known: the log has holes.")
