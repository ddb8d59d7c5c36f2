"""What was true then: cards that are changed afterwards change no record of what was done, and say why they are."""

from datetime import timedelta
from typing import Any

from service.operations.door.operation import OPERATIONS
from tests import makers
from tests.budgets.job import FROM_THE_MACHINE
from tests.forgeries.any_time import ANY_TIME
from tests.forgeries.conftest import differences


def _parts(api: Any) -> list[str]:
    """Those that were begun: what is only planned has no past, and goes to whom its order goes."""
    return [part["code"] for part in api.get("/v1/parts?limit=200") if part["state"] not in ("planned", "cancelled")]


def _told(api: Any) -> dict[str, bytes]:
    """The record of every part byte for byte; what its investigation says of its materials, pots and people; a trace
    to what it was made of."""
    found = {}
    for part in _parts(api):
        found[f"{part} record"] = api.call("GET", f"/v1/parts/{part}/record").data
        found[f"{part} trace"] = api.call("GET", f"/v1/items/{part}/trace?direction=back").data
        account = api.get(f"/v1/parts/{part}/investigation", who="quality")["account"]
        kept = ("materials", "pots", "people", "cures", "kits", "steps", "inspections", "permits", "design")
        found[f"{part} investigation"] = repr({name: account[name] for name in kept}).encode()
    return found


def _change(api: Any, path: str, changes: dict[str, Any], who: str, *, version: int | None = None) -> None:
    """Without a reason it is refused and nothing is changed; with one it is done."""
    method, match = ("POST", {}) if version is None else ("PATCH", {"If_Match": f'"{version}"'})
    problem = api.call(method, path, changes, who=who, **match)
    assert problem.status_code == 422, problem.get_data(as_text=True)
    assert [error["pointer"] for error in problem.get_json()["errors"]] == ["/why"]
    done = api.call(method, path, {**changes, "why": "read the papers again"}, who=who, **match)
    assert done.status_code in (200, 201), done.get_data(as_text=True)


def _change_the_rest(api: Any) -> None:
    """What asks for no reason, since no record reads it, and what is replaced by a new revision and never changed."""
    for what, changes in (
        ("customers", lambda row: {"name": f"{row['name']} Ltd"}),
        ("orders", lambda row: {"due": "2027-03-01", "customer": "Somebody else"}),
    ):
        for row in api.get(f"/v1/{what}?limit=200"):
            row = api.get(f"/v1/{what}/{row['id']}")
            if row.get("cancelled_at") is None:
                match = f'"{row["version"]}"'
                done = api.call("PATCH", f"/v1/{what}/{row['id']}", changes(row), who="lead", If_Match=match)
                assert done.status_code == 200, done.get_data(as_text=True)
    for mould in api.get("/v1/moulds?limit=200"):
        api.post(f"/v1/moulds/{mould['code']}/settings", {"hours": 99}, who="lead")
    for scale in api.get("/v1/scales?limit=200"):
        if scale["form"] == "scale":
            api.post(f"/v1/scales/{scale['code']}/line-format", {"line_format": "{number}{unit}"}, who="lead")
    system = next(row for row in api.get("/v1/resin-systems?limit=200") if row["name"] == "Alder 10")
    parts = {hardener["material"]: 41 for hardener in system["hardeners"]}
    for what, draft in (
        ("designs", makers.design(api, revision="B", name="Another half", approved=False)),
        ("schedules", makers.schedule(api, "Room overnight", source="another sheet", approved=False)),
        ("resin-systems", makers.resin_system(api, system["resin"], parts, approved=False)),
    ):
        api.post(f"/v1/{what}/{draft['id']}/approval", who="second lead")


def test_no_record_changes_when_cards_are_changed_afterwards(shop_with_history: Any) -> None:
    api = shop_with_history
    api.shop.clock.forward(hours=1)
    before = _told(api)
    assert len(before) >= 9, "a whole job with several parts"
    api.shop.clock.forward(hours=1)
    for material in api.get("/v1/materials?limit=200"):
        changes: dict[str, Any] = {"name": f"{material['name']} (new)", "opened_life_days": 3}
        changes |= {"storage_low_c": 1, "storage_high_c": 2, "density_g_ml": 3.3, "bears": []}
        if material["areal_weight_g_m2"] is not None:
            changes["areal_weight_g_m2"] = material["areal_weight_g_m2"] + 17
        _change(api, f"/v1/materials/{material['id']}", changes, "lead", version=material["version"])
    for person in api.get("/v1/people?limit=200"):
        _change(
            api,
            f"/v1/people/{person['id']}",
            {"name": f"{person['name']} Berg"},
            "administrator",
            version=person["version"],
        )
    for supplier in api.get("/v1/suppliers?limit=200"):
        _change(
            api,
            f"/v1/suppliers/{supplier['id']}",
            {"name": f"{supplier['name']} and Sons"},
            "lead",
            version=supplier["version"],
        )
    for logger in api.get("/v1/loggers?limit=200"):
        ranged = {"name": f"{logger['name']}, old", "sensor_low_c": 0, "sensor_high_c": 30}
        _change(api, f"/v1/loggers/{logger['id']}", ranged, "lead", version=logger["version"])
    _change(
        api,
        "/v1/site",
        {"name": "Another yard"},
        "administrator",
        version=api.get("/v1/site")["version"],
    )
    placed = [item["code"] for item in api.get("/v1/places?limit=200")]
    moved = next(code for code in placed if api.get(f"/v1/places/{code}")["cold"] is not None)
    _change(api, f"/v1/places/{moved}/settings", {"cold": True, "read_every_days": 1}, "lead")
    _change_the_rest(api)
    after = _told(api)
    assert [name for name in before if after[name] != before[name]] == []
    # What is asked today is answered by today's card.
    container = next(c for c in api.get("/v1/containers?limit=200") if c["state"] == "open")
    assert api.get(f"/v1/containers/{container['code']}")["material"]
    assert api.get("/v1/me", who="lead")["name"] == "Lead Berg"
    assert differences() == []


