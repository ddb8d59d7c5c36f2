"""A pot off its ratio: set right while that can be done, and if not, recorded, stopped, and conceded by a second."""

import pytest

from tests.journeys.floor import Floor


@pytest.mark.parametrize(
    ("hardener_g", "add", "add_g", "total_g"),
    [
        # Shop rule 20: b < r·a, add r·a - b = 300·0.3 - 80 = 10 g of hardener.
        (80, "hardener", 10, 390),
        # b > r·a, add b/r - a = 99/0.3 - 300 = 30 g of resin; 300 + 30 + 99 = 429 g in all.
        (99, "resin", 30, 429),
    ],
)
def test_poured_short_or_over_it_is_corrected_and_goes_into_its_part_unmarked(
    floor: Floor, hardener_g: float, add: str, add_g: float, total_g: float
) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design()
    part = floor.part(design)
    mix = bench.start(390, parts=[part])["code"]
    bench.pour(mix, bench.resin_can, 300)
    wrong = bench.pour(mix, bench.slow_can, hardener_g)
    offered = wrong["correction"]
    assert (wrong["judgement"]["verdict"], offered["possible"]) == ("outside", "yes")
    assert (offered["add"], offered["add_g"], offered["total_g"]) == (add, add_g, total_g)
    can = bench.resin_can if add == "resin" else bench.slow_can
    right = bench.pour(mix, can, offered["add_g"], correction=True)
    assert (right["judgement"]["verdict"], right["correction"], right["flags"]) == ("within", None, [])
    # What was stirred before the correction does not count: it is stirred again.
    bench.stir(mix)
    bench.apply(mix, (part, total_g - 20))
    closed = api.post(f"/v1/mixes/{mix}/closing", {"left_g": 19.5, "loss_g": 0.5, "cup_kept": True})
    assert (closed["flags"], closed["closing"]["applied_g"]) == ([], total_g - 20)
    floor.kit(design, part)
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(mix)
    floor.finish(part)
    assert floor.open_points(part) == []
    floor.release(part)
    pot = api.get(f"/v1/parts/{part}/record")["pots"][0]
    assert [(w["component"], w["correction"]) for w in pot["weighings"]][-1] == (add, True)
    assert pot["verdict"] == "within"


def test_what_can_be_corrected_no_more_is_stopped_and_conceded_by_a_second_person(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design()
    part = floor.part(design)
    floor.kit(design, part)
    mix = bench.start(390, parts=[part])["code"]
    bench.pour(mix, bench.resin_can, 300)
    bench.pour(mix, bench.slow_can, 80)
    bench.stir(mix)
    used = bench.apply(mix, (part, 200))
    assert [(f["kind"], f["stops"]) for f in used["flags"]] == [("ratio-outside", True)]
    late = api.get(f"/v1/mixes/{mix}")["correction"]
    assert (late["possible"], late["why_not"]) == ("no", ["Some of it has been applied."])
    assert "cannot be corrected any more" in late["sentence"]
    bench.apply(mix, (part, 160))
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 19.5, "cup_kept": True})
    assert [h["on"] for h in api.get(f"/v1/parts/{part}")["holds"]] == [mix]
    # The job in hand goes on, as resin does not wait; the release does not.
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(mix)
    floor.finish(part)
    assert floor.open_points(part) == [(mix, "on-hold"), (mix, "ratio-outside")]
    problem = api.refused(f"/v1/parts/{part}/release", {"reviewed": True}, "not-releasable", who="lead")
    assert [(p["item"], p["who"]) for p in problem["open"]] == [(mix, "quality"), (mix, "lead or quality")]

    asked = {"kind": "concession", "item": mix, "reasons": ["ratio-outside"], "why": "cup hard at 82 Shore D"}
    number = api.post("/v1/permissions", asked, who="lead")["id"]
    sign = f"/v1/permissions/{number}/signature"
    api.post(sign, {"permitted": True}, who="laminator", expect=403)
    api.post(sign, {"permitted": True}, who="integrator", expect=403)
    api.refused(sign, {"permitted": True}, "second-person-required", who="lead")
    assert floor.open_points(part) == [(mix, "on-hold"), (mix, "ratio-outside")], "asked is not signed"
    api.post(sign, {"permitted": True, "remark": "inner skin"}, who="quality")
    assert floor.open_points(part) == []
    assert "cup hard at 82 Shore D" in floor.to_read(part)["ratio-outside"]
    floor.release(part)
    record = api.get(f"/v1/parts/{part}/record")
    assert [(p["kind"], p["item"], p["signed_by"], p["decision"]) for p in record["permits"]] == [
        ("concession", mix, "Quality", "permitted")
    ]
    assert (number, mix) in [(f["permit"], f["items"][0]) for f in record["standing_out"]]


def test_a_concession_that_is_refused_leaves_the_part_where_it_is_until_it_is_decided(floor: Floor) -> None:
    api = floor.api
    design = floor.design()
    part = floor.part(design)
    pot = floor.pot((part, 360), total_g=390, hardener_g=80, left_g=15)
    asked = {"kind": "concession", "item": pot["code"], "reasons": ["ratio-outside"], "why": "it feels hard"}
    number = api.post("/v1/permissions", asked)["id"]
    api.post(f"/v1/permissions/{number}/signature", {"permitted": False, "remark": "soft at 50 Shore D"}, who="quality")
    assert {(pot["code"], "on-hold"), (pot["code"], "ratio-outside")} <= set(floor.open_points(part))
    opened = api.post("/v1/nonconformances", {"item": part, "found": "soft: pot short of hardener"})
    decision = {"disposition": "scrap", "because": "11 % short"}
    api.post(f"/v1/nonconformances/{opened['id']}/decision", decision, who="quality")
    view = api.get(f"/v1/parts/{part}")
    assert view["state"] == "scrapped"
    assert [(m["code"], m["mass_g"]) for m in view["mixes"]] == [(pot["code"], 360)], "it stays in the record"
