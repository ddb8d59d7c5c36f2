"""Vacuum and pressure of a cure over HTTP: asked by the schedule, shown by the gauges in a logger's file (rule 35)."""

from typing import Any

import pytest

from tests import makers
from tests.conftest import NOW
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS, every, ramp, semicolons

NIGHT = every(5, until_min=650)
WARM = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 20), (80, 60)]), "air": ramp([(0, 20), (30, 62)])}
# In the band from minute 70 on; the pump is shut off at the end.
BANDS = [
    {"measure": "vacuum", "low_mbar": 850},
    {"measure": "pressure", "low_mbar": 1800, "high_mbar": 2200, "from_stage": "post-cure", "until_stage": "post-cure"},
]
GAUGES = {"bag": ramp([(0, -0.92), (650, -0.9)]), "shell": ramp([(0, 0), (60, 2), (650, 2)])}


def gauged() -> dict[str, Any]:
    """The semicolon logger with two more columns, both gauges in bar."""
    first = 1 + max(probe["column"] for probe in SEMICOLONS["probes"])
    probes = [*SEMICOLONS["probes"], *({"name": n, "column": first + i, "unit": "bar"} for i, n in enumerate(GAUGES))]
    return {**SEMICOLONS, "header": [*SEMICOLONS["header"], "bag bar", "shell bar"], "probes": probes}


@pytest.fixture
@made_once
def autoclave(api: Any) -> Any:
    api.schedule = makers.schedule(api, pressures=BANDS)
    api.logger = api.post("/v1/loggers", {"name": "Autoclave 1", "profile": gauged()}, who="lead")["id"]
    api.part = makers.laid_up_part(api)
    return api


def cured(api: Any, *, expect: int = 201, minutes: Any = NIGHT, **curves: Any) -> Any:
    cure = api.post("/v1/cures", {"schedule": api.schedule["name"], "parts": [api.part]})["code"]
    api.shop.clock.forward(minutes=650)
    raw = written({**GAUGES, **curves}, minutes)
    told = "part_probes=root,tip&air_probes=air&gauges=bag=vacuum&gauges=shell=pressure"
    answer = api.call("POST", f"/v1/cures/{cure}/logs?logger={api.logger}&{told}", raw)
    assert answer.status_code == expect, answer.get_data(as_text=True)
    return api.post(f"/v1/cures/{cure}/end") if expect == 201 else answer.get_json()


def written(gauges: Any, minutes: Any = NIGHT) -> bytes:
    """Tenths of a degree are too coarse for bar: the gauges are written with three decimals."""
    lines = semicolons(NOW, minutes, WARM).decode("cp1252").splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith(SEMICOLONS["header"][0]))
    lines[head] += ";bag bar;shell bar"
    for line, minute in zip(range(head + 1, len(lines)), minutes, strict=True):
        lines[line] += "".join(f";{gauges[name](minute):.3f}".replace(".", ",") for name in ("bag", "shell"))
    return "\n".join(lines).encode("cp1252") + b"\n"


def test_a_cure_whose_vacuum_and_pressure_held_is_proved_and_keeps_both(autoclave: Any) -> None:
    view = cured(autoclave)
    assert (view["passed"], view["holds"]) == (True, [])
    assert view["logs"][0]["gauges"] == {"bag": "vacuum", "shell": "pressure"}
    vacuum, pressure = view["verdict"]["pressures"]
    assert (vacuum["result"], vacuum["from_min"], vacuum["until_min"]) == ("proved", 0, 650)
    assert (vacuum["lowest_mbar"], vacuum["highest_mbar"]) == (900, 920)
    # From the first moment in the band of the stage on, by all part probes.
    assert (pressure["result"], pressure["from_min"]) == ("proved", pytest.approx(70, abs=0.2))
    assert (
        "The vacuum was 900 to 920 mbar from minute 0.0 to 650.0, at least 850 mbar asked for."
        in (view["verdict"]["sentences"])
    )
    series = autoclave.get(f"/v1/cures/{view['code']}/readings")
    assert [(one["gauge"], one["measure"]) for one in series["gauges"]] == [("bag", "vacuum"), ("shell", "pressure")]
    assert series["gauges"][0]["pressures_mbar"][0] == -920
    assert {one["probe"] for one in series["series"]} == {"root", "tip", "air"}


def test_a_bag_that_lost_its_vacuum_holds_the_part_and_says_gauge_and_time(autoclave: Any) -> None:
    view = cured(autoclave, bag=ramp([(0, -0.92), (200, -0.92), (210, -0.3), (650, -0.3)]))
    assert (view["passed"], view["verdict"]["result"]) == (False, "violated")
    assert view["verdict"]["sentences"][0] == "Violated: vacuum."
    assert any("bag was below 850 mbar from minute 20" in said for said in view["verdict"]["sentences"])
    assert view["verdict"]["stages"][0]["result"] == "proved"
    assert [hold["on"] for hold in view["holds"]] == [view["code"]]


