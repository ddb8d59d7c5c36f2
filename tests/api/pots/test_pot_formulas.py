"""What the formulas answer stands where the pot is: the plan of its job, its scales, its deadline, its filler."""

from typing import Any

import pypdfium2
import pytest

from service.formulas.clocks import LifePoint
from service.formulas.planner import largest_workable_pot_g
from tests import makers

JOB = {"need_g": 900, "wet_out_rate_g_min": 20, "number": 1, "of": 2}


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def test_a_pot_keeps_what_the_planner_said_of_its_job(bench: makers.Mixing) -> None:
    first = bench.start(450, plan=JOB)
    job = first["job_plan"]
    # Half of the pot life at 20 g/min: 450 g live 50.4 min, of which 25.2 may be worked; see test_planning.
    assert (job["pots"], job["pot_g"], job["agrees"], job["still_needed_g"]) == (2, 450, True, 900)
    points = [LifePoint(r["mass_g"], r["temperature_c"], r["life_min"]) for r in makers.CUP_LIFE]
    workable = largest_workable_pot_g(
        points=points, temperature_c=20, wet_out_rate_g_min=20, working_share=0.5, largest_pot_g=1000
    )
    assert job["largest_workable_g"] == pytest.approx(workable, abs=0.001)
    # Shop rule 18: 100:30 at 2 % on a 0.1 g scale.
    assert job["smallest_honest_g"] == pytest.approx(55.4, abs=0.05)
    assert job["sentence"] == "Pot 1 of 2, 450 g: as planned; what is left of the job takes 2 pots of 450 g."
    assert first["notices"] == []
    second = bench.start(450, plan={**JOB, "number": 2}, who="second laminator")["job_plan"]
    assert (second["pots"], second["still_needed_g"], second["agrees"]) == (1, 450, True)
    # Kept as it was said, whatever becomes of the shelf.
    assert bench.api.get(f"/v1/mixes/{first['code']}")["job_plan"] == job


def test_a_pot_of_another_size_than_planned_is_told_and_not_refused(bench: makers.Mixing) -> None:
    mix = bench.start(700, plan=JOB)
    assert mix["job_plan"]["agrees"] is False
    assert mix["notices"] == ["Pot 1 of 2, 700 g: not as planned; what is left of the job takes 2 pots of 450 g."]


def test_a_job_that_the_shelf_cannot_give_starts_with_a_word_on_it(bench: makers.Mixing) -> None:
    mix = bench.start(450, plan={**JOB, "need_g": 9000, "of": 20})
    assert (mix["job_plan"]["possible"], mix["job_plan"]["pot_g"]) == (False, None)
    assert "The shelf is short of" in mix["notices"][0]


def test_a_plan_needs_a_temperature_and_a_number_that_there_is(bench: makers.Mixing) -> None:
    for plan, more, pointer in (
        ({**JOB, "number": 3}, {}, "/plan/number"),
        (JOB, {"temperature_c": None}, "/temperature_c"),
        ({**JOB, "wet_out_rate_g_min": 0}, {}, "/plan/wet_out_rate_g_min"),
    ):
        problem = bench.start(450, plan=plan, expect=422, **more)
        assert problem["errors"][0]["pointer"] == pointer


def test_a_plan_says_from_which_to_which_pot_it_may_choose(bench: makers.Mixing) -> None:
    body = {"system": bench.system, "hardener": bench.slow, "need_g": 900, "wet_out_rate_g_min": 20,
            "temperature_c": 20}  # fmt: skip
    plan = bench.api.post("/v1/mix-plans", body, expect=200)
    assert plan["smallest_honest_g"] == pytest.approx(55.4, abs=0.05)
    assert 450 < plan["largest_workable_g"] < 520


def test_a_pot_says_what_its_scale_can_know_before_and_after_the_pour(bench: makers.Mixing) -> None:
    started = bench.start(130)["scales"]
    # Shop rule 17, zeroed: 200 * 0.1/sqrt(12) * sqrt(2/100^2 + 2/30^2) = 0.284 %; a third of 2 % is 0.667 %.
    assert (started["uncertainty_pct"], started["third_of_tolerance_pct"]) == (
        pytest.approx(0.284, abs=0.001),
        pytest.approx(2 / 3),
    )
    assert (started["honest"], started["weighed"]) == (True, False)
    assert started["smallest_honest_g"] == pytest.approx(55.4, abs=0.05)
    assert [(s["component"], s["scale"], s["interval_g"], s["repeatability_g"]) for s in started["scales"]] == [
        ("resin", bench.scale, 0.1, 0),
        ("hardener", bench.scale, 0.1, 0),
    ]
    weighed = bench.mixed(130)
    assert weighed["scales"]["weighed"] is True
    assert weighed["scales"]["uncertainty_pct"] == weighed["judgement"]["uncertainty_pct"]
    assert weighed["scales"]["sentence"] == (
        f"{bench.scale} Bench scale (step 0.1 g, repeatability not known) knew the ratio to ± 0.28 % (k = 2), within "
        "a third of the tolerance, 0.67 %; the smallest honest pot on it is 55.5 g."
    )


def test_a_pot_poured_on_a_coarser_scale_than_planned_was_not_honest(bench: makers.Mixing) -> None:
    coarse = makers.scale(bench.api, "Store scale", interval_g=1, repeatability_g=1)
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    scales = bench.pour(mix, bench.slow_can, 30, scale=coarse)["scales"]
    assert scales["honest"] is False
    assert "too coarse for this pot" in scales["sentence"]
    assert [s["scale"] for s in scales["scales"]] == [bench.scale, coarse]
    assert scales["smallest_honest_g"] > 130


