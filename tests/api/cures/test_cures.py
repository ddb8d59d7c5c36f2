"""Cures over HTTP: from the start to the verdict, with the files that loggers really write."""

from datetime import timedelta
from typing import Any

import pytest

from tests import makers
from tests.api.cures.ovens import GOOD, LONG, NIGHT, cured, send, start
from tests.conftest import NOW
from tests.logger_files import every, long_rows, ramp, semicolons


def test_a_proved_cure_cures_its_parts(oven: Any) -> None:
    second = makers.laid_up_part(oven)
    cure = start(oven, oven.part, second, place=oven.place)
    view = oven.get(f"/v1/cures/{cure}")
    assert (view["state"], view["place"], view["passed"]) == ("running", oven.place, None)
    assert [p["state"] for p in view["parts"]] == ["curing", "curing"]
    oven.shop.clock.forward(minutes=650)
    stand = f"root={oven.part}&stands_for=tip={second}"
    so_far = send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip", air_probes="air", stands_for=stand)
    assert (so_far["state"], so_far["verdict"]["final"], so_far["verdict"]["passed"]) == ("running", False, True)
    view = oven.post(f"/v1/cures/{cure}/end")
    assert (view["state"], view["passed"], view["evidence"]) == ("passed", True, "part probe")
    stage = view["verdict"]["stages"][0]
    # In the band from minute 70 to the last sample at minute 650 (shop rule 35: linear at crossings).
    assert (stage["result"], stage["proved_min"]) == ("proved", pytest.approx(580, abs=0.2))
    assert view["verdict"]["judged_on"] == ["root", "tip"]
    assert [p["state"] for p in view["parts"]] == ["cured", "cured"]
    assert (view["flags"], view["holds"]) == ([], [])


def test_a_cure_that_is_not_proved_holds_its_parts_by_itself(oven: Any) -> None:
    # The oven was switched off at minute 400, and the root of the part is the thicker end.
    off = {
        "root": ramp([(0, 20), (80, 60), (400, 61), (650, 40)]),
        "tip": ramp([(0, 20), (80, 60), (400, 60), (410, 40)]),
    }
    view = cured(oven, curves={**GOOD, **off})
    assert (view["state"], view["passed"], view["verdict"]["result"]) == ("failed", False, "violated")
    # From minute 70 to 402.5; the file writes tenths of a degree at each fifth minute.
    said = view["verdict"]["sentences"][1]
    assert "5 h 32.5 min proved between 55 and 65 °C, 8 h 0 min needed" in said
    assert "tip was in the band from minute 70.0 to 402.5 at the most" in said
    assert [(f["kind"], f["stops"]) for f in view["flags"]] == [("cure-not-proved", True)]
    assert [h["on"] for h in view["holds"]] == [view["code"]]
    part = oven.get(f"/v1/items/{oven.part}")
    assert part["state"] == "curing"
    assert [h["on"] for h in part["holds"]] == [view["code"]]


def test_the_clock_runs_only_while_all_required_probes_are_in_the_band(oven: Any) -> None:
    cold_tip = {**GOOD, "tip": ramp([(0, 20), (80, 54), (650, 53)])}
    view = cured(oven, curves=cold_tip)
    assert view["verdict"]["stages"][0]["proved_min"] == 0
    assert (view["passed"], view["verdict"]["coldest_probe"]) == (False, "tip")
    assert view["verdict"]["highest"]["probe"] == "root"


def test_air_probes_prove_no_time_on_the_part(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    send(oven, cure, semicolons(NOW, NIGHT, GOOD), air_probes="air")
    view = oven.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["evidence"], view["needed"]) == (False, "air log", "part probe")
    said = view["verdict"]["sentences"]
    assert said[1] == (
        "The schedule needs a log with probes on the part; there is a log of the air only, "
        "which proves no time on the part."
    )
    assert said[2].startswith("In the air: post-cure: ")
    assert view["verdict"]["stages"] == []


def test_no_evidence_at_all_fails(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    view = oven.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["evidence"], view["verdict"]["result"]) == (False, None, "not known")
    assert "there is nothing" in view["verdict"]["sentences"][1]
    oven.refused(f"/v1/cures/{cure}/end", {}, "wrong-state")