def test_where_no_gauge_shows_it_it_is_not_known_until_its_file_comes(autoclave: Any) -> None:
    cure = autoclave.post("/v1/cures", {"schedule": autoclave.schedule["name"], "parts": [autoclave.part]})["code"]
    autoclave.shop.clock.forward(minutes=650)
    heat = autoclave.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    told = f"logger={heat}&part_probes=root,tip&air_probes=air"
    assert autoclave.call("POST", f"/v1/cures/{cure}/logs?{told}", semicolons(NOW, NIGHT, WARM)).status_code == 201
    view = autoclave.post(f"/v1/cures/{cure}/end")
    assert view["verdict"]["sentences"][0] == "Not known: vacuum, pressure."
    assert (view["state"], len(view["holds"])) == ("failed", 1)
    told = f"logger={autoclave.logger}&elsewhere=root,tip,air&gauges=bag=vacuum&gauges=shell=pressure"
    answer = autoclave.call("POST", f"/v1/cures/{cure}/logs?{told}", written(GAUGES))
    assert answer.status_code == 422, "a file that has probes says where they lay"
    only = gauged()
    only["probes"] = [probe for probe in only["probes"] if "unit" in probe]
    alone = autoclave.post("/v1/loggers", {"name": "Gauges", "profile": only}, who="lead")["id"]
    told = f"logger={alone}&gauges=bag=vacuum&gauges=shell=pressure"
    answer = autoclave.call("POST", f"/v1/cures/{cure}/logs?{told}", written(GAUGES))
    assert answer.status_code == 201, answer.get_json()
    assert (answer.get_json()["passed"], answer.get_json()["holds"]) == (True, [])


@pytest.mark.parametrize(
    ("told", "pointer", "said"),
    [
        ("part_probes=root,tip&air_probes=air", "/gauges", "What does bag and shell measure"),
        ("part_probes=root,tip,bag&air_probes=air&gauges=shell=pressure", "/part_probes", "bag is a gauge"),
        ("part_probes=root,tip&gauges=air=vacuum&elsewhere=bag,shell", "/gauges", "air is read as a temperature"),
        ("part_probes=root,tip&air_probes=air&gauges=bag=suction", "/gauges/0", "vacuum, pressure, absolute"),
        ("part_probes=root,tip&air_probes=air&gauges=bag", "/gauges/0", "an equals sign"),
        ("part_probes=root,tip&air_probes=air&gauges=bag=vacuum&elsewhere=bag,shell", "/gauges", "named twice"),
    ],
)
def test_what_is_said_of_gauges_is_held_against_the_file(autoclave: Any, told: str, pointer: str, said: str) -> None:
    cure = autoclave.post("/v1/cures", {"schedule": autoclave.schedule["name"], "parts": [autoclave.part]})["code"]
    answer = autoclave.call("POST", f"/v1/cures/{cure}/logs?logger={autoclave.logger}&{told}", written(GAUGES))
    problem = answer.get_json()
    assert answer.status_code == 422, problem
    stands = [(one["pointer"], one["detail"]) for one in problem.get("errors", [problem])]
    assert any(where == pointer and said in text for where, text in stands), stands


@pytest.mark.parametrize(
    ("facts", "pointer", "said"),
    [
        ({"pressures": [{"measure": "vacuum"}]}, "/pressures/0/low_mbar", "at least"),
        ({"pressures": [{**BANDS[0], "until_stage": "gel"}]}, "/pressures/0/until_stage", "there is post-cure"),
        ({"pressures": [{"measure": "vacuum", "low_mbar": 9, "high_mbar": 9}]}, "/pressures/0/high_mbar", "above 9"),
        ({"pressures": BANDS, "evidence": "declared"}, "/evidence", "need a log"),
    ],
)
def test_a_schedule_asks_for_what_a_log_can_show(api: Any, facts: Any, pointer: str, said: str) -> None:
    stage = {"name": "post-cure", "low_c": 55, "high_c": 65, "minimum_min": 480, "over_c": 70, "air_over_c": None}
    body = {"name": "A", "source": "sheet 1", "stages": [stage], "longest_interval_min": 5, "evidence": "part probe"}
    problem = api.post("/v1/schedules", {**body, **facts}, who="lead", expect=422)
    stands = [(one["pointer"], one["detail"]) for one in problem.get("errors", [problem])]
    assert any(where == pointer and said in text for where, text in stands), stands


def test_bands_of_a_draft_change_with_it_and_stay_with_stages_that_there_are(api: Any) -> None:
    draft = makers.schedule(api, approved=False, pressures=BANDS)
    assert draft["pressures"][0] == {**BANDS[0], "high_mbar": None, "from_stage": None, "until_stage": None}
    path, version = f"/v1/schedules/{draft['id']}", {"If-Match": f'"{draft["version"]}"'}
    renamed = [{**draft["stages"][0], "name": "dwell"}]
    answer = api.call("PATCH", path, {"stages": renamed}, who="lead", **version)
    assert (answer.status_code, answer.get_json()["errors"][0]["pointer"]) == (422, "/pressures/1/from_stage")
    changed = api.call("PATCH", path, {"pressures": BANDS[:1]}, who="lead", **version).get_json()
    assert [band["measure"] for band in changed["pressures"]] == ["vacuum"]
