"""When something happened may be told later, within what its thing and its person allow, and always says both times."""

from datetime import timedelta
from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _refused(api: Any, path: str, body: dict[str, Any], *, at: Any, **more: Any) -> str:
    problem = api.post(path, {**body, "occurred_at": at.isoformat()}, expect=422, **more)
    assert [error["pointer"] for error in problem["errors"]] == ["/occurred_at"], problem
    assert problem["way_out"].startswith("Look at the day and the time again.")
    return str(problem["detail"])


def test_nothing_happened_to_a_lot_or_a_part_before_it_was_there_nor_by_whoever_was_not_here(api: Any) -> None:
    clock, began = api.shop.clock, api.shop.clock.now
    makers.supplier(api)
    resin, where = makers.material(api, "Alder 10 resin", "resin"), makers.place(api)
    lot = makers.lot(api, resin, where, makers_lot="26-1", expires_on="2027-01-31", containers=[{"net_g": 900}])["code"]
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204"})["code"]
    clock.forward(hours=3)
    check, step = {"name": "crystals", "result": "clear", "passed": True}, {"kind": "note", "remark": "wetted again"}
    early, now = began - timedelta(minutes=1), clock.now
    said = f"{lot} was received on 3 Nov 2026 10:00; this cannot have happened before."
    assert _refused(api, f"/v1/lots/{lot}/checks", check, at=early) == said
    said = f"{part} was started on 3 Nov 2026 10:00; this cannot have happened before."
    assert _refused(api, f"/v1/parts/{part}/steps", step, at=early) == said
    api.post(f"/v1/lots/{lot}/checks", {**check, "occurred_at": began.isoformat()})
    api.post(f"/v1/parts/{part}/steps", {**step, "occurred_at": began.isoformat()})
    newcomer = api.post("/v1/people", {"name": "Ida Holm", "roles": ["laminator"], "with_key": True},
                        who="administrator")  # fmt: skip
    api.shop.keys["Ida"] = newcomer["secret"]
    said = _refused(api, f"/v1/parts/{part}/steps", step, at=now - timedelta(minutes=1), who="Ida")
    assert said == "Ida Holm is here since 3 Nov 2026 13:00; this cannot have happened before."
    # Who was here before says so when added, and tells of that time.
    elder = api.post("/v1/people", {"name": "Ida Holm the elder", "roles": ["laminator"], "with_key": True,
                                    "occurred_at": began.isoformat()}, who="administrator")  # fmt: skip
    api.shop.keys["elder"] = elder["secret"]
    api.post(f"/v1/parts/{part}/steps", {**step, "occurred_at": (now - timedelta(minutes=1)).isoformat()}, who="elder")
    api.post(f"/v1/parts/{part}/steps", step, who="Ida")
    with connected():
        assert check_account().agrees


def test_what_is_told_later_is_marked_late_with_both_times_for_cans_and_permits_too(api: Any) -> None:
    clock, began = api.shop.clock, api.shop.clock.now
    makers.supplier(api)
    resin, where = makers.material(api, "Alder 10 resin", "resin"), makers.place(api)
    can = makers.cans(api, resin, where, "26-1", net_g=900, expires_on="2026-11-01")[0]
    clock.forward(hours=3)
    at, told = (began + timedelta(hours=1)).isoformat(), clock.now.isoformat().replace("+00:00", "Z")
    asked = {"kind": "deviation permit", "item": can, "reasons": ["expired"], "why": "tried a cup, it is clear"}
    permit = api.post("/v1/permissions", {**asked, "occurred_at": at})["id"]
    api.post(f"/v1/permissions/{permit}/signature", {"permitted": True}, who="quality")
    api.post(f"/v1/containers/{can}/opening", {"occurred_at": at})
    entries = {e["operation"]: e for e in api.get(f"/v1/journal?item={can}", who="quality")}
    for operation in ("ask_permission", "open_container"):
        entry = entries[operation]
        assert (entry["late"], entry["occurred_at"], entry["recorded_at"]) == (True, at.replace("+00:00", "Z"), told)
    assert entries["sign_permission"]["late"] is False, "a signature bears the server's own time"
    site = api.get("/v1/site")
    quiet = {"late_after_min": 1440}
    silent = api.call("PATCH", "/v1/site", quiet, who="administrator", If_Match=f'"{site["version"]}"')
    assert (silent.status_code, silent.get_json()["errors"][0]["pointer"]) == (422, "/why")
    longer = api.call("PATCH", "/v1/site", {"late_after_min": 1441, "why": "x"}, who="administrator",
                      If_Match=f'"{site["version"]}"')  # fmt: skip
    assert longer.status_code == 422


