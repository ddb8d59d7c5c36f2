"""At the scales: the next number, the verdict on the ratio, what should not have been poured, corrections."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _kinds(mix: Any) -> list[str]:
    return [f["kind"] for f in mix["flags"]]


def test_the_hardener_follows_the_resin_that_was_really_poured(bench: makers.Mixing) -> None:
    # Shop rule 19: 46.0 g at 100:30 ± 2 % on 0.1 g: in tolerance from 13.524 to 14.076 g, accepted from 13.7 to 13.9 g.
    mix = bench.start(60)["code"]
    after = bench.pour(mix, bench.resin_can, 46.0)
    following = after["next"]
    assert (following["component"], following["target_g"]) == ("hardener", 13.8)
    assert following["scale_reading_if_not_zeroed_g"] == 59.8
    assert (following["tolerance_from_g"], following["tolerance_to_g"]) == (13.524, 14.076)
    assert (following["accepted_from_g"], following["accepted_to_g"]) == (13.7, 13.9)
    assert "59.8 g if you did not zero" in following["sentence"]


@pytest.mark.parametrize(("reading_g", "zeroed"), [(13.8, True), (59.8, False)])
def test_zeroed_or_running_on_it_is_the_same_pour(bench: makers.Mixing, reading_g: float, zeroed: bool) -> None:
    mix = bench.start(60)["code"]
    bench.pour(mix, bench.resin_can, 46.0)
    done = bench.pour(mix, bench.slow_can, reading_g, zeroed=zeroed)
    assert (done["hardener_g"], done["state"], done["next"]) == (13.8, "running", None)
    assert (done["pours"][1]["reading_g"], done["pours"][1]["zeroed"]) == (reading_g, zeroed)
    assert done["judgement"]["deviation_pct"] == pytest.approx(0, abs=1e-9)
    # Shop rule 17, u = 0.0289 g: zeroed 2·u·√(2/46² + 2/13.8²), running on 2·u·√(1/46² + (1/46 + 1/13.8)² + 1/13.8²).
    assert done["judgement"]["uncertainty_pct"] == pytest.approx(0.618 if zeroed else 0.698, abs=0.001)
    assert done["judgement"]["verdict"] == "within"
    assert "mixed" not in done["judgement"]["sentence"]


def test_the_reservation_becomes_the_pour_and_the_rest_is_free_again(bench: makers.Mixing) -> None:
    mix = bench.start(650)["code"]
    bench.pour(mix, bench.resin_can, 498.7)
    can = bench.api.get(f"/v1/containers/{bench.resin_can}")
    assert (can["left_g"], can["reserved_g"], can["state"]) == (4501.3, 0, "open")
    bench.pour(mix, bench.slow_can, 149.6)
    assert bench.api.get(f"/v1/containers/{bench.slow_can}")["reserved_g"] == 0


def test_a_typed_reading_far_from_its_target_is_read_back_before_it_counts(bench: makers.Mixing) -> None:
    mix = bench.start(390)["code"]
    path = f"/v1/mixes/{mix}/pours"
    body = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 30, "source": "typed"}
    problem = bench.api.refused(path, body, "read-back")
    assert (problem["net_g"], problem["target_g"]) == (30, 300)
    assert bench.api.get(f"/v1/mixes/{mix}")["pours"] == []
    bench.api.refused(path, {**body, "read_back_g": 300}, "read-back")
    assert bench.api.post(path, {**body, "read_back_g": 30})["resin_g"] == 30


@pytest.mark.parametrize(("reading_g", "asked"), [(239.9, True), (240, False), (375, False), (375.1, True)])
def test_the_read_back_begins_at_four_fifths_and_five_quarters(
    bench: makers.Mixing, reading_g: float, asked: bool
) -> None:
    mix = bench.start(390)["code"]
    bench.pour(mix, bench.resin_can, reading_g, source="typed", expect=409 if asked else 201)


def test_a_reading_counts_as_captured_once_and_only_if_the_scale_itself_sent_it(bench: makers.Mixing) -> None:
    mix, api = bench.start(390)["code"], bench.api
    path = f"/v1/mixes/{mix}/pours"
    body = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 30, "source": "captured"}
    said = api.post(path, body, expect=422)
    assert said["answer_with"] == {"source": "typed"}
    for wrong in ("US,GS,+  30.0 g", "hello", "-  30.0 g"):
        api.post(f"/v1/scales/{bench.scale}/readings", {"line": wrong}, expect=422)
    api.post(f"/v1/scales/{bench.scale}/readings", {"line": "ST,GS,+  30.0 g"})
    api.shop.clock.forward(minutes=11)
    api.post(path, body, expect=422)
    api.post(f"/v1/scales/{bench.scale}/readings", {"line": "ST,GS,+  30.0 g"})
    told = api.post(path, body)
    assert [(p["source"], p["net_g"]) for p in told["pours"]] == [("captured", 30)], "a far one is not asked for again"
    api.shop.clock.forward(minutes=1)
    api.post(path, body, expect=422)
    other = makers.scale(api, "Other scale")
    api.post(f"/v1/scales/{other}/readings", {"line": "40.0 g"})
    api.post(path, {**body, "reading_g": 40}, expect=422)
    assert [r["line"] for r in api.get(f"/v1/scales/{other}/readings")] == ["40.0 g"]


def test_a_scale_may_write_its_lines_in_its_own_way(bench: makers.Mixing) -> None:
    api, path = bench.api, f"/v1/scales/{bench.scale}"
    for wrong in ("{unit}", "{number}{number}", "{number} {mass}", "*****{number}"):
        assert api.post(f"{path}/line-format", {"line_format": wrong}, who="lead", expect=422)["errors"]
    told = api.post(f"{path}/line-format", {"line_format": "W {number} {unit} ok"}, who="lead")
    assert told["line_format"] == "W {number} {unit} ok"
    assert api.post(f"{path}/readings", {"line": "W   12,5 kg OK"})["reading_g"] == 12_500
    api.post(f"{path}/readings", {"line": "W   12,5 kg"}, expect=422)
    assert api.post(f"{path}/line-format", {}, who="lead")["line_format"] is None
    assert api.post(f"{path}/readings", {"line": "W   12,5 kg"})["reading_g"] == 12_500


def test_a_reading_below_the_one_before_is_a_form_error(bench: makers.Mixing) -> None:
    mix = bench.start(390)["code"]
    bench.pour(mix, bench.resin_can, 300)
    problem = bench.pour(mix, bench.slow_can, 90, zeroed=False, expect=422)
    assert "if it was zeroed, say so" in problem["way_out"]


def test_too_much_hardener_is_answered_with_resin(bench: makers.Mixing) -> None:
    # Shop rule 20: 100 g with 33 g instead of 30: add 10 g of resin, 143 g in all.
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    wrong = bench.pour(mix, bench.slow_can, 133, zeroed=False)
    assert (wrong["judgement"]["verdict"], wrong["state"]) == ("outside", "running")
    offered = wrong["correction"]
    assert (offered["add"], offered["add_g"], offered["total_g"], offered["possible"]) == ("resin", 10, 143, "yes")
    assert offered["scale_reading_if_not_zeroed_g"] == 143
    assert wrong["flags"] == []
    before = wrong["clock"]["use_before"]
    right = bench.pour(mix, bench.resin_can, 143, zeroed=False, correction=True)
    assert right["judgement"]["deviation_pct"] == pytest.approx(0)
    assert right["correction"] is None
    # The deadline stays with first contact and is that of 143 g, not of 130 g.
    assert right["clock"]["use_before"] < before
    assert right["clock"]["contact_at"] == wrong["clock"]["contact_at"]
    assert [p["correction"] for p in right["pours"]] == [False, False, True]


def test_more_after_contact_says_that_it_is_a_correction(bench: makers.Mixing) -> None:
    mix = bench.mixed(130)["code"]
    problem = bench.pour(mix, bench.resin_can, 10, expect=422)
    assert problem["errors"][0]["pointer"] == "/correction"
    fresh = bench.start(130)["code"]
    assert bench.pour(fresh, bench.resin_can, 10, correction=True, expect=422)["errors"][0]["pointer"] == "/correction"


def _short_of_hardener(bench: makers.Mixing) -> str:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    assert bench.pour(mix, bench.slow_can, 28)["correction"]["add"] == "hardener"
    return str(mix)


def test_a_quarter_of_the_pot_life_gone_is_too_late_to_correct(bench: makers.Mixing) -> None:
    mix = _short_of_hardener(bench)
    # 130 g at 20 °C live between 70 min (100 g) and 40 min (1000 g): 65.6 min; a quarter is 16.4 min.
    bench.api.shop.clock.forward(minutes=16)
    assert bench.api.get(f"/v1/mixes/{mix}")["correction"]["possible"] == "yes"
    bench.api.shop.clock.forward(minutes=1)
    late = bench.api.get(f"/v1/mixes/{mix}")["correction"]
    assert late["possible"] == "no"
    assert "more than 25 %" in late["why_not"][0]
    forced = bench.pour(mix, bench.slow_can, 2, correction=True)
    assert (forced["hardener_g"], _kinds(forced), len(forced["holds"])) == (30, ["cannot-correct"], 1)


def test_what_was_applied_or_filled_is_not_corrected(bench: makers.Mixing) -> None:
    mix = _short_of_hardener(bench)
    bench.apply(mix, (makers.started_part(bench.api), 20))
    seen = bench.api.get(f"/v1/mixes/{mix}")
    assert seen["correction"]["why_not"] == ["Some of it has been applied."]
    # It is recorded all the same, though something was taken from the pot already.
    assert bench.pour(mix, bench.slow_can, 2, correction=True)["hardener_g"] == 30


def test_a_correction_over_the_largest_pot_is_not_offered(bench: makers.Mixing) -> None:
    mix = bench.start(1000)["code"]
    bench.pour(mix, bench.resin_can, 769.2)
    wrong = bench.pour(mix, bench.slow_can, 240)
    assert wrong["correction"]["possible"] == "no"
    assert "largest pot" in wrong["correction"]["why_not"][0]
    assert _kinds(wrong) == ["pot-too-large"]


def test_without_a_temperature_a_correction_is_asked_about(bench: makers.Mixing) -> None:
    mix = bench.start(130, temperature_c=None)["code"]
    bench.pour(mix, bench.resin_can, 100)
    seen = bench.pour(mix, bench.slow_can, 28)
    assert seen["correction"]["possible"] == "ask"
    assert seen["clock"]["use_before"] is None
    assert "not known" in seen["clock"]["note"]


def test_the_wrong_hardener_in_the_pot_is_recorded_and_held(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    wrong = bench.pour(mix, bench.fast_can, 30)
    assert _kinds(wrong) == ["wrong-pair"]
    assert "Alder 31 fast hardener" in wrong["flags"][0]["sentence"]
    assert len(wrong["holds"]) == 1
    assert wrong["hardener_g"] == 30


def test_an_unfit_can_in_the_pot_is_recorded_and_held(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    waiting = makers.lot(
        bench.api, bench.resin, bench.place, makers_lot="R-7", released=False, containers=[{"net_g": 500}]
    )["containers"][0]
    poured = bench.pour(mix, waiting, 60)
    assert (_kinds(poured), poured["resin_g"]) == (["not-released"], 60)
    assert len(poured["holds"]) == 1
    assert _kinds(bench.pour(mix, waiting, 40)) == ["not-released"]


def test_a_can_may_hold_more_than_the_book_says(bench: makers.Mixing) -> None:
    # Shop rule 7: up to max(50 g, 2 % of net) as found, above that the question for another can.
    small = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=100)[0]
    mix = bench.start(130, containers=[{"container": small}, {"container": bench.slow_can}])["code"]
    path = f"/v1/mixes/{mix}/pours"
    body = {"container": small, "scale": bench.scale, "reading_g": 160, "source": "typed", "read_back_g": 160}
    assert bench.api.refused(path, body, "more-than-booked")["booked_g"] == 100
    assert bench.pour(mix, small, 120)["resin_g"] == 120
    assert bench.api.get(f"/v1/containers/{small}")["state"] == "empty"


def test_separate_cups_are_weighed_back(bench: makers.Mixing) -> None:
    mix = bench.start(130, separate_cups=True)["code"]
    first = bench.pour(mix, bench.resin_can, 100)
    assert first["next"]["scale_reading_if_not_zeroed_g"] is None
    done = bench.pour(mix, bench.slow_can, 30.4, emptied_cup_g=0.4)
    assert (done["hardener_g"], done["judgement"]["verdict"]) == (30, "within")
    assert done["clock"]["contact_at"] is not None


def test_separate_cups_have_met_when_they_are_stirred_together(bench: makers.Mixing) -> None:
    mix = bench.start(130, separate_cups=True)["code"]
    bench.pour(mix, bench.resin_can, 100)
    assert bench.pour(mix, bench.slow_can, 30)["clock"]["contact_at"] is None
    begins = bench.api.shop.clock.now.isoformat().replace("+00:00", "Z")
    assert bench.stir(mix)["clock"]["contact_at"] == begins


def test_a_late_entry_is_marked_by_its_own_time(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    began = bench.api.shop.clock.now
    bench.api.shop.clock.forward(minutes=40)
    bench.pour(mix, bench.resin_can, 100, occurred_at=began.isoformat())
    entry = bench.api.get(f"/v1/journal?item={mix}", who="quality")[-1]
    assert (entry["operation"], entry["late"]) == ("pour", True)


def test_a_filler_is_no_pour_and_a_roll_is_neither(bench: makers.Mixing) -> None:
    filler = makers.material(bench.api, "Microspheres", "filler")
    can = makers.cans(bench.api, filler, bench.place, "M-1", no_expiry=True)[0]
    mix = bench.start(130)["code"]
    assert "fillers" in bench.pour(mix, can, 10, expect=422)["way_out"]
