"""Cures over HTTP: from the start to the verdict, with the files that loggers really write."""

from datetime import timedelta
from typing import Any

import pytest

from service.database import connected
from service.records.cures import CureLog
from service.records.journal import Document
from tests import makers
from tests.conftest import NOW
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS, every, long_rows, ramp, semicolons

LONG = {
    "delimiter": ",",
    "header_line": 1,
    "time_columns": [0],
    "time_kind": "elapsed_s",
    "layout": "long",
    "name_column": 1,
    "value_column": 2,
    "unit": "C",
}
# 40 K in 80 min, then 60 °C until minute 640: the band from 55 °C is reached at minute 70.
GOOD = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 20), (80, 60)]), "air": ramp([(0, 20), (30, 62)])}
NIGHT = every(5, until_min=650)


@pytest.fixture
@made_once
def oven(api: Any) -> Any:
    """A schedule for 480 min at 60 °C, a logger, an oven, a laid-up part; the clock stands at the start."""
    api.schedule = makers.schedule(api, start_within_min=120)
    api.logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    api.place = makers.place(api, "Oven 1")
    api.part = makers.laid_up_part(api)
    return api


def start(api: Any, *parts: str, **more: Any) -> str:
    body = {"schedule": api.schedule["name"], "parts": list(parts) or [api.part], **more}
    return str(api.post("/v1/cures", body)["code"])


def send(api: Any, cure: str, raw: bytes, *, expect: int = 201, logger: int | None = None, **query: str) -> Any:
    """Add a file. Of the semicolon logger, what a test says nothing of measures something else."""
    if expect == 201 and logger is None:
        told = {name.partition("=")[0] for names in query.values() for name in names.split(",")}
        query.setdefault("elsewhere", ",".join(name for name in GOOD if name not in told))
    asked = "&".join(f"{k}={v}" for k, v in query.items() if v)
    answer = api.call("POST", f"/v1/cures/{cure}/logs?logger={logger or api.logger}&{asked}", raw)
    assert answer.status_code == expect, answer.get_data(as_text=True)
    return answer.get_json()


def cured(api: Any, curves: Any = GOOD, minutes: Any = NIGHT, probes: str = "root,tip") -> Any:
    """A cure from start to end with one file of the semicolon logger."""
    cure = start(api)
    api.shop.clock.forward(minutes=650)
    send(api, cure, semicolons(NOW, minutes, curves), part_probes=probes, air_probes="air")
    return api.post(f"/v1/cures/{cure}/end")


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


def test_the_raw_file_is_kept_as_it_came(oven: Any) -> None:
    raw = semicolons(NOW, NIGHT, GOOD)
    log = send(oven, start(oven), raw, part_probes="root,tip", name="night.csv")["logs"][0]
    kept = oven.call("GET", f"/v1/documents/{log['document']}")
    assert (kept.data, kept.mimetype) == (raw, "text/csv")
    assert "night.csv" in kept.headers["Content-Disposition"]
    assert (log["rows"], log["other_probes"], log["logger_name"]) == (131, ["air"], "Oven logger 2")


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


def test_a_file_of_another_day_is_refused_and_not_kept(oven: Any) -> None:
    cure = start(oven)
    raw = semicolons(NOW - timedelta(days=1), NIGHT, GOOD)
    problem = send(oven, cure, raw, expect=422, part_probes="root,tip", air_probes="air")
    assert "ends at 2 Nov 20:50, before" in problem["detail"]
    assert oven.get(f"/v1/cures/{cure}")["logs"] == []
    oven.shop.clock.forward(minutes=10)
    oven.post(f"/v1/cures/{cure}/end")
    later = semicolons(NOW + timedelta(days=1), NIGHT, GOOD)
    problem = send(oven, cure, later, expect=422, part_probes="root,tip", air_probes="air")
    assert "begins at 4 Nov 10:00, after" in problem["detail"]


