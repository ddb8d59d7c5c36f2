"""Cure schedules over HTTP: drafts that change, approved revisions that never do."""

import hashlib
from base64 import b64encode
from typing import Any

import pytest

from tests import makers

STAGES = [
    {"name": "first cure", "low_c": 20, "high_c": 30, "minimum_min": 960, "over_c": None, "air_over_c": None},
    {
        "name": "post-cure",
        "low_c": 55,
        "high_c": 65,
        "minimum_min": 900,
        "maximum_min": 2000,
        "heating_limit_k_min": 0.5,
        "cooling_limit_k_min": 1,
        "over_c": 70,
        "air_over_c": 80,
        "set_c": 60,
        "may_be_split": True,
        "dip_min": 10,
        "dip_k": 5,
    },
]


def _body(**more: Any) -> dict[str, Any]:
    return {
        "name": "Alder 10 with post-cure",
        "source": "Alder 10 data sheet 4",
        "stages": STAGES,
        "longest_interval_min": 10,
        "evidence": "part probe",
        "start_within_min": 120,
        "demould_below_c": 40,
        **more,
    }


def test_the_same_name_is_the_next_revision(api: Any) -> None:
    first = api.post("/v1/schedules", _body(), who="lead")
    assert (first["revision_number"], first["approved"], first["version"]) == (1, False, 1)
    problem = api.refused("/v1/schedules", _body(), "already-there", who="lead")
    assert problem["schedule"] == first["id"]
    api.post(f"/v1/schedules/{first['id']}/approval", who="quality")
    second = api.post("/v1/schedules", _body(source="Alder 10 data sheet 5"), who="quality")
    assert (second["revision_number"], second["source"]) == (2, "Alder 10 data sheet 5")
    assert api.get(f"/v1/schedules/{first['id']}")["source"] == "Alder 10 data sheet 4"
    assert [s["revision_number"] for s in api.get("/v1/schedules?name=Alder+10+with+post-cure")] == [1, 2]
    assert [s["revision_number"] for s in api.get("/v1/schedules?approved=true")] == [1]


def test_thin_parts_are_seen_by_four_samples_in_a_cycle_of_their_oven(api: Any) -> None:
    made = api.post("/v1/schedules", _body(oven_cycle_min=40), who="lead")
    path = f"/v1/schedules/{made['id']}"

    def change(version: int, **facts: Any) -> Any:
        return api.call("PATCH", path, facts, who="lead", If_Match=f'"{version}"')

    for facts in ({"oven_cycle_min": 39}, {"longest_interval_min": 10.1}):
        assert change(1, **facts).get_json()["errors"][0]["pointer"] == "/longest_interval_min"
    assert change(1, oven_cycle_min=12, longest_interval_min=3).get_json()["oven_cycle_min"] == 12
    frozen = api.post(f"{path}/approval", who="quality")["document"]
    assert api.get(f"/v1/documents/{frozen}")["oven_cycle_min"] == 12


def test_every_field_of_a_stage_is_kept(api: Any) -> None:
    kept = api.post("/v1/schedules", _body(), who="lead")["stages"]
    assert kept[1] == STAGES[1]
    assert kept[0] == {**STAGES[0], "may_be_split": False, "maximum_min": None, "heating_limit_k_min": None,
                       "cooling_limit_k_min": None, "set_c": None, "dip_min": 0, "dip_k": 0}  # fmt: skip


def test_a_draft_changes_and_an_approved_schedule_does_not(api: Any) -> None:
    path = f"/v1/schedules/{api.post('/v1/schedules', _body(), who='lead')['id']}"
    changed = api.call("PATCH", path, {"demould_below_c": 45}, who="lead", If_Match='"1"')
    assert (changed.status_code, changed.get_json()["demould_below_c"]) == (200, 45)
    assert api.call("PATCH", path, {"demould_below_c": 50}, who="lead", If_Match='"1"').status_code == 412
    assert api.call("PATCH", path, {"demould_below_c": 50}, who="lead").status_code == 428
    approved = api.post(f"{path}/approval", who="quality")
    assert (approved["approved"], approved["approved_by"], approved["version"]) == (True, "Quality", 3)
    late = api.call("PATCH", path, {"demould_below_c": 50}, who="lead", If_Match='"3"')
    assert late.get_json()["type"] == "/problems/wrong-state"
    assert "next revision" in late.get_json()["way_out"]
    api.refused(f"{path}/approval", {}, "wrong-state", who="quality")


def test_an_approved_schedule_is_frozen_with_its_hash(api: Any) -> None:
    made = makers.schedule(api)
    answer = api.call("GET", f"/v1/documents/{made['document']}")
    digest = b64encode(hashlib.sha256(answer.data).digest()).decode()
    assert answer.headers["Repr-Digest"] == f"sha-256=:{digest}:"
    assert answer.get_json()["stages"][0]["minimum_min"] == 480


@pytest.mark.parametrize(
    ("change", "pointer", "says"),
    [
        ({"stages": [{**STAGES[0], "high_c": 20}]}, "/stages/0/high_c", "above 20"),
        ({"stages": [{**STAGES[0], "maximum_min": 60}]}, "/stages/0/maximum_min", "at least 960"),
        ({"stages": [{**STAGES[0], "over_c": 25}]}, "/stages/0/over_c", "at least 30"),
        ({"stages": [{**STAGES[0], "air_over_c": 25}]}, "/stages/0/air_over_c", "at least 30"),
        ({"stages": [{n: v for n, v in STAGES[0].items() if n != "over_c"}]}, "/stages/0/over_c", "has to be given"),
        (
            {"stages": [{n: v for n, v in STAGES[0].items() if n != "air_over_c"}]},
            "/stages/0/air_over_c",
            "has to be given",
        ),
        ({"longest_interval_min": None}, "/longest_interval_min", "null"),
        ({"longest_interval_min": 61}, "/longest_interval_min", "60"),
        ({"oven_cycle_min": 39}, "/longest_interval_min", "cycle of 39 min are seen by samples at most 9.75 min apart"),
        ({"stages": [STAGES[0], STAGES[0]]}, "/stages/1/name", "Two stages"),
        ({"evidence": "declared"}, "/evidence", "need a log"),
        ({"evidence": "declared", "stages": [STAGES[1]]}, "/evidence", "heating and cooling"),
        ({"stages": []}, "/stages", "1 to 50"),
        ({"evidence": "hearsay"}, "/evidence", "Give one of"),
        ({"start_within_min": 0}, "/start_within_min", "from 1"),
    ],
)
def test_what_does_not_hold_is_pointed_at(api: Any, change: dict[str, Any], pointer: str, says: str) -> None:
    problem = api.post("/v1/schedules", _body(**change), who="lead", expect=422)
    assert problem["errors"][0]["pointer"] == pointer
    assert says in problem["errors"][0]["detail"]


def test_a_laminator_does_not_make_schedules_and_a_draft_cures_nothing(api: Any) -> None:
    assert api.call("POST", "/v1/schedules", _body()).status_code == 403
    draft = makers.schedule(api, approved=False)
    part = makers.laid_up_part(api)
    by_name = api.post("/v1/cures", {"schedule": draft["name"], "parts": [part]}, expect=422)
    assert by_name["errors"][0]["pointer"] == "/schedule"
    api.refused("/v1/cures", {"schedule": draft["id"], "parts": [part]}, "wrong-state")
