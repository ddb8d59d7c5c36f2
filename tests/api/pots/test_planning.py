"""What the shelf can give: only what is fit and free, first expired first, without small splits."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def test_only_what_is_fit_and_free_is_offered_first_expired_first(bench: makers.Mixing) -> None:
    soon = makers.cans(bench.api, bench.resin, bench.place, "R-2", net_g=800, expires_on="2027-01-31")[0]
    makers.lot(bench.api, bench.resin, bench.place, makers_lot="R-3", released=False, containers=[{"net_g": 5000}])
    bench.start(650)
    stock = bench.api.get(f"/v1/availability?material={bench.resin}")["stock"][0]
    assert [(c["container"], c["free_g"]) for c in stock["cans"]] == [(soon, 800), (bench.resin_can, 4500)]
    assert stock["free_g"] == 5300


def test_a_roll_is_offered_by_its_length(bench: makers.Mixing) -> None:
    cloth = makers.material(
        bench.api, "Twill 200", "fabric", form="woven", areal_weight_g_m2=200, width_mm=1000, fibre="carbon"
    )
    lot = makers.lot(
        bench.api, cloth, bench.place, makers_lot="W-1", containers=[{"length_mm": 50_000}], no_expiry=True
    )
    stock = bench.api.get(f"/v1/availability?material={cloth}")["stock"][0]
    assert (stock["cans"][0]["container"], stock["cans"][0]["free_mm"], stock["free_g"]) == (
        lot["containers"][0],
        50_000,
        None,
    )


def test_a_pot_is_built_from_named_cans_or_says_what_is_short(bench: makers.Mixing) -> None:
    path = f"/v1/availability?system={bench.system}&hardener={bench.slow}&mass_g="
    pot = bench.api.get(f"{path}650")["pot"]
    assert pot["possible"] is True
    assert [(d["component"], d["container"], d["mass_g"]) for d in pot["draws"]] == [
        ("resin", bench.resin_can, 500),
        ("hardener", bench.slow_can, 150),
    ]
    for _ in range(6):
        bench.start(1000)
    short = bench.api.get(f"{path}650")["pot"]
    assert (short["possible"], short["draws"]) == (False, [])
    # 5000 g less six times 769.231 g.
    assert short["short_resin_g"] == pytest.approx(500 - (5000 - 6 * 769.231), abs=0.001)
    assert "short of" in short["sentence"]


def test_a_remnant_of_less_than_a_tenth_of_the_pot_is_left_in_its_can(bench: makers.Mixing) -> None:
    # Shop rule 13: a pot is not split over two cans for less than a tenth of it.
    makers.cans(bench.api, bench.resin, bench.place, "R-2", net_g=40, expires_on="2027-01-31")
    pot = bench.api.get(f"/v1/availability?system={bench.system}&hardener={bench.slow}&mass_g=650")["pot"]
    assert [d["container"] for d in pot["draws"]] == [bench.resin_can, bench.slow_can]


def test_the_question_names_a_material_or_a_system(bench: makers.Mixing) -> None:
    for query in ("", f"?material={bench.resin}&system={bench.system}", f"?material={bench.resin}&mass_g=100"):
        assert bench.api.call("GET", f"/v1/availability{query}").status_code == 422
    problem = bench.api.call("GET", f"/v1/availability?system={bench.system}").get_json()
    assert "Say which hardener" in problem["detail"]


def test_a_job_is_planned_in_pots_that_are_used_up_in_time(bench: makers.Mixing) -> None:
    body = {
        "system": bench.system,
        "hardener": bench.slow,
        "need_g": 900,
        "wet_out_rate_g_min": 20,
        "temperature_c": 20,
    }
    plan = bench.api.post("/v1/mix-plans", body, expect=200)
    assert plan["possible"] is True
    # Half of the pot life at 20 g/min: 450 g live 50.4 min, of which 25.2 may be worked: 504 g at most.
    assert [p["mass_g"] for p in plan["pots"]] == [450, 450]
    assert [p["start_after_min"] for p in plan["pots"]] == [0, 22.5]
    assert plan["scale"] == bench.scale
    assert plan["sentences"]
    assert bench.api.get(f"/v1/containers/{bench.resin_can}")["reserved_g"] == 0


def test_a_job_that_no_scale_can_weigh_is_not_planned(bench: makers.Mixing) -> None:
    bench.api.post(f"/v1/items/{bench.scale}/withdrawal", who="lead")
    body = {
        "system": bench.system,
        "hardener": bench.slow,
        "need_g": 900,
        "wet_out_rate_g_min": 20,
        "temperature_c": 20,
    }
    bench.api.refused("/v1/mix-plans", body, "wrong-state")
