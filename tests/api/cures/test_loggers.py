"""Loggers over HTTP: a file is looked at before it is kept, and what it does not tell is asked."""

from datetime import UTC, datetime
from typing import Any

import pytest

from service.database import connected
from service.records import ALL
from tests.logger_files import SEMICOLONS, epoch, every, long_rows, ramp, semicolons

START = datetime(2026, 11, 3, 17, 0, tzinfo=UTC)
CURVES = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 20), (90, 59)]), "air": ramp([(0, 20), (30, 62)])}
MINUTES = every(5, until_min=200)


@pytest.fixture
def logger(api: Any) -> int:
    return int(api.post("/v1/loggers", {"name": "Oven logger 2"}, who="lead")["id"])


def _preview(api: Any, logger: int, raw: bytes, query: str = "", expect: int = 200) -> Any:
    answer = api.call("POST", f"/v1/loggers/{logger}/preview{query}", raw, Content_Type="text/csv")
    assert answer.status_code == expect, answer.get_data(as_text=True)
    return answer.get_json()


def _rows() -> dict[str, int]:
    with connected():
        return {table.__name__: table.select().count() for table in ALL}


def test_a_preview_tells_what_it_found_and_asks_the_rest(api: Any, logger: int) -> None:
    seen = _preview(api, logger, semicolons(START, MINUTES, CURVES, drop=[10]))
    assert "The decimal sign is a comma." in seen["found"]
    assert [q["field"] for q in seen["open_questions"]] == ["date_order", "zone"]
    assert seen["open_questions"][0]["choices"] == ["dmy", "mdy"]
    assert seen["written"][0] == {"line": 5, "time": "03.11.26 18:00:00", "values": {"root": 20, "tip": 20, "air": 20}}
    assert (seen["read_by"], seen["rows"], seen["trouble"]) == (None, [], None)


def test_the_proposed_profile_is_kept_as_it_is_once_its_questions_are_answered(api: Any, logger: int) -> None:
    raw = semicolons(START, MINUTES, CURVES, drop=[10])
    proposed = _preview(api, logger, raw)["profile"]
    path = f"/v1/loggers/{logger}"
    kept = api.call("PATCH", path, {"profile": proposed}, who="lead", If_Match='"1"')
    assert (kept.status_code, kept.get_json()["open_fields"]) == (200, ["date_order"])
    answered = {**proposed, "date_order": "dmy", "zone": "+01:00"}
    kept = api.call("PATCH", path, {"profile": answered}, who="lead", If_Match='"2"').get_json()
    assert (kept["open_fields"], kept["profile"]) == ([], answered)
    seen = _preview(api, logger, raw)
    assert (seen["read_by"], seen["rows_read"], seen["missing"]) == ("logger", 41, 3)
    assert seen["rows"][0] == {"at": "2026-11-03T17:00:00Z", "values": {"root": 20, "tip": 20, "air": 20}}
    assert seen["rows"][2]["values"]["root"] is None
    assert seen["last_at"] == "2026-11-03T20:20:00Z"


def test_a_file_that_tells_everything_is_read_by_its_proposal(api: Any, logger: int) -> None:
    seen = _preview(api, logger, epoch(START, MINUTES, CURVES))
    assert (seen["open_questions"], seen["read_by"], seen["probes"]) == ([], "proposal", ["root", "tip", "air"])
    # 68 °F is 20 °C by definition of the scale.
    assert seen["rows"][0] == {"at": "2026-11-03T17:00:00Z", "values": {"root": 20, "tip": 20, "air": 20}}


def test_elapsed_time_needs_its_start(api: Any, logger: int) -> None:
    raw = long_rows(MINUTES, CURVES)
    profile = {**_preview(api, logger, raw)["profile"], "unit": "C"}
    api.call("PATCH", f"/v1/loggers/{logger}", {"profile": profile}, who="lead", If_Match='"1"')
    assert "say when it was started" in _preview(api, logger, raw)["trouble"]["sentence"]
    seen = _preview(api, logger, raw, "?started_at=2026-11-03T17:00:00Z")
    assert (seen["first_at"], seen["last_at"]) == ("2026-11-03T17:00:00Z", "2026-11-03T20:20:00Z")
    assert seen["rows"][0]["values"] == {"root": 20, "tip": 20, "air": 20}