def test_an_unreadable_file_is_refused_with_line_and_column_and_nothing_is_kept(oven: Any) -> None:
    cure = start(oven)
    with connected():
        documents = Document.select().count()
    raw = semicolons(NOW, NIGHT, GOOD).replace(b"10:15:00;27,5", b"10:15:00;hot")
    problem = send(oven, cure, raw, expect=422, part_probes="root,tip")
    assert (problem["type"], problem["line"], problem["column"]) == ("/problems/unreadable-log", 8, 3)
    assert "hot" in problem["detail"]
    assert oven.get(f"/v1/cures/{cure}")["logs"] == []
    with connected():
        assert (CureLog.select().count(), Document.select().count()) == (0, documents)
    refused = oven.get(f"/v1/journal?item={cure}&refused=true", who="quality")
    assert [e["refused"] for e in refused] == ["unreadable-log"]


def test_the_same_file_twice_is_told_and_kept_once(oven: Any) -> None:
    cure = start(oven)
    raw = semicolons(NOW, NIGHT, GOOD)
    send(oven, cure, raw, part_probes="root,tip")
    problem = send(oven, cure, raw, expect=409, part_probes="root,tip")
    assert problem["type"] == "/problems/already-there"
    assert len(oven.get(f"/v1/cures/{cure}")["logs"]) == 1


@pytest.mark.parametrize(
    ("query", "pointer", "says"),
    [
        ({}, "/part_probes", "the file has root, tip, air"),
        ({"part_probes": "root,keel"}, "/part_probes", "no probe keel"),
        ({"part_probes": "root", "air_probes": "root"}, "/air_probes", "named twice"),
        ({"part_probes": "root,root,tip,air"}, "/part_probes", "named twice"),
        ({"part_probes": "root", "air_probes": "air"}, "/part_probes", "Nothing is said of tip"),
        ({"part_probes": "root", "elsewhere": "tip", "left_out": "air"}, "/left_out/0", "an equals sign"),
        ({"part_probes": "root", "elsewhere": "air,tip", "left_out": "tip=fell off"}, "/elsewhere", "named twice"),
        ({"part_probes": "root,tip", "air_probes": "air", "stands_for": "tip=P000000"}, "/stands_for/0", "P"),
    ],
)
def test_it_must_be_said_where_the_probes_lay(oven: Any, query: dict[str, str], pointer: str, says: str) -> None:
    problem = send(oven, start(oven), semicolons(NOW, NIGHT, GOOD), expect=422, **query)
    assert problem["errors"][0]["pointer"] == pointer
    assert says in problem["detail"]


def test_a_probe_does_not_move_between_two_files_of_a_cure(oven: Any) -> None:
    cure = start(oven)
    send(oven, cure, semicolons(NOW, every(5, until_min=300), GOOD), part_probes="root", air_probes="air")
    second = semicolons(NOW + timedelta(minutes=305), every(5, until_min=300), GOOD)
    problem = send(oven, cure, second, expect=422, part_probes="air,root,tip")
    assert "lay elsewhere" in problem["detail"]


def test_two_files_of_one_logger_are_one_log(oven: Any) -> None:
    cure = start(oven)
    hot = {name: ramp([(0, 60)]) for name in GOOD}
    send(oven, cure, semicolons(NOW, every(5, until_min=300), GOOD), part_probes="root,tip")
    oven.shop.clock.forward(minutes=650)
    send(oven, cure, semicolons(NOW + timedelta(minutes=305), every(5, until_min=345), hot), part_probes="root,tip")
    view = oven.post(f"/v1/cures/{cure}/end")
    assert view["verdict"]["stages"][0]["proved_min"] == pytest.approx(580, abs=0.2)
    assert view["passed"] is True


