"""The files of a cure: what is kept, what is refused, which probe stands for what."""

from datetime import timedelta
from typing import Any

import pytest

from service.database import connected
from service.records.cures import CureLog
from service.records.journal import Document
from tests import makers
from tests.api.cures.ovens import GOOD, LONG, NIGHT, cured, send, start
from tests.conftest import NOW
from tests.logger_files import SEMICOLONS, every, long_rows, ramp, semicolons


def test_the_raw_file_is_kept_as_it_came(oven: Any) -> None:
    raw = semicolons(NOW, NIGHT, GOOD)
    log = send(oven, start(oven), raw, part_probes="root,tip", name="night.csv")["logs"][0]
    kept = oven.call("GET", f"/v1/documents/{log['document']}")
    assert (kept.data, kept.mimetype) == (raw, "text/csv")
    assert "night.csv" in kept.headers["Content-Disposition"]
    assert (log["rows"], log["other_probes"], log["logger_name"]) == (131, ["air"], "Oven logger 2")


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


def test_a_clock_that_runs_ahead_is_noted(oven: Any) -> None:
    cure = start(oven)
    oven.shop.clock.forward(minutes=580)
    view = send(oven, cure, semicolons(NOW, NIGHT, GOOD), part_probes="root,tip")
    assert [f["kind"] for f in view["flags"]] == ["logger-clock"]
    assert "1 h 10 min beyond" in view["flags"][0]["sentence"]


def test_a_file_sent_again_with_its_key_is_answered_again(oven: Any) -> None:
    cure, raw = start(oven), semicolons(NOW, NIGHT, GOOD)
    path = f"/v1/cures/{cure}/logs?logger={oven.logger}&part_probes=root,tip&elsewhere=air"
    one = oven.call("POST", path, raw, Idempotency_Key="f1")
    two = oven.call("POST", path, raw, Idempotency_Key="f1")
    assert (one.status_code, one.get_json()) == (201, two.get_json())
    assert two.headers["Idempotency-Replayed"] == "true"
    assert one.headers["ETag"] == two.headers["ETag"]
    assert one.headers["ETag"].startswith(f'"{one.get_json()["version"]}-')
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
    against = view["verdict"]["stages"][0]["reasons"]
    assert [(r["kind"], r["probe"], r["at_min"], r["value"], r["limit"]) for r in against] == [
        ("over", "tip", 330, 75, 70)
    ]
    assert "proved between" not in view["flags"][0]["sentence"], "its time was none of the reasons"
    said = oven.get(f"/v1/parts/{oven.part}/record")["standing_out"][0]
    # It was started at NOW, 10:00 in the shop; the hottest sample is that of minute 330.
    assert said["lead"] == "The cure was over the maximum at 75.0 °C by tip at 15:30 on 3 Nov 2026"


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