def test_a_use_told_later_is_judged_by_what_was_known_then_and_by_what_was_refused_since(bench: makers.Mixing) -> None:
    """Released, permitted and let go only after a use: it is flagged. Rejected or held after it: flagged as well."""
    api, clock = bench.api, bench.api.shop.clock
    mix = bench.start(400)["code"]
    facts = {"makers_lot": "R-7", "containers": [{"net_g": 500}]}
    late = makers.lot(api, bench.resin, bench.place, released=False, **facts)
    held, bad, over = (
        makers.cans(api, bench.resin, bench.place, name, net_g=500, **more)[0]
        for name, more in (("R-8", {}), ("R-9", {}), ("R-10", {"expires_on": "2026-11-01"}))
    )
    hold = api.post("/v1/holds", {"item": held, "reason": "lid was off"})["id"]
    clock.forward(minutes=30)
    at = clock.now
    clock.forward(minutes=30)
    api.post(f"/v1/lots/{late['code']}/release", who="lead")
    api.post(f"/v1/holds/{hold}/lifting", {"why": "clean"}, who="quality")
    lot_of_bad = api.get(f"/v1/containers/{bad}")["lot"]
    api.post(f"/v1/lots/{lot_of_bad}/rejection", {"why": "gritty"}, who="quality")
    asked = {"kind": "deviation permit", "item": over, "reasons": ["expired"], "why": "a cup of it is clear"}
    permit = api.post("/v1/permissions", asked)["id"]
    api.post(f"/v1/permissions/{permit}/signature", {"permitted": True}, who="quality")
    assert api.get(f"/v1/containers/{held}")["fitness"]["answer"] == "fit"
    told = {"occurred_at": at.isoformat(), "confirmed": True, "again": True, "read_back_g": 20}
    for can in (late["containers"][0], held, bad, over):
        pot = bench.pour(mix, can, 20, **told)
    flags = [(f["kind"], f["sentence"].split(": ", 1)[1], f["answered"]) for f in pot["flags"]]
    assert flags[:2] == [
        ("not-released", "Its lot is still in quarantine; the lead or quality releases it.", None),
        ("on-hold", "On hold: lid was off.", None),
    ]
    assert flags[2] == (
        "rejected", "Its lot was rejected. That came after this use, and before it was told at 11:00.", None,
    )  # fmt: skip
    assert (flags[3][0], flags[3][2]) == ("expired", None), "what was permitted afterwards needs a concession"
    assert len(pot["holds"]) == 4
    # Told of now, the same cans are judged by what is known now.
    now = bench.start(200)["code"]
    for can in (late["containers"][0], held, over):
        pot = bench.pour(now, can, 20, confirmed=True, again=True, read_back_g=20)
    assert [(f["kind"], f["answered"]) for f in pot["flags"]] == [("expired", "permitted")]
    with connected():
        assert check_account().agrees


def test_nothing_is_told_of_a_pot_a_can_or_a_kit_before_it_was_there(bench: makers.Mixing) -> None:
    api, clock = bench.api, bench.api.shop.clock
    clock.forward(hours=1)
    can = makers.cans(api, bench.resin, bench.place, "R-8", net_g=500)[0]
    mix = bench.start(130)["code"]
    kit = api.post("/v1/kits", {"cuts": [{"roll": makers.roll(api, makers.fabric(api), bench.place, "T-1"),
                                          "length_mm": 500}]})["code"]  # fmt: skip
    before = clock.now - timedelta(minutes=1)
    clock.forward(hours=1)
    pour = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 100, "source": "typed"}
    assert _refused(api, f"/v1/mixes/{mix}/pours", pour, at=before).startswith(f"{mix} was started on 3 Nov 2026")
    said = f"{can} was filled or received on 3 Nov 2026 11:00; this cannot have happened before."
    assert _refused(api, f"/v1/containers/{can}/opening", {}, at=before) == said
    assert _refused(api, f"/v1/items/{kit}/moves", {"place": bench.place}, at=before).startswith(f"{kit} was cut on")
    hold = api.post("/v1/holds", {"item": can, "reason": "lid was off"})["id"]
    lifted = {"why": "clean"}
    said = _refused(api, f"/v1/holds/{hold}/lifting", lifted, at=before, who="quality")
    assert said == f"Hold {hold} was placed on 3 Nov 2026 12:00; this cannot have happened before."
    journal = api.get(f"/v1/journal?item={can}", who="quality")
    seq = next(entry["seq"] for entry in journal if entry["operation"] == "receive_delivery")
    wrong = {"declaration": "did not occur", "why": "another can"}
    assert "cannot have happened before" in _refused(
        api, f"/v1/journal/{seq}/corrections", wrong, at=before, who="lead"
    )
    for container, grams in ((bench.resin_can, 100), (bench.slow_can, 30)):
        bench.pour(mix, container, grams)
    clock.forward(hours=1)
    met = clock.now - timedelta(hours=1)
    said = _refused(api, f"/v1/mixes/{mix}/cup-checks", {"hard": True}, at=met - timedelta(minutes=5))
    assert said == f"Resin and hardener met in {mix} on 3 Nov 2026 12:00; this cannot have happened before."
