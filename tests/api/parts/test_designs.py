"""Designs and moulds over HTTP: what a laminate is, what is refused, what is locked, when a mould is ready."""

import json
from typing import Any

import pytest

from service.database import connected
from service.records.journal import Document
from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def yard(api: Any) -> Any:
    makers.supplier(api)
    api.place = makers.place(api)
    api.glass = makers.fabric(api)
    return api


def test_a_design_says_whether_it_is_symmetric_and_balanced(yard: Any) -> None:
    """160/300/300/160 is symmetric, and balanced only by its angles (shop rule 31)."""
    light = makers.fabric(yard, "Glass UD 160", form="unidirectional", areal_weight_g_m2=160)
    heavy = makers.fabric(yard, "Glass UD 300", form="unidirectional", areal_weight_g_m2=300)
    ply = {"area_m2": 0.5, "angle_deg": 0}
    stack = [{**ply, "number": n, "material": m} for n, m in enumerate((light, heavy, heavy, light), 1)]
    one = makers.design(yard, plies=stack)
    assert (one["symmetric"], one["balanced"]) == (True, True)
    turned = [{**p, "angle_deg": 45 if p["number"] in (2, 3) else 0} for p in stack]
    two = makers.design(yard, "HY-205", plies=turned)
    assert (two["symmetric"], two["balanced"]) == (True, False)
    assert any("2 times at +45°" in sentence for sentence in two["sentences"])
    assert makers.design(yard, "HY-206")["symmetric"] is None


def test_a_design_says_what_its_kit_weighs_and_how_surely(yard: Any) -> None:
    """8 × 0.5 m² × 200 g/m² with 5.8 % each: 800 g ± 32.8 g (formula kit_mass)."""
    cloth = makers.fabric(yard, "Carbon twill 200", areal_weight_g_m2=200)
    facts = {"plies": makers.plies(cloth, *[0] * 8)}
    assert makers.design(yard, **facts)["kit_expected_g"] == 800
    assert makers.design(yard, "HY-205", **facts)["kit_spread_g"] is None
    assert makers.design(yard, "HY-206", piece_spread_pct=5.8, **facts)["kit_spread_g"] == 32.8


@pytest.mark.parametrize(
    ("facts", "pointer"),
    [
        ({"plies": [{"number": 1, "material": 99, "angle_deg": 0, "area_m2": 1}]}, "/plies/0/material"),
        ({"plies": [{"number": 1, "material": 1, "angle_deg": 0, "area_m2": 1, "zone": "tip"}]}, "/plies/0/zone"),
        ({"plies": [{"number": 1, "material": 1, "angle_deg": 0, "area_m2": 1}] * 2}, "/plies/1/number"),
        ({"resin_need": [{"purpose": "wet-out", "system": "None such", "mass_g": 1}]}, "/resin_need/0/system"),
        ({"schedule": "None such"}, "/schedule"),
        ({"zones": ["root", "root"]}, "/zones"),
    ],
)
def test_odd_references_are_refused_where_they_stand(yard: Any, facts: dict[str, Any], pointer: str) -> None:
    body = {"part_number": "HY-1", "revision": "A", "name": "Odd", **facts}
    problem = yard.refused("/v1/designs", body, "invalid", status=422, who="lead")
    assert problem["errors"][0]["pointer"] == pointer


def test_a_ply_of_resin_and_a_multiaxial_without_its_face_are_refused(yard: Any) -> None:
    resin = makers.material(yard, "Alder 10 resin", "resin")
    stitched = makers.fabric(yard, "Stitched 600", form="multiaxial", areal_weight_g_m2=600)
    body = {"part_number": "HY-1", "revision": "A", "name": "Odd"}
    for material, pointer in ((resin, "/plies/0/material"), (stitched, "/plies/0/face")):
        problem = yard.refused(
            "/v1/designs", {**body, "plies": makers.plies(material, 45)}, "invalid", status=422, who="lead"
        )
        assert problem["errors"][0]["pointer"] == pointer


def test_a_draft_changes_under_its_version_and_an_approved_design_is_locked(yard: Any) -> None:
    draft = makers.design(yard, approved=False, plies=makers.plies(yard.glass, 0, 45))
    path = f"/v1/designs/{draft['id']}"
    yard.refused("/v1/parts", {"design": draft["id"]}, "wrong-state")
    waits = yard.post("/v1/parts", {"part_number": "HY-204"}, expect=422)
    assert waits["detail"] == "There is no approved design of HY-204 here: HY-204 revision A is still a draft."
    assert (waits["way_out"], waits["design"]) == (f"The lead or quality approves design {draft['id']} first.", 1)
    assert yard.post("/v1/parts", {"part_number": "HY-9"}, expect=422)["detail"] == "There is no design of HY-9 here."
    assert yard.call("PATCH", path, {"name": "Rudder"}, who="lead").status_code == 428
    changed = yard.call("PATCH", path, {"plies": makers.plies(yard.glass, 0)}, who="lead", If_Match='"1"')
    assert changed.get_json()["plies"][0]["angle_deg"] == 0
    assert yard.call("PATCH", path, {"name": "Rudder"}, who="lead", If_Match='"1"').status_code == 412
    odd = yard.call("PATCH", path, {"zones": ["a", "a"]}, who="lead", If_Match='"2"')
    assert odd.status_code == 422
    approved = yard.post(f"{path}/approval", who="quality")
    with connected():
        kept = json.loads(Document.get_by_id(approved["document"]).content)
    assert kept["plies"][0]["areal_weight_g_m2"] == 280
    late = yard.call("PATCH", path, {"name": "Rudder"}, who="lead", If_Match=f'"{approved["version"]}"')
    assert (late.status_code, late.get_json()["type"]) == (409, "/problems/wrong-state")
    yard.post("/v1/designs", {"part_number": "HY-204", "revision": "A", "name": "Again"}, who="lead", expect=409)
    next_one = makers.design(yard, approved=False, revision="B")
    assert next_one["id"] != draft["id"]
    assert [d["revision"] for d in yard.get("/v1/designs?part_number=HY-204&approved=true")] == ["A"]
    yard.post(f"/v1/designs/{next_one['id']}/approval", who="integrator", expect=403)