def test_no_act_is_told_of_before_what_it_is_about_was_there(shop_with_history: Any) -> None:
    """Every act there is: told of a day before the first of all it is refused, or a list says why it is not."""
    told = shop_with_history.told_early
    assert told.keys() | ANY_TIME.keys() | FROM_THE_MACHINE == set(OPERATIONS)
    assert not told.keys() & ANY_TIME.keys()
    before = {name: said for name, said in told.items() if not str(said[2]).endswith("cannot have happened before.")}
    assert before == {}
    assert {said[:2] for said in told.values()} == {(422, ("/occurred_at",))}


def test_nothing_is_answered_before_it_was_asked_found_or_ordered(shop_with_history: Any) -> None:
    """The things themselves were there long before; what is answered came an hour after the time that is told."""
    api, clock = shop_with_history, shop_with_history.shop.clock
    can = next(c for c in api.get("/v1/containers?limit=200") if c["state"] == "open")
    part, quality = api.get("/v1/parts?limit=200")[-1]["code"], f"/v1/people/{api.shop.people['quality']}"
    version = api.get(quality, who="administrator")["version"]
    again = api.call("PATCH", quality, {"roles": ["quality"]}, who="administrator", If_Match=f'"{version}"')
    assert again.status_code == 200
    clock.forward(hours=2)
    early = (clock.now - timedelta(hours=1)).isoformat()
    asked = {"kind": "deviation permit", "item": can["code"], "reasons": ["expired"], "why": "a cup is clear"}
    permit = f"/v1/permissions/{api.post('/v1/permissions', asked)['id']}"
    hold = api.post("/v1/holds", {"item": can["code"], "reason": "lid was off"})["id"]
    found = api.post("/v1/nonconformances", {"item": part, "found": "a dry spot"})["id"]
    recall = api.post("/v1/recalls", {"item": can["lot"], "reason": "a notice"}, who="lead")
    longer = {"until": "2028-12-31", "method": "gel time", "result": "31 min"}
    api.post(f"/v1/lots/{can['lot']}/extension", longer, who="quality")
    line = {"part_number": "HY-204", "quantity": 1}
    placed = api.post("/v1/orders", {"reference": "PO 31", "system": "desk", "lines": [line]}, who="lead")["order"]
    order = f"/v1/orders/{placed['id']}"
    coming = {"material": can["material"], "mass_g": 2000, "expected_on": "2026-12-20"}
    expected = f"/v1/expected-deliveries/{api.post('/v1/expected-deliveries', coming, who='lead')['id']}"
    signed = {"permitted": True}
    answers: list[tuple[str, str, dict[str, Any], str, str]] = [
        ("POST", f"{permit}/signature", signed, "quality", "Deviation permit"),
        ("POST", f"/v1/holds/{hold}/lifting", {"why": "clean"}, "quality", f"Hold {hold} was placed"),
        ("POST", f"/v1/nonconformances/{found}/decision", {"disposition": "use as is", "because": "small"}, "quality",
         f"Nonconformance {found} was opened"),
        ("POST", f"/v1/recalls/{recall['id']}/steps", {"item": can["code"], "found": "returned"}, "laminator",
         f"Recall {recall['id']} was opened"),
        ("POST", f"/v1/recalls/{recall['id']}/reach", {}, "lead", f"Recall {recall['id']} was opened"),
        ("POST", f"/v1/recalls/{recall['id']}/closing", {"effectiveness": "all"}, "quality", "Recall"),
        ("POST", f"/v1/lots/{can['lot']}/extension/agreement", {}, "lead", f"A longer life of lot {can['lot']}"),
        ("POST", f"{order}/lines", {"first": 2, "lines": [line]}, "lead", f"Order {placed['id']} was placed"),
        ("POST", f"{order}/lines/1/replacements", {}, "lead", "Order"),
        ("POST", f"{order}/cancellation", {"confirmed": True}, "lead", "Order"),
        ("PATCH", order, {"due": "2026-12-24"}, "lead", "Order"),
        ("PATCH", f"{order}/lines/1", {"quantity": 2}, "lead", "Order"),
        ("PATCH", expected, {"expected_on": "2026-12-22"}, "lead", "Expected delivery"),
        ("POST", f"{expected}/ending", {"ended_as": "arrived"}, "lead", "Expected delivery"),
    ]  # fmt: skip
    for method, path, body, who, begins in answers:
        match = {"If_Match": '"1"'} if method == "PATCH" else {}
        told = {"why": "told later", **body, "occurred_at": early}
        answer = api.call(method, path, told, who=who, **match)
        said = answer.get_json()
        assert (answer.status_code, [e["pointer"] for e in said["errors"]]) == (422, ["/occurred_at"]), (path, said)
        assert said["detail"].startswith(begins), said
        assert said["detail"].endswith("this cannot have happened before.")
    api.post(f"{permit}/signature", signed, who="quality")
    withdrawn = {"why": "gelled too late", "occurred_at": early}
    said = api.post(f"{permit}/withdrawal", withdrawn, who="quality", expect=422)["detail"]
    assert said.startswith("Deviation permit")
    assert differences() == []