def test_two_loggers_with_a_probe_of_the_same_name_stay_apart(oven: Any) -> None:
    other = oven.post("/v1/loggers", {"name": "Shop logger", "profile": LONG}, who="lead")["id"]
    cure = start(oven)
    send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    oven.shop.clock.forward(minutes=650)
    cold = long_rows(every(1, until_min=640), {"root": ramp([(0, 20), (80, 50)])})
    began = NOW.isoformat().replace("+00:00", "Z")
    send(oven, cure, cold, logger=other, part_probes="root", started_at=began)
    view = oven.post(f"/v1/cures/{cure}/end")
    assert view["verdict"]["judged_on"] == ["root (Oven logger 2)", "tip", "root (Shop logger)"]
    assert view["verdict"]["coldest_probe"] == "root (Shop logger)"
    assert view["passed"] is False


def test_elapsed_time_without_its_start_is_asked_for(oven: Any) -> None:
    other = oven.post("/v1/loggers", {"name": "Shop logger", "profile": LONG}, who="lead")["id"]
    raw = long_rows(every(5, until_min=640), {"root": ramp([(0, 60)])})
    problem = send(oven, start(oven), raw, expect=422, logger=other, part_probes="root")
    assert problem["errors"][0]["pointer"] == "/started_at"


def test_a_logger_without_a_profile_reads_nothing(oven: Any) -> None:
    bare = oven.post("/v1/loggers", {"name": "New logger"}, who="lead")["id"]
    problem = send(oven, start(oven), semicolons(NOW, NIGHT, GOOD), expect=409, logger=bare, part_probes="root")
    assert f"/v1/loggers/{bare}/preview" in problem["way_out"]


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


def test_a_clock_that_runs_ahead_is_noted(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=580)
    view = send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    assert [f["kind"] for f in view["flags"]] == ["logger-clock"]
    assert "1 h 10 min beyond" in view["flags"][0]["sentence"]


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


def test_a_file_sent_again_with_its_key_is_answered_again(oven: Any) -> None:
    cure, raw = start(oven), semicolons(NOW, NIGHT, GOOD)
    path = f"/v1/cures/{cure}/logs?logger={oven.logger}&part_probes=root,tip&elsewhere=air"
    one = oven.call("POST", path, raw, Idempotency_Key="f1")
    two = oven.call("POST", path, raw, Idempotency_Key="f1")
    assert (one.status_code, one.get_json()) == (201, two.get_json())
    assert two.headers["Idempotency-Replayed"] == "true"
    assert one.headers["ETag"] == f'"{one.get_json()["version"]}"'
    other = oven.call("POST", path, raw.replace(b"60,0", b"61,0"), Idempotency_Key="f1")
    assert other.get_json()["type"] == "/problems/idempotency-key-reused"


@pytest.mark.parametrize("query", ["", "logger=1&part_probes=root&colour=red", "logger=x&part_probes=root"])
def test_a_query_that_does_not_make_sense_is_refused(oven: Any, query: str) -> None:
    answer = oven.call("POST", f"/v1/cures/{start(oven)}/logs?{query}", semicolons(NOW, NIGHT, GOOD))
    assert (answer.status_code, answer.get_json()["type"]) == (422, "/problems/invalid")


def test_a_probe_named_again_and_again_is_read_like_one_list(oven: Any) -> None:
    cure = start(oven)
    asked = f"logger={oven.logger}&part_probes=root&part_probes=tip&air_probes=air"
    answer = oven.call("POST", f"/v1/cures/{cure}/logs?{asked}", semicolons(NOW, NIGHT, GOOD))
    assert answer.get_json()["logs"][0]["part_probes"] == ["root", "tip"]