def test_a_scale_names_the_smallest_honest_pot_of_each_system(bench: makers.Mixing) -> None:
    coarse = makers.scale(bench.api, "Store scale", interval_g=1, maximum_g=500)
    listed = {s["code"]: s for s in bench.api.get("/v1/scales")}
    fine = {p["hardener"]: p for p in listed[bench.scale]["honest_pots"]}
    assert set(fine) == {bench.slow, bench.fast}
    # Shop rule 18: about 55 g on 0.1 g and 555 g on 1 g.
    assert fine[bench.slow]["smallest_pot_g"] == pytest.approx(55.4, abs=0.05)
    far = next(p for p in listed[coarse]["honest_pots"] if p["hardener"] == bench.slow)
    assert (far["smallest_pot_g"], far["too_large"]) == (pytest.approx(554.4, abs=0.5), True)
    # USP <41>: s is not taken below 0.41 d, so 2 * 0.041 / 1 % = 8.2 g.
    assert listed[bench.scale]["minimum_mass_g"] == 8.2


def test_a_draft_system_has_no_honest_pot_yet(bench: makers.Mixing) -> None:
    makers.resin_system(bench.api, bench.resin, {bench.slow: 30}, name="Draft 1", approved=False)
    assert {p["system_id"] for p in bench.api.get(f"/v1/scales/{bench.scale}")["honest_pots"]} == {bench.system}


def test_a_hardener_has_its_parts_by_volume_worked_out_from_the_densities(bench: makers.Mixing) -> None:
    slow = bench.api.get(f"/v1/resin-systems/{bench.system}")["hardeners"][0]
    # 30 parts by weight at 1.15 and 0.95 g/ml: 30 * 1.15 / 0.95 = 36.3 parts by volume.
    assert (slow["parts_by_volume"], slow["volume_worked_out"]) == (pytest.approx(36.316, abs=0.001), True)
    assert (slow["parts_by_weight"], slow["weight_worked_out"]) == (30, False)


def test_the_last_of_a_hardener_names_its_resin(bench: makers.Mixing) -> None:
    mix = bench.start(None, hardener_g=45)  # type: ignore[arg-type]
    assert [(p["component"], p["amount_g"]) for p in mix["plan"]] == [("resin", 150), ("hardener", 45)]
    problem = bench.start(500, hardener_g=45, expect=422)
    assert problem["errors"][0]["pointer"] == "/total_g"


def test_filler_has_its_grams_before_and_its_percentages_after(bench: makers.Mixing) -> None:
    mix = bench.mixed(130)["code"]
    silica = makers.material(bench.api, "Silica", "filler")
    can = makers.cans(bench.api, silica, bench.place, "S-1", net_g=1000)[0]
    path = f"/v1/mixes/{mix}/filler-target"
    asked = bench.api.get(f"{path}?percent=5&of=mix")
    assert (asked["counted_on_g"], asked["target_g"], asked["add_g"]) == (130, 6.5, 6.5)
    assert bench.api.get(f"{path}?percent=5&of=resin")["target_g"] == 5
    seen = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": can, "mass_g": 4})
    assert seen["fillers"][0]["percent_of_resin"] == 4
    assert seen["fillers"][0]["percent_of_mix"] == pytest.approx(100 * 4 / 130)
    assert bench.api.get(f"{path}?percent=5&of=mix")["add_g"] == 2.5


def test_filler_has_no_target_before_there_is_a_mix(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    problem = bench.api.call("GET", f"/v1/mixes/{mix}/filler-target?percent=5&of=mix")
    assert problem.get_json()["type"] == "/problems/wrong-state"
    assert bench.api.get(f"/v1/mixes/{mix}/filler-target?percent=5&of=resin")["add_g"] == 5


def test_the_air_at_the_scale_is_judged_by_its_reading(api: Any) -> None:
    bench = makers.mixing(api, work_low_c=18, work_high_c=28, work_high_humidity_pct=70)
    api.post(f"/v1/items/{bench.scale}/moves", {"place": bench.place})
    api.post(f"/v1/places/{bench.place}/readings", {"temperature_c": 16, "humidity_pct": 78})
    where = f"Shelf B2 ({bench.place})"
    assert bench.start(130)["notices"] == [
        f"{where}: The air is at 16 °C; at least 18 °C is asked for.",
        f"{where}: The humidity is 78 %; at most 70 % is asked for.",
    ]
    said = bench.start(130, temperature_of_air=True, temperature_c=20, who="second laminator")["notices"]
    assert said == [f"{where}: The humidity is 78 %; at most 70 % is asked for."]
    api.shop.clock.forward(hours=5)
    assert bench.start(130, who="lead")["notices"] == []


def test_the_part_record_and_the_report_say_what_the_scales_knew_and_what_was_planned(bench: makers.Mixing) -> None:
    api, part = bench.api, makers.started_part(bench.api)
    mix = bench.start(450, plan=JOB, parts=[part])["code"]
    bench.pour(mix, bench.resin_can, 346.2)
    bench.pour(mix, bench.slow_can, 103.9)
    bench.stir(mix)
    seen = bench.apply(mix, part)
    record = api.get(f"/v1/parts/{part}/record", who="lead")
    assert record["pots"][0]["job_plan"] == seen["job_plan"]["sentence"]
    assert record["pots"][0]["scales"] == seen["scales"]
    report = api.get(f"/v1/parts/{part}/investigation", who="quality")
    assert report["account"]["pots"][0]["scales"]["sentence"] == seen["scales"]["sentence"]
    printed = api.call("GET", f"/v1/parts/{part}/record.pdf", who="lead")
    assert printed.status_code == 200
    pages = pypdfium2.PdfDocument(printed.data)
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())
    assert "the smallest honest pot on it is 55.5 g. Pot 1 of 2, 450 g: as planned" in text
