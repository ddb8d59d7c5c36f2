"""When something happened may be told later, within what its thing and its person allow, and always says both times."""

from datetime import timedelta
from typing import Any

from service.database import connected
from service.operations.ledger.checking import check_account
from tests import makers


def _refused(api: Any, path: str, body: dict[str, Any], *, at: Any, **more: Any) -> str:
    problem = api.post(path, {**body, "occurred_at": at.isoformat()}, expect=422, **more)
    assert [error["pointer"] for error in problem["errors"]] == ["/occurred_at"], problem
    assert problem["way_out"] == "Look at the day and the time again."
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
