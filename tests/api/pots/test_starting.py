"""Starting a pot: it asks before anything is poured, says what to do instead, and reserves what it may use."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def test_a_started_pot_has_its_plan_its_first_number_and_its_frozen_copy(bench: makers.Mixing) -> None:
    mix = bench.start(650, parts=[makers.started_part(bench.api)])
    assert (mix["state"], mix["planned_g"], mix["ratio"], mix["tolerance_pct"]) == ("weighing", 650, 0.3, 2)
    assert [(p["component"], p["container"], p["amount_g"]) for p in mix["plan"]] == [
        ("resin", bench.resin_can, 500),
        ("hardener", bench.slow_can, 150),
    ]
    assert (mix["next"]["component"], mix["next"]["target_g"]) == ("resin", 500)
    system = bench.api.get(f"/v1/resin-systems/{bench.system}")
    assert mix["frozen_sha256"] == system["document_sha256"]
    assert bench.api.get(f"/v1/containers/{bench.resin_can}")["reserved_g"] == 500


def test_a_pot_may_be_asked_for_by_its_resin(bench: makers.Mixing) -> None:
    mix = bench.start(None, resin_g=100)  # type: ignore[arg-type]
    assert (mix["planned_g"], mix["plan"][1]["amount_g"]) == (130, 30)
    problem = bench.start(130, resin_g=100, expect=422)
    assert problem["errors"][0]["pointer"] == "/total_g"


def test_another_speed_of_the_system_is_another_recipe(bench: makers.Mixing) -> None:
    problem = bench.refused("wrong-pair", containers=[{"container": bench.resin_can}, {"container": bench.fast_can}])
    assert problem["other_recipe"]["hardener"] == bench.fast
    assert f"hardener {bench.fast}: 28 parts to 100" in problem["way_out"]
    mix = bench.start(hardener=None, containers=[{"container": bench.resin_can}, {"container": bench.fast_can}])
    assert (mix["ratio"], mix["speed"]) == (0.28, "fast")


def test_a_can_of_no_component_is_the_wrong_pair_and_what_is_right_is_named(bench: makers.Mixing) -> None:
    other = makers.material(bench.api, "Birch 4 hardener", "hardener")
    can = makers.cans(bench.api, other, bench.place, "B-1")[0]
    problem = bench.refused("wrong-pair", containers=[{"container": bench.resin_can}, {"container": can}])
    assert [e["name"] for e in problem["expected"]] == ["Alder 10 resin", "Alder 32 slow hardener"]


def test_both_components_are_scanned(bench: makers.Mixing) -> None:
    more = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    problem = bench.start(containers=[{"container": bench.resin_can}, {"container": more}], expect=422)
    assert "hardener" in problem["detail"]


def test_a_pot_over_the_largest_is_refused_with_smaller_ones(bench: makers.Mixing) -> None:
    problem = bench.refused("pot-too-large", 1500)
    assert (problem["largest_g"], problem["pots"]) == (1000, 2)
    assert "2 pots of 750 g" in problem["way_out"]


def test_a_coarse_scale_names_the_smallest_honest_pot_and_who_can(bench: makers.Mixing) -> None:
    # Shop rule 18: 100:30 at ± 2 %, about 55 g on 0.1 g and 555 g on 1 g.
    coarse = makers.scale(bench.api, "Floor scale", interval_g=1)
    problem = bench.refused("scale-too-coarse", 130, scale=coarse)
    assert problem["smallest_pot_g"] == pytest.approx(555, abs=1)
    assert problem["capable"] == [bench.scale]
    assert bench.refused("scale-too-coarse", 50)["smallest_pot_g"] == pytest.approx(55.4, abs=0.1)
    fine = makers.scale(bench.api, "Fine scale", interval_g=0.01, maximum_g=100)
    assert bench.start(130, scale=bench.scale, hardener_scale=fine, expect=409)["type"] == "/problems/scale-too-small"
    # In a cup of its own the hardener's scale carries the hardener alone.
    bench.start(130, hardener_scale=fine, separate_cups=True)


def test_a_running_total_needs_a_larger_pot_than_zeroing(bench: makers.Mixing) -> None:
    bench.start(58)
    problem = bench.refused("scale-too-coarse", 58, zeroed=False)
    assert "Zeroing" in problem["way_out"]


def test_what_is_reserved_by_one_pot_is_not_there_for_the_next(bench: makers.Mixing) -> None:
    small = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=500)[0]
    cans = [{"container": small}, {"container": bench.slow_can}]
    bench.start(390, containers=cans)
    problem = bench.refused("stock-short", 390, containers=cans)
    assert (problem["left_g"], problem["wanted_g"]) == (200, 300)
    assert problem["instead"] == [bench.resin_can]
    # All of it reserved is short stock as well, not an unfit can.
    bench.start(260, containers=cans)
    assert bench.refused("stock-short", 390, containers=cans)["left_g"] == 0


def test_two_cans_share_a_component_as_they_were_scanned_or_as_said(bench: makers.Mixing) -> None:
    small = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=100)[0]
    both = [{"container": small}, {"container": bench.resin_can}, {"container": bench.slow_can}]
    mix = bench.start(650, containers=both)
    assert [p["amount_g"] for p in mix["plan"]] == [100, 400, 150]
    said = [{"container": small, "mass_g": 700}, {"container": bench.resin_can}, {"container": bench.slow_can}]
    problem = bench.start(650, containers=said, expect=422)
    assert problem["errors"][0]["pointer"] == "/containers"


def test_an_expired_can_is_refused_and_a_permit_asked_for_lets_the_job_go_on(bench: makers.Mixing) -> None:
    old = makers.cans(bench.api, bench.resin, bench.place, "R-0", expires_on="2026-11-10")[0]
    bench.api.shop.clock.forward(days=8)
    cans = [{"container": old}, {"container": bench.slow_can}]
    problem = bench.refused("not-fit", containers=cans)
    assert problem["instead"] == [bench.resin_can]
    body = {"kind": "deviation permit", "item": old, "reasons": ["expired"], "why": "gel test in order"}
    permit = bench.api.post("/v1/permissions", body)["id"]
    mix = bench.start(containers=cans)
    assert any(f"deviation permit {permit} (asked)" in n for n in mix["notices"])
    poured = bench.pour(mix["code"], old, 384.6)
    assert [(f["kind"], f["stops"], f["answered"]) for f in poured["flags"]] == [("expired", True, "asked")]
    assert poured["holds"] == []


def test_skipping_the_can_that_expires_first_is_asked_about_and_blocks_nobody(bench: makers.Mixing) -> None:
    first = makers.cans(bench.api, bench.resin, bench.place, "R-2", expires_on="2027-01-31")[0]
    mix = bench.start()
    assert mix["skipped"] == [first]
    assert "Say in why" in mix["notices"][0]
    told = bench.start(why="lies behind the oven")
    assert told["skipped_why"] == "lies behind the oven"
    right = bench.start(containers=[{"container": first}, {"container": bench.slow_can}])
    assert right["skipped"] == []


def test_an_open_pot_of_the_same_person_is_a_word_and_no_refusal(bench: makers.Mixing) -> None:
    started = bench.start(100)
    first = started["code"]
    assert started["notices"] == []
    assert any(first in n for n in bench.start(100)["notices"])
    assert not any(first in n for n in bench.start(100, who="second laminator")["notices"])


def test_a_draft_and_a_replaced_system_start_no_pot(bench: makers.Mixing) -> None:
    draft = makers.resin_system(bench.api, bench.resin, {bench.slow: 31}, approved=False)
    bench.refused("wrong-state", system=draft["id"])
    bench.api.post(f"/v1/resin-systems/{draft['id']}/approval", who="quality")
    problem = bench.refused("wrong-state")
    assert problem["system"] == draft["id"]


def test_a_can_of_an_unknown_lot_does_not_go_into_a_traceable_part(bench: makers.Mixing) -> None:
    body = {
        "material": bench.resin, "place": bench.place, "unknown_because": "label torn off", "expires_on": "2027-06-30",
        "containers": [{"net_g": 900, "gross_g": 1000}],
    }  # fmt: skip
    lot = bench.api.post("/v1/opening-stock", body)
    bench.api.post(f"/v1/lots/{lot['code']}/release", who="lead")
    cans = [{"container": lot["containers"][0]}, {"container": bench.slow_can}]
    traceable = makers.started_part(bench.api)
    assert bench.refused("lot-not-known", containers=cans, parts=[traceable])["container"] == lot["containers"][0]
    bench.start(containers=cans, parts=[makers.started_part(bench.api, "HY-101", traceable=False)])


def test_a_held_scale_starts_no_pot(bench: makers.Mixing) -> None:
    bench.api.post("/v1/holds", {"item": bench.scale, "reason": "fell off the bench"})
    assert "fell off the bench" in bench.refused("on-hold")["detail"]


@pytest.mark.parametrize(
    "change",
    [
        {"containers": [{"container": "C00001"}]},
        {"total_g": 0},
        {"total_g": "500"},
        {"purpose": "painting"},
        {"temperature_c": 400},
    ],
)
def test_a_form_that_makes_no_sense_is_refused_as_one(bench: makers.Mixing, change: dict[str, Any]) -> None:
    assert bench.start(expect=422, **{"total_g": 500, **change})["errors"]


def test_a_pot_of_another_system_than_the_design_asks_for_is_said_before_anything_is_poured(
    bench: makers.Mixing,
) -> None:
    asked = makers.started_part(bench.api)
    assert bench.start(parts=[asked])["notices"] == []
    need = [{"purpose": "wet-out", "system": "Birch 7", "mass_g": 300}]
    api, birch = bench.api, {"material": bench.fast, "parts_by_weight": 25, "speed": "fast"}
    makers.system_of(api, bench.resin, [{**birch, "cup_life": makers.CUP_LIFE}], "Birch 7")
    facts = {"part_number": "HY-7", "revision": "A", "name": "Rudder", "resin_need": need}
    design = api.post("/v1/designs", facts, who="lead")["id"]
    api.post(f"/v1/designs/{design}/approval", who="quality")
    other = api.post("/v1/parts", {"part_number": "HY-7"})["code"]
    said = f"The design of {other} asks for Birch 7 as wet-out; this pot is Alder 10."
    assert said in bench.start(parts=[other])["notices"]
    glue = bench.start(parts=[other], purpose="bonding")
    assert f"The design of {other} asks for no mix for bonding." in glue["notices"]
