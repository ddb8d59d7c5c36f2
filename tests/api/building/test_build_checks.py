"""Can it be built? The answer agrees with what a start then does, and says why not, and what would help."""

from typing import Any

from service.database import connected
from service.records import ALL
from tests import makers
from tests.journeys.conftest import floor
from tests.journeys.floor import Floor

__all__ = ["floor"]

WORK = {"temperature_c": 20, "wet_out_rate_g_min": 50}


def _asked(floor: Floor, *lines: dict[str, Any], **more: Any) -> Any:
    answer: Any = floor.api.post(
        "/v1/build-checks", {"lines": list(lines), **WORK, **more}, who="integrator", expect=200
    )
    return answer


def _of(check: Any, material: int) -> Any:
    return next(one for one in check["materials"] if one["material"] == material)


def _rows() -> list[int]:
    with connected():
        return [table.select().count() for table in ALL]


def _shop_settings(floor: Floor, **settings: Any) -> None:
    etag = f'"{floor.api.get("/v1/site")["version"]}"'
    body = {**settings, "why": "as the shop works"}
    answer = floor.api.call("PATCH", "/v1/site", body, who="administrator", If_Match=etag)
    assert answer.status_code == 200, answer.get_data(as_text=True)


def test_what_is_said_to_be_possible_is_started_can_by_can_and_one_more_is_refused(floor: Floor) -> None:
    """Started for real: pots from the cans that were named, kits from the rolls, without a word against any of it."""
    api, bench = floor.api, floor.bench
    # 5000 g of resin and an older can of 700 g; 1300 g of mix for each part: two pots of 650 g, 500 g of resin each.
    older = makers.cans(api, bench.resin, bench.place, "R-0", net_g=700, expires_on="2027-01-31")[0]
    design = floor.design("HY-131", need_g=1300)
    short = makers.roll(api, floor.cloth, bench.place, "F-0", length_mm=3200)
    before = _rows()
    check = _asked(floor, {"part_number": "HY-131", "quantity": 5}, hardeners=[bench.slow])
    assert check["answer"] == "yes", check["sentence"]
    assert [(p["pots"], p["pot_g"], p["scale"]) for p in check["pots"]] == [(2, 650, bench.scale)]
    assert _rows() == before, "a check writes nothing"
    assert _of(check, bench.resin)["needed_g"] == 5000
    assert {d["container"] for d in _of(check, floor.cloth)["draws"]} <= {short, floor.roll}
    # One more part takes 1000 g of resin of the 700 g that are left: a no, that says what to order and by when.
    more = _asked(floor, {"design": design, "quantity": 6}, hardeners=[bench.slow])
    assert (more["answer"], _of(more, bench.resin)["short_g"]) == ("no", 300), more["sentence"]
    assert more["to_order"] == [
        {"material": bench.resin, "name": "Alder 10 resin", "mass_g": 300, "length_mm": None, "needed_by": "2026-11-03"}
    ]
    assert "6000 g is needed, and 5700 g is free" in more["sentence"]
    pots: dict[tuple[int, int], list[dict[str, Any]]] = {}
    for one in check["materials"]:
        for draw in one["draws"]:
            if draw["pot"] is None:
                cut = {"roll": draw["container"], "length_mm": draw["length_mm"]}
                api.post("/v1/kits", {"design": design, "cuts": [cut]})
            else:
                line = {"container": draw["container"], "mass_g": draw["mass_g"]}
                pots.setdefault((draw["part_in_line"], draw["pot"]), []).append(line)
    assert len(pots) == 10
    assert any(line["container"] == older for lines in pots.values() for line in lines), "first expired first out"
    for lines in pots.values():
        started = bench.start(650, containers=lines)
        assert not any("used up first" in said or "tenth" in said for said in started["notices"]), started["notices"]
    left = {
        c["container"]: c["free_g"] for c in api.get(f"/v1/availability?material={bench.resin}")["stock"][0]["cans"]
    }
    assert sum(left.values()) == 700
    bench.refused(
        "stock-short", 1000, containers=[*({"container": can} for can in left), {"container": bench.slow_can}]
    )
    assert _asked(floor, {"design": design, "quantity": 1}, hardeners=[bench.slow])["answer"] == "no"