def test_a_file_that_the_profile_does_not_read_says_where(api: Any) -> None:
    logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    raw = semicolons(START, MINUTES, CURVES).replace(b"18:15:00;27,5", b"18:15:00;hot")
    trouble = _preview(api, logger, raw)["trouble"]
    assert (trouble["line"], trouble["column"]) == (8, 3)
    assert "hot" in trouble["sentence"]
    problem = _preview(api, logger, b"%PDF-1.7 no readings", expect=422)
    assert problem["type"] == "/problems/unreadable-log"
    assert (problem["line"], problem["column"]) == (1, 1)


def test_a_preview_stores_nothing(api: Any, logger: int) -> None:
    before = _rows()
    _preview(api, logger, semicolons(START, MINUTES, CURVES))
    assert _rows() == before


@pytest.mark.parametrize(
    ("profile", "pointer", "says"),
    [
        ({"delimiter": "~"}, "/profile/delimiter", "must be one of"),
        ({"delimiter": ";", "zone": "Moon/Tycho"}, "/profile/zone", "must be a time zone"),
        ({"delimiter": ";", "colour": "red"}, "/profile/colour", "no field"),
        ({"delimiter": ";", "probes": [{"name": "root"}]}, "/profile/probes", "column or the label"),
        ({"decimal": ","}, "/profile/delimiter", "missing"),
        ({"delimiter": ";", "header_line": 10**20}, "/profile", "within their range"),
        ({"delimiter": "\x00"}, "/profile", "cannot be printed"),
        ([";"], "/profile", "as an object"),
    ],
)
def test_a_wrong_profile_is_refused_with_its_field(api: Any, profile: Any, pointer: str, says: str) -> None:
    problem = api.post("/v1/loggers", {"name": "Shop logger", "profile": profile}, who="lead", expect=422)
    assert problem["errors"][0]["pointer"] == pointer
    assert says in problem["errors"][0]["detail"]


def test_loggers_have_names_of_their_own(api: Any, logger: int) -> None:
    api.refused("/v1/loggers", {"name": "Oven logger 2"}, "already-there", who="lead")
    renamed = {"name": "Large oven", "why": "there are two"}
    api.call("PATCH", f"/v1/loggers/{logger}", renamed, who="lead", If_Match='"1"')
    assert [row["name"] for row in api.get("/v1/loggers")] == ["Large oven"]
    assert api.get(f"/v1/loggers/{logger}")["profile"] is None
    assert api.call("GET", "/v1/loggers/99").status_code == 404


def test_a_calibration_has_its_day_and_its_paper_and_is_not_still_to_come(api: Any, logger: int) -> None:
    path = f"/v1/loggers/{logger}"
    for said, pointer in (
        ({"calibrated_on": "2026-01-12"}, "/calibration"),
        ({"calibration": "Tarn Metrology, 7718"}, "/calibrated_on"),
        ({"calibration_due_on": "2027-01-12"}, "/calibrated_on"),
        ({"calibrated_on": "2026-11-04", "calibration": "Tarn Metrology, 7718"}, "/calibrated_on"),
        ({"calibrated_on": "2026-01-12", "calibration": "Tarn Metrology, 7718", "calibration_due_on": "2026-01-12"},
         "/calibration_due_on"),
    ):  # fmt: skip
        refused = api.call("PATCH", path, said, who="lead", If_Match='"1"')
        assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, pointer), said
    said = {"calibrated_on": "2026-01-12", "calibration": "Tarn Metrology, 7718", "calibration_due_on": "2027-01-12"}
    assert said.items() <= api.call("PATCH", path, said, who="lead", If_Match='"1"').get_json().items()
    gone = dict.fromkeys(said)
    assert gone.items() <= api.call("PATCH", path, gone, who="lead", If_Match='"2"').get_json().items()