def test_every_part_has_a_probe_that_stands_for_it(oven: Any) -> None:
    second = makers.laid_up_part(oven)
    cure, raw = start(oven, oven.part, second), semicolons(NOW, NIGHT, GOOD)
    asked = {"part_probes": "root", "air_probes": "air", "left_out": "tip=fell off"}
    problem = send(oven, cure, raw, expect=422, **asked)
    assert f"For which of {oven.part}, {second} does root stand?" in problem["detail"]
    oven.shop.clock.forward(minutes=650)
    send(oven, cure, raw, **asked, stands_for=f"root={oven.part}")
    view = oven.post(f"/v1/cures/{cure}/end")
    assert (view["passed"], view["verdict"]["result"]) == (False, "not known")
    assert view["verdict"]["sentences"][:2] == ["Not known.", f"No probe stands for {second}."]
    # A second file of another logger brings the missing one.
    other = oven.post("/v1/loggers", {"name": "Shop logger", "profile": LONG}, who="lead")["id"]
    tip = long_rows(every(5, until_min=650), {"tip": ramp([(0, 20), (80, 60)])})
    began = NOW.isoformat().replace("+00:00", "Z")
    view = send(oven, cure, tip, logger=other, part_probes="tip", stands_for=f"tip={second}", started_at=began)
    assert (view["passed"], view["holds"]) == (True, [])


def test_one_probe_may_stand_for_several_parts(oven: Any) -> None:
    second = makers.laid_up_part(oven)
    cure = start(oven, oven.part, second)
    oven.shop.clock.forward(minutes=650)
    stand = f"root={oven.part}&stands_for=root={second}&stands_for=tip={second}"
    send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip", stands_for=stand)
    view = oven.post(f"/v1/cures/{cure}/end")
    assert view["passed"] is True
    assert view["logs"][0]["stands_for"] == {"root": [oven.part, second], "tip": [second]}


def test_a_probe_left_out_is_kept_with_its_reason_and_still_guards_the_maximum(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=650)
    hot = {**GOOD, "tip": ramp([(0, 20), (80, 60), (300, 60), (330, 75), (360, 60)])}
    send(oven, cure, semicolons(NOW, NIGHT, hot), part_probes="root", left_out="tip=fell off", air_probes="air")
    view = oven.post(f"/v1/cures/{cure}/end")
    assert view["logs"][0]["left_out"] == {"tip": "fell off"}
    assert view["verdict"]["judged_on"] == ["root"]
    assert view["verdict"]["result"] == "violated"
    assert any("tip was over 70 °C from minute 320.0 to 340.0, 75.0 °C" in s for s in view["verdict"]["sentences"])


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


def test_what_a_sensor_cannot_read_is_no_reading(oven: Any) -> None:
    ranged = {"name": "Oven logger 3", "profile": SEMICOLONS, "sensor_low_c": -20, "sensor_high_c": 120}
    oven.logger = oven.post("/v1/loggers", ranged, who="lead")["id"]
    broken = {**GOOD, "tip": ramp([(0, 20), (80, 60), (300, 60), (300.1, 350), (309, 350), (309.1, 60)])}
    view = cured(oven, curves=broken)
    stage = view["verdict"]["stages"][0]
    assert (view["passed"], stage["gaps"]) == (True, [[300, 310]])
    assert stage["suspects"][0]["why"] == "outside the sensor's range of -20 to 120 °C"
    for wrong, pointer in (({"sensor_high_c": None}, "/sensor_high_c"), ({"sensor_low_c": 130}, "/sensor_low_c")):
        path = f"/v1/loggers/{oven.logger}"
        problem = oven.call("PATCH", path, wrong, who="lead", If_Match='"1"').get_json()
        assert problem["errors"][0]["pointer"] == pointer


def test_a_cure_does_not_begin_before_the_lay_up_was_closed(oven: Any) -> None:
    early = (NOW - timedelta(hours=13)).isoformat().replace("+00:00", "Z")
    body = {"schedule": oven.schedule["name"], "parts": [oven.part], "occurred_at": early, "why": "entered late"}
    problem = oven.post("/v1/cures", body, expect=422)
    assert problem["errors"][0]["pointer"] == "/occurred_at"
    assert f"before the lay-up of {oven.part} was closed at 10:00" in problem["detail"]
    assert oven.get(f"/v1/items/{oven.part}")["state"] == "laid up"