def test_a_yes_if_has_the_fewest_conditions_and_each_that_comes_true_makes_it_a_yes(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design("HY-131", need_g=1300)
    line = {"design": design, "quantity": 6}
    assert _asked(floor, line, hardeners=[bench.slow])["answer"] == "no"
    # A delivery that is on its way, then two small lots in quarantine, then a large one: always the fewest.
    expected = [{"material": bench.resin, "on": "2026-11-10", "mass_g": 2000}]
    late = _asked(floor, line, hardeners=[bench.slow], expected=expected)
    assert late["answer"] == "no", "it is begun on 3 November, and the delivery comes on the tenth"
    later = {**line, "not_before": "2026-11-10"}
    check = _asked(floor, later, hardeners=[bench.slow], expected=expected)
    assert (check["answer"], [c["kind"] for c in check["conditions"]]) == ("yes, if", ["delivery"])
    assert None in {d["container"] for d in _of(check, bench.resin)["draws"]}
    for name in ("Q-1", "Q-2"):
        makers.lot(api, bench.resin, bench.place, makers_lot=name, released=False, containers=[{"net_g": 500}])
    check = _asked(floor, line, hardeners=[bench.slow])
    assert (check["answer"], [c["kind"] for c in check["conditions"]]) == ("yes, if", ["release", "release"])
    assert (check["smallest"], _of(check, bench.resin)["short_g"]) == (True, 1000)
    assert [(o["mass_g"], o["needed_by"]) for o in check["to_order"]] == [(1000, "2026-11-03")]
    large = makers.lot(api, bench.resin, bench.place, makers_lot="Q-3", released=False, containers=[{"net_g": 1000}])
    check = _asked(floor, line, hardeners=[bench.slow])
    assert [(c["kind"], c["item"]) for c in check["conditions"]] == [("release", large["code"])]
    api.post(f"/v1/lots/{large['code']}/release", who="lead")
    check = _asked(floor, line, hardeners=[bench.slow])
    assert (check["answer"], check["conditions"]) == ("yes", [])


def test_dates_permits_and_the_other_hardener(floor: Floor) -> None:
    """Hardener that is past its date on the day: a permit, or the other hardener, whichever is the smaller set."""
    api, bench = floor.api, floor.bench
    design = floor.design("HY-131", need_g=400)
    far = {"design": design, "quantity": 1, "not_before": "2027-10-20"}
    # On that day every can is past its date: resin and hardener.
    check = _asked(floor, far, hardeners=[bench.slow])
    assert (check["answer"], {c["kind"] for c in check["conditions"]}) == ("yes, if", {"permit"})
    assert {c["item"] for c in check["conditions"]} == {bench.resin_can, bench.slow_can}
    makers.cans(api, bench.resin, bench.place, "R-9", net_g=1000, expires_on="2028-06-30")
    makers.cans(api, bench.fast, bench.place, "F-9", net_g=1000, expires_on="2028-06-30")
    check = _asked(floor, far, hardeners=[bench.slow])
    assert [(c["kind"], c["item"]) for c in check["conditions"]] == [("permit", bench.slow_can)]
    assert _asked(floor, far)["answer"] == "yes", "no hardener named: any will do"
    # What is near its date and used is told.
    makers.cans(api, bench.slow, bench.place, "H-9", net_g=500, expires_on="2026-11-20")
    check = _asked(floor, {"design": design, "quantity": 1}, hardeners=[bench.slow])
    assert [(s["material"], s["good_until"], s["used_g"], s["left_g"]) for s in check["saves"]] == [
        (bench.slow, "2026-11-20", 92.308, 407.692)
    ]
    # A small pot of a coarse scale is more than the job takes; hotter than the table there is no figure.
    assert _asked(floor, {"design": floor.design("HY-9", need_g=20), "quantity": 1})["pots"][0]["pot_g"] > 20
    hot = floor.api.post("/v1/build-checks", {"lines": [far], **WORK, "temperature_c": 60}, expect=200)
    assert (hot["answer"], "no pot life" in hot["sentence"]) == ("no", True)


def test_drafts_are_never_possible_and_say_so(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    need = [{"purpose": "wet-out", "system": "Birch 7", "mass_g": 100}]
    draft = makers.resin_system(api, bench.resin, {bench.slow: 25}, name="Birch 7", approved=False)
    design = makers.design(api, "HY-7", resin_need=need)["id"]
    check = _asked(floor, {"design": design, "quantity": 1})
    assert (check["answer"], check["sentence"]) == (
        "no", "No: Birch 7 is still a draft; the lead or quality approves it first."
    )  # fmt: skip
    plan = {"system": draft["id"], "need_g": 100, "temperature_c": 21, "wet_out_rate_g_min": 20}
    refused = api.refused("/v1/mix-plans", plan, "wrong-state")
    assert (refused["detail"], refused["way_out"]) == (
        "Revision 1 of Birch 7 is still a draft.", "The lead or quality approves the resin system first."
    )  # fmt: skip
    api.post(f"/v1/resin-systems/{draft['id']}/approval", who="quality")
    assert _asked(floor, {"design": design, "quantity": 1})["answer"] == "yes"
    unapproved = makers.design(api, "HY-8", approved=False)["id"]
    check = _asked(floor, {"design": unapproved, "quantity": 2})
    assert check["sentence"] == "No: HY-8 revision A is still a draft; the lead or quality approves it first."
    api.refused("/v1/parts", {"design": unapproved}, "wrong-state")


def test_moulds_release_waits_and_the_shops_calendar_give_the_days(floor: Floor) -> None:
    api = floor.api
    design = floor.design("HY-131", need_g=400)
    mould = api.post("/v1/moulds", {"name": "Fairing mould", "part_number": "HY-131"}, who="lead")["code"]
    body = {"kind": "release coat", "container": floor.mould["agent"], "coats": 1}
    api.post(f"/v1/moulds/{mould}/treatments", body)
    asked = {"design": design, "quantity": 3, "due_on": "2026-11-06"}
    check = _asked(floor, asked)
    assert (check["answer"], check["lines"][0]["answer"]) == ("not shown", "not shown")
    assert "How long a part of HY-131 takes its mould is not known" in check["sentence"]
    # Tuesday 3 November, 9:30 by the shop's clock; 20 hours in the mould, half an hour for each new coat.
    _shop_settings(floor, weekdays=["monday", "tuesday", "wednesday", "thursday", "friday"], opens_at="07:00",
                   closes_at="16:00", closed_on=["2026-11-05"], mould_hours=20)  # fmt: skip
    check = _asked(floor, asked)
    assert [(p["mould"], p["begins_at"][:10], p["late"]) for p in check["parts"]] == [
        (mould, "2026-11-03", False), (mould, "2026-11-04", False), (mould, "2026-11-06", True),
    ]  # fmt: skip
    assert check["lines"][0]["late"] == 1
    assert "1 of 3 would be late, the last is out on 9 Nov 2026" in check["sentence"]
    api.post(f"/v1/moulds/{mould}/settings", {"hours": 3}, who="lead")
    check = _asked(floor, asked)
    assert check["answer"] == "yes", check["sentence"]
    assert {p["begins_at"][:10] for p in check["parts"]} == {"2026-11-03", "2026-11-04"}
    api.post("/v1/holds", {"item": mould, "reason": "a crack at the flange"}, who="lead")
    check = _asked(floor, asked)
    assert (check["answer"], "1 on hold" in check["sentence"]) == ("no", True)
    problem = api.call("PATCH", "/v1/site", {"opens_at": "17:00", "why": "late shift"}, who="administrator",
                       If_Match=f'"{api.get("/v1/site")["version"]}"').get_json()  # fmt: skip
    assert problem["errors"][0]["pointer"] == "/opens_at"


def test_what_is_planned_for_open_orders_that_are_due_first_comes_first(floor: Floor) -> None:
    """Two orders of three parts each of 1300 g; the resin is enough for five."""
    api, bench = floor.api, floor.bench
    design = floor.design("HY-131", need_g=1300)
    line = {"design": design, "quantity": 3, "due_on": "2026-12-10"}
    assert _asked(floor, line)["answer"] == "yes"
    for due in ("2026-12-24", "2026-12-01"):
        body = {"reference": f"PO {due}", "due": due, "lines": [{"part_number": "HY-131", "quantity": 3}]}
        order = api.post("/v1/orders", body, who="integrator")
    check = _asked(floor, line, hardeners=[bench.slow])
    assert (check["answer"], check["others_first"]) == ("no", 3), "the one that is due on the first comes first"
    resin = _of(check, bench.resin)
    assert (resin["kept_for_others_g"], resin["needed_g"], resin["short_g"]) == (3000, 3000, 1000)
    assert _asked(floor, line, order=order["order"]["id"])["answer"] == "yes", (
        "its own parts do not come before themselves"
    )
    # Without a due date it is the last of all; what there is not enough of is kept as far as it goes.
    last = _asked(floor, {"design": design, "quantity": 1}, hardeners=[bench.slow])
    assert (last["others_first"], _of(last, bench.resin)["kept_for_others_g"]) == (6, 5000)


def test_cloth_is_packed_on_real_rolls_and_a_no_is_only_said_where_it_is_proved(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    cloth = makers.fabric(api, "Twill 390", width_mm=1000)
    rolls = [makers.roll(api, cloth, bench.place, f"W-{n}", length_mm=1000) for n in range(2)]
    wide = makers.design(api, "HY-20", plies=makers.plies(cloth, 0, width_mm=900, length_mm=600))["id"]
    assert _asked(floor, {"design": wide, "quantity": 2})["answer"] == "yes"
    check = _asked(floor, {"design": wide, "quantity": 3})
    assert (check["answer"], _of(check, cloth)["short_mm"]) == ("no", 600), "2 m in all, yet no third piece"
    with_two = makers.design(api, "HY-21", plies=makers.plies(cloth, 0, 0, 0, width_mm=400, length_mm=900))["id"]
    # Three of 400 x 900 side by side and behind each other take 1810 mm of one roll, or one by one off two rolls 2700.
    check = _asked(floor, {"design": with_two, "quantity": 1})
    assert check["answer"] == "not shown", "two lie side by side on one roll and one on the other; nobody looked"
    makers.roll(api, cloth, bench.place, "W-9", length_mm=1900)
    check = _asked(floor, {"design": with_two, "quantity": 1})
    assert check["answer"] == "yes"
    assert len(_of(check, cloth)["draws"]) in (1, 3)
    assert rolls


def test_a_question_that_cannot_be_read_names_the_place(floor: Floor) -> None:
    design = floor.design("HY-131")
    for body, pointer in (
        ({"lines": [{"quantity": 1}]}, "/lines/0/design"),
        ({"lines": [{"design": design, "quantity": 1}], "hardeners": [floor.cloth]}, "/hardeners/0"),
        ({"lines": [{"part_number": "HY-0", "quantity": 1}]}, "/lines/0/part_number"),
        ({"lines": [{"design": design, "quantity": 150}, {"design": design, "quantity": 100}]}, "/lines"),
        ({"lines": [{"design": design, "quantity": 1, "not_before": "2026-12-02", "due_on": "2026-12-01"}]},
         "/lines/0/due_on"),
        ({"lines": [{"design": design, "quantity": 1}],
          "expected": [{"material": floor.cloth, "on": "2026-12-01", "mass_g": 5}]}, "/expected/0/length_mm"),
    ):  # fmt: skip
        problem = floor.api.post("/v1/build-checks", {**body, **WORK}, expect=422)
        assert problem["errors"][0]["pointer"] == pointer, problem


def test_a_kit_that_is_cut_already_takes_no_cloth_unless_it_is_held_or_lacks_a_ply(floor: Floor) -> None:
    api = floor.api
    design = floor.design("HY-131", need_g=420)

    def kit(**cut: Any) -> str:
        made = {"roll": floor.roll, "length_mm": 1500, **cut}
        return str(api.post("/v1/kits", {"design": design, "cuts": [made]})["code"])

    whole, held, lacking = kit(), kit(), kit(plies=[1, 2])
    plain = _asked(floor, {"design": design, "quantity": 3}, hardeners=[floor.bench.slow])
    assert [part["kit"] for part in plain["parts"]] == [whole, held, None]
    api.post("/v1/holds", {"item": held, "reason": "fallen on the floor"})
    check = _asked(floor, {"design": design, "quantity": 3}, hardeners=[floor.bench.slow])
    assert [part["kit"] for part in check["parts"]] == [whole, None, None]
    assert lacking not in str(check["parts"])
    draws = _of(check, floor.cloth)["draws"]
    assert {draw["part_in_line"] for draw in draws} == {2, 3}
    # The last of the roll is cut: what lies ready is still enough for one part, and for no second.
    left = api.get(f"/v1/containers/{floor.roll}")["left_mm"]
    api.post("/v1/kits", {"cuts": [{"roll": floor.roll, "length_mm": left}]})
    one = _asked(floor, {"design": design, "quantity": 1}, hardeners=[floor.bench.slow])
    assert (one["answer"], one["parts"][0]["kit"]) == ("yes", whole), one["sentence"]
    assert _asked(floor, {"design": design, "quantity": 2}, hardeners=[floor.bench.slow])["answer"] == "no"
    part = floor.part(design)
    laid = api.post(f"/v1/parts/{part}/kits", {"kit": whole, "backers_counted": 3})
    assert laid["flags"] == []
    assert _asked(floor, {"design": design, "quantity": 1}, hardeners=[floor.bench.slow])["answer"] == "no"


def test_the_earliest_day_waits_for_moulds_cures_and_the_delivery_and_what_it_plans_is_possible(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design("HY-131", need_g=1300)
    line = {"design": design, "quantity": 4}
    # Without a mould: four parts of 1000 g of resin each, begun on 3 November; the cure takes 8 hours in its band.
    day = _asked(floor, line, hardeners=[bench.slow])["earliest"]
    assert (day["answer"], day["ready_on"], day["proved"]) == ("yes", "2026-11-03", True), day["sentence"]
    assert _asked(floor, line, hardeners=[bench.slow], within_days=0)["earliest"] is None
    # Six take 6000 g and 5000 g are there: proved that never; with a delivery the sixth waits for it, the five do not.
    short = _asked(floor, {**line, "quantity": 6}, hardeners=[bench.slow])["earliest"]
    assert (short["answer"], short["ready_on"], short["proved"]) == ("no", None, True)
    assert "the Alder 10 resin that is there before 4 Feb 2027 is enough for 5 of 6 HY-131" in short["sentence"]
    makers.cans(api, bench.slow, bench.place, "H-8", net_g=1000)
    coming = {"material": bench.resin, "mass_g": 2000, "expected_on": "2026-11-16", "reference": "PO 4471"}
    api.post("/v1/expected-deliveries", coming, who="integrator")
    mould = api.post("/v1/moulds", {"name": "Fairing mould", "part_number": "HY-131", "hours": 30}, who="lead")["code"]
    _shop_settings(floor, weekdays=["monday", "tuesday", "wednesday", "thursday", "friday"], opens_at="07:00",
                   closes_at="16:00", closed_on=["2026-11-17"])  # fmt: skip
    check = _asked(floor, {**line, "quantity": 6}, hardeners=[bench.slow])
    day = check["earliest"]
    assert (check["answer"], day["answer"], day["proved"]) == ("no", "yes, if", True), day["sentence"]
    # Begun on Monday 16 November, 30 hours in the mould end on the Tuesday, when the shop is closed.
    assert day["ready_on"] == "2026-11-18"
    begun = [part["begins_at"][:10] for part in day["parts"]]
    assert begun == ["2026-11-03", "2026-11-05", "2026-11-06", "2026-11-09", "2026-11-10", "2026-11-16"]
    assert {part["mould"] for part in day["parts"]} == {mould}
    assert [(one["material"], one["expected_on"]) for one in day["deliveries"]] == [(bench.resin, "2026-11-16")]
    assert "enough for 5 of 6 HY-131" in day["sentence"]
    assert "The delivery PO 4471" in day["sentence"]
    # Asked with the days of the plan, the check says that it can be built if the delivery comes.
    planned = [{"design": design, "quantity": 1, "not_before": one} for one in begun]
    again = _asked(floor, *planned, hardeners=[bench.slow])
    assert (again["answer"], [c["kind"] for c in again["conditions"]]) == ("yes, if", ["delivery"]), again["sentence"]
    # An order that comes first waits for the same delivery: what is left of it is not promised twice.
    body = {"reference": "PO 1", "due": "2026-11-30", "lines": [{"part_number": "HY-131", "quantity": 7}]}
    api.post("/v1/orders", body, who="integrator")
    later = _asked(floor, {"design": design, "quantity": 1}, hardeners=[bench.slow])["earliest"]
    assert (later["answer"], later["ready_on"]) in (("no", None), ("not shown", None)), later["sentence"]
    # What is not known, or stands still, is no day.
    api.post("/v1/holds", {"item": mould, "reason": "a crack"}, who="lead")
    held = _asked(floor, {"design": design, "quantity": 1}, hardeners=[bench.slow])["earliest"]
    assert (held["answer"], held["sentence"]) == ("no", "No mould of HY-131 may be used now: 1 on hold.")