def test_a_forgotten_file_lifts_the_hold_that_its_lack_placed(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    oven.post(f"/v1/cures/{cure}/end")
    view = send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    assert (view["state"], view["passed"], view["holds"]) == ("passed", True, [])
    part = oven.get(f"/v1/items/{oven.part}")
    assert (part["state"], part["holds"]) == ("cured", [])
    entry = oven.get(f"/v1/journal?item={cure}&operation=import_cure_log", who="quality")[-1]
    assert any("lifted" in note for note in entry["body"]["notes"])


def test_another_hold_on_the_cure_stays_when_a_file_proves_it(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    oven.post(f"/v1/cures/{cure}/end")
    oven.post("/v1/holds", {"item": cure, "reason": "door was opened"})
    view = send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    assert [h["reason"] for h in view["holds"]] == ["door was opened"]


def test_the_same_failure_again_is_not_flagged_twice_and_a_new_one_is(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    oven.post(f"/v1/cures/{cure}/end")
    air = send(oven, cure, semicolons(NOW, NIGHT, GOOD), air_probes="air")
    assert len(air["flags"]) == 2
    short = every(5, until_min=30)
    again = send(oven, cure, semicolons(NOW, short, GOOD), air_probes="air")
    assert (len(again["flags"]), again["passed"]) == (2, False)


def test_what_was_logged_before_the_start_proves_nothing(oven: Any) -> None:
    # The oven was hot from the cure before; this one started when 400 min of the file were over.
    oven.shop.clock.forward(minutes=400)
    part = makers.laid_up_part(oven)
    cure = start(oven, part)
    oven.shop.clock.forward(minutes=250)
    send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    view = oven.post(f"/v1/cures/{cure}/end")
    assert view["verdict"]["stages"][0]["proved_min"] == pytest.approx(250, abs=0.2)
    assert view["passed"] is False


def test_a_doubted_reading_and_a_hole_are_read_at_release(oven: Any) -> None:
    minutes = [m for m in every(1, until_min=650) if not 200 < m < 220]
    raw = semicolons(NOW, minutes, GOOD).replace(b"15:00:00;60,0", b"15:00:00;99,9")
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    send(oven, cure, raw, part_probes="root,tip")
    view = oven.post(f"/v1/cures/{cure}/end")
    stage = view["verdict"]["stages"][0]
    assert [(s["probe"], s["temperature_c"]) for s in stage["suspects"]] == [("root", 99.9)]
    assert stage["suspects"][0]["why"] == "out and back faster than 30 K/min"
    assert stage["gaps"] == [[200, 220], [299, 301]]
    assert (view["passed"], [(f["kind"], f["stops"]) for f in view["flags"]]) == (True, [("cure-log-odd", False)])


def test_curves_are_read_and_drawn(oven: Any) -> None:
    cure = start(oven)
    assert oven.call("GET", f"/v1/cures/{cure}/plot.svg").status_code == 404
    send(oven, cure, semicolons(NOW, NIGHT, GOOD, drop=[10]), part_probes="root,tip", air_probes="air")
    series = {s["probe"]: s for s in oven.get(f"/v1/cures/{cure}/readings")["series"]}
    assert [series[name]["on"] for name in ("root", "tip", "air")] == ["part", "part", "air"]
    assert series["root"]["times_s"][:3] == [0, 300, 600]
    assert series["root"]["temperatures_c"][:3] == [20, 22.5, None]
    drawing = oven.call("GET", f"/v1/cures/{cure}/plot.svg")
    assert drawing.mimetype == "image/svg+xml"
    assert drawing.data.startswith(b"<?xml") or b"<svg" in drawing.data[:400]
    assert cure.encode() in drawing.data


def test_cures_are_listed_by_state_part_and_schedule(oven: Any) -> None:
    first = cured(oven)["code"]
    other = makers.laid_up_part(oven)
    second = start(oven, other)
    assert [c["code"] for c in oven.get("/v1/cures")] == [first, second]
    assert [c["code"] for c in oven.get("/v1/cures?state=running")] == [second]
    rows = oven.get(f"/v1/cures?part={oven.part}")
    assert [(c["code"], c["passed"], c["parts"], c["on_hold"]) for c in rows] == [(first, True, [oven.part], False)]
    assert len(oven.get("/v1/cures?schedule=Alder+10+with+post-cure")) == 2
    assert oven.get("/v1/cures?schedule=Other") == []


def test_further_evidence_lifts_what_was_not_known_and_never_what_was_violated(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    hot = {**GOOD, "tip": ramp([(0, 20), (80, 60), (300, 60), (330, 75), (360, 60)])}
    send(oven, cure, semicolons(NOW, NIGHT, hot), part_probes="root,tip", air_probes="air")
    oven.post(f"/v1/cures/{cure}/end")
    entry = oven.get(f"/v1/journal?item={cure}&operation=import_cure_log", who="quality")[-1]
    other = oven.post("/v1/loggers", {"name": "Shop logger", "profile": LONG}, who="lead")["id"]
    good = long_rows(every(5, until_min=650), {"keel": ramp([(0, 20), (80, 60)])})
    began = NOW.isoformat().replace("+00:00", "Z")
    view = send(oven, cure, good, logger=other, part_probes="keel", started_at=began)
    assert (view["passed"], len(view["holds"])) == (False, 2)
    # The first file was that of another oven: what it showed did not happen to this part, yet a person answers it.
    wrong = {"declaration": "did not occur", "why": "file of oven 2"}
    oven.post(f"/v1/journal/{entry['seq']}/corrections", wrong, who="quality")
    view = oven.get(f"/v1/cures/{cure}")
    assert (view["passed"], len(view["holds"])) == (True, 2)


def test_a_log_that_does_not_span_the_cure_leaves_it_not_known(oven: Any) -> None:
    view = cured(oven, minutes=every(5, until_min=630))
    assert view["verdict"]["result"] == "not known"
    assert "post-cure: The log of root ends 20 min before the parts came out." in view["verdict"]["sentences"]


def test_a_cure_does_not_begin_before_the_lay_up_was_closed(oven: Any) -> None:
    clock = oven.shop.clock
    part = oven.post("/v1/parts", {"design": oven.get(f"/v1/parts/{oven.part}")["design"]["id"]})["code"]
    closed = clock.forward(hours=1)
    oven.post(f"/v1/parts/{part}/closing")
    early = (closed - timedelta(minutes=30)).isoformat().replace("+00:00", "Z")
    body = {"schedule": oven.schedule["name"], "parts": [part], "occurred_at": early, "why": "entered late"}
    problem = oven.post("/v1/cures", body, expect=422)
    assert problem["errors"][0]["pointer"] == "/occurred_at"
    assert f"before the lay-up of {part} was closed at {closed + timedelta(hours=1):%H:%M}" in problem["detail"]
    assert oven.get(f"/v1/items/{part}")["state"] == "laid up"
