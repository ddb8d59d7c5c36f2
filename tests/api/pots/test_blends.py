"""Two hardeners of one system, in one cup or blended in a can, over HTTP (shop rule 21)."""

from dataclasses import replace
from typing import Any

import pytest

from tests import makers
from tests.makers import Mixing

BLEND_LIFE = [{"mass_g": 1000, "temperature_c": 20, "life_min": 33}]


@pytest.fixture
def bench(api: Any) -> Mixing:
    """Hardeners of 30 and 40 parts, and the blend of half and half that the supplier allows."""
    bench = makers.mixing(api)
    strong = makers.material(api, "Alder 34 hardener", "hardener")
    blend = makers.material(api, "Alder 32/34 half and half", "hardener")
    own = {"speed": "slow", "cup_life": makers.CUP_LIFE}
    system = makers.system_of(api, bench.resin, [
        {"material": bench.slow, "parts_by_weight": 30, **own},
        {"material": strong, "parts_by_weight": 40, **own},
        {"material": blend, "speed": "medium", "cup_life": BLEND_LIFE, "blend": {
            "of": [{"material": bench.slow, "fraction_pct": 50}, {"material": strong, "fraction_pct": 50}],
            "tolerance_pct": 2, "source": "data sheet, section 5"}},
    ], "Alder 10 blends")  # fmt: skip
    can = makers.cans(api, strong, bench.place, "X-1", net_g=2000)[0]
    api.blend, api.strong = blend, strong
    return replace(bench, system=system["id"], fast=strong, fast_can=can)


def _start(bench: Mixing, **more: Any) -> Any:
    cans = [{"container": can} for can in (bench.resin_can, bench.slow_can, bench.fast_can)]
    return bench.start(None, **{"hardener": bench.api.blend, "containers": cans, "resin_g": 350, **more})


def test_half_and_half_of_thirty_and_forty_is_thirty_four_point_three(bench: Mixing) -> None:
    system = bench.api.get(f"/v1/resin-systems/{bench.system}")
    blend = system["hardeners"][2]
    assert blend["parts_by_weight"] == pytest.approx(34.2857, abs=1e-3)
    assert blend["blend"]["own_ratio"] is False


def test_the_second_hardener_follows_from_the_first_as_it_was_poured(bench: Mixing) -> None:
    pot = _start(bench)
    # 350 g of resin take 120 g of the blend, 60 of each.
    assert [row["amount_g"] for row in pot["plan"]] == pytest.approx([350, 60, 60], abs=0.01)
    code = pot["code"]
    bench.pour(code, bench.resin_can, 350)
    first = bench.pour(code, bench.slow_can, 61.5)
    assert first["pours"][-1]["target_g"] == pytest.approx(60, abs=0.01)
    # Of the last one the limits are shown: of 350 g at ± 2 %, 0.40·(343 - 205) to 0.40·(357 - 205), less U.
    shown = first["next"]
    assert (shown["container"], shown["target_g"]) == (bench.fast_can, 58)
    assert (shown["tolerance_from_g"], shown["tolerance_to_g"]) == (55.2, 60.8)
    assert 55.2 < shown["accepted_from_g"] < 56 < 60 < shown["accepted_to_g"] < 60.8
    assert shown["provable"] is True
    done = bench.pour(code, bench.fast_can, 58)
    # 0.40·(350 - 61.5/0.30) = 58.
    assert done["pours"][-1]["target_g"] == pytest.approx(58, abs=0.01)
    assert done["judgement"]["verdict"] == "within"
    assert done["judgement"]["deviation_pct"] == pytest.approx(0, abs=0.01)
    # The pot life is the blend's own.
    assert done["clock"]["life_min"] == pytest.approx(33, abs=0.5)


def test_the_fraction_is_judged_apart_from_the_ratio(bench: Mixing) -> None:
    part = makers.started_part(bench.api, need_g=None)
    code = _start(bench)["code"]
    bench.pour(code, bench.resin_can, 350)
    bench.pour(code, bench.slow_can, 75)
    # 0.40·(350 - 75/0.30) = 40: the ratio is right, and the slow one is 65 % of the hardener.
    done = bench.pour(code, bench.fast_can, 40)
    assert done["judgement"]["verdict"] == "within"
    bench.stir(code)
    used = bench.apply(code, (part, 400))
    flag = next(f for f in used["flags"] if f["kind"] == "blend-fraction")
    assert (flag["stops"], "65.2 %" in flag["sentence"]) == (True, True)
    assert used["holds"]


def test_two_hardeners_without_a_recipe_for_them_are_asked_about(bench: Mixing) -> None:
    assert _start(bench, hardener=None)["hardener"] == bench.api.blend
    one_only = [{"container": bench.resin_can}, {"container": bench.slow_can}]
    assert "Scan Alder 34 hardener too" in _start(bench, containers=one_only, expect=422)["detail"]


def test_a_can_blended_beforehand_is_a_new_lot_with_the_earlier_date(bench: Mixing) -> None:
    api = bench.api
    body = {"hardener": api.blend, "place": bench.place, "containers": [
        {"container": bench.slow_can, "mass_g": 500}, {"container": bench.fast_can, "mass_g": 500}]}  # fmt: skip
    can = api.post(f"/v1/resin-systems/{bench.system}/blends", body)
    assert (can["left_g"], can["blend"], can["expires_on"]) == (1000, True, "2027-09-30")
    assert can["fitness"]["reasons"][0]["kind"] == "not-released"
    api.post(f"/v1/lots/{can['lot']}/release", who="lead")
    mix = _start(bench, containers=[{"container": bench.resin_can}, {"container": can["code"]}])["code"]
    poured = bench.pour(mix, bench.resin_can, 350)
    assert poured["next"]["accepted_from_g"] > 117
    assert bench.pour(mix, can["code"], 120)["judgement"]["verdict"] == "within"
    # What it was made of is found again.
    made_of = {i["code"] for i in api.get(f"/v1/items/{mix}/trace?direction=back")["items"]}
    assert {bench.slow_can, bench.fast_can} <= made_of
    uneven = {**body, "containers": [{"container": bench.slow_can, "mass_g": 300},
                                     {"container": bench.fast_can, "mass_g": 200}]}  # fmt: skip
    held = api.post(f"/v1/resin-systems/{bench.system}/blends", uneven)
    assert "60.0 %" in held["holds"][0]["reason"]


def test_a_blend_is_of_hardeners_of_its_own_system(bench: Mixing) -> None:
    alone = {"material": bench.api.blend, "speed": "medium", "cup_life": BLEND_LIFE, "blend": {
        "of": [{"material": bench.slow, "fraction_pct": 50}, {"material": bench.fast, "fraction_pct": 50}],
        "tolerance_pct": 2, "source": "data sheet"}}  # fmt: skip
    body = {"name": "Odd", "data_sheet": "x", "resin": bench.resin, "largest_pot_g": 1000, "hardeners": [alone],
            "tolerance": {"kind": "parts", "value": 1, "source": "x"}}  # fmt: skip
    problem = bench.api.post("/v1/resin-systems", body, expect=422, who="lead")
    assert problem["errors"][0]["pointer"] == "/hardeners/0/blend/of/0/material"