def test_a_mould_is_ready_when_the_release_agent_says_so(yard: Any) -> None:
    makers.design(yard)
    wax = makers.material(yard, "Hard wax", "release agent", release_wait_min=30)
    agent = makers.cans(yard, wax, yard.place, "26-5", net_g=500, no_expiry=True)[0]
    mould = yard.post("/v1/moulds", {"name": "Rudder half", "pulls": 11}, who="lead")["code"]
    start = {"part_number": "HY-204", "mould": mould}
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["no-release"]
    resin = makers.material(yard, "Alder 10 resin", "resin")
    can = makers.cans(yard, resin, yard.place, "26-6")[0]
    treat = f"/v1/moulds/{mould}/treatments"
    yard.refused(treat, {"kind": "release coat", "container": can}, "invalid", status=422)
    yard.refused(treat, {"kind": "release coat"}, "invalid", status=422)
    assert yard.post(treat, {"kind": "release coat", "container": agent, "coats": 2})["ready"] is False
    problem = yard.refused("/v1/parts", start, "wrong-state")
    assert problem["ready_at"] == "2026-11-03T09:30:00Z"
    assert "10:30" in problem["detail"], "the shop's own clock"
    yard.shop.clock.forward(minutes=30)
    assert yard.get(f"/v1/moulds/{mould}")["ready"] is True
    part = yard.post("/v1/parts", start)
    assert [(m["code"], m["mass_g"], m["movement"]) for m in part["materials"]] == [(agent, None, "treatment")]
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["mould-occupied"]
    assert yard.get(f"/v1/moulds/{mould}")["in_it"] == [part["code"]]


def test_a_pull_takes_the_release_with_it_and_the_next_part_gets_only_what_came_after(yard: Any) -> None:
    makers.design(yard)
    mould = makers.released_mould(yard, yard.place)
    first = yard.post("/v1/parts", {"part_number": "HY-204", "mould": mould["code"]})["code"]
    yard.post(f"/v1/parts/{first}/closing")
    makers.cured(yard, first)
    yard.post(f"/v1/parts/{first}/demoulding", {"temperature_c": 22})
    after = yard.get(f"/v1/moulds/{mould['code']}")
    assert (after["pulls"], after["ready_at"], after["ready"]) == (1, None, False)
    start = {"part_number": "HY-204", "mould": mould["code"], "confirmed": True}
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["no-release"]
    second = yard.post("/v1/parts", {**start, "why": "semi-permanent, good for five pulls"})
    assert second["materials"] == []
    assert [(f["kind"], f["stops"]) for f in second["flags"]] == [("no-release", False)]


def test_a_mould_on_hold_or_after_a_repair_takes_no_part(yard: Any) -> None:
    makers.design(yard)
    mould = makers.released_mould(yard, yard.place)["code"]
    start = {"part_number": "HY-204", "mould": mould}
    hold = yard.post("/v1/holds", {"item": mould, "reason": "flange is cracked"})
    assert "cracked" in yard.refused("/v1/parts", start, "on-hold")["detail"]
    yard.post(f"/v1/holds/{hold['id']}/lifting", {"why": "repaired"}, who="quality")
    yard.post(f"/v1/moulds/{mould}/treatments", {"kind": "repair", "remark": "flange filled"})
    assert yard.refused("/v1/parts", start, "wrong-state")["reasons"] == ["no-release"]


def test_an_expired_release_agent_is_recorded_and_holds_the_mould(yard: Any) -> None:
    wax = makers.material(yard, "Hard wax", "release agent", release_wait_min=30)
    agent = makers.cans(yard, wax, yard.place, "26-5", net_g=500, expires_on="2026-11-01")[0]
    mould = yard.post("/v1/moulds", {"name": "Rudder half"}, who="lead")["code"]
    view = yard.post(f"/v1/moulds/{mould}/treatments", {"kind": "release coat", "container": agent})
    assert "passed" in view["holds"][0]["reason"]


def test_a_mould_says_its_newest_treatments_and_lists_all(api: Any) -> None:
    mould = api.post("/v1/moulds", {"name": "Rudder half mould"}, who="lead")["code"]
    done = [f"treatment {number}" for number in range(23)]
    for remark in done:
        api.post(f"/v1/moulds/{mould}/treatments", {"kind": "cleaning", "remark": remark})
    assert [t["remark"] for t in api.get(f"/v1/moulds/{mould}")["treatments"]] == done[3:]
    assert [t["remark"] for t in api.get(f"/v1/moulds/{mould}/treatments")] == done[::-1]
    first = api.call("GET", f"/v1/moulds/{mould}/treatments?limit=20")
    assert [t["remark"] for t in first.get_json()] == done[:2:-1]
    rest = api.get(first.headers["Link"].partition(">")[0].removeprefix("<"))
    assert [t["remark"] for t in rest] == done[2::-1]
