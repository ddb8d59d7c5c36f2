"""What was true then: cards that are changed afterwards change no record of what was done, and say why they are."""

from typing import Any

from tests.forgeries.conftest import differences


def _parts(api: Any) -> list[str]:
    return [part["code"] for part in api.get("/v1/parts?limit=200")]


def _told(api: Any) -> dict[str, bytes]:
    """The record of every part byte for byte; what its investigation says of its materials, pots and people; a trace
    to what it was made of."""
    found = {}
    for part in _parts(api):
        found[f"{part} record"] = api.call("GET", f"/v1/parts/{part}/record").data
        found[f"{part} trace"] = api.call("GET", f"/v1/items/{part}/trace?direction=back").data
        account = api.get(f"/v1/parts/{part}/investigation", who="quality")["part"]
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
    after = _told(api)
    assert [name for name in before if after[name] != before[name]] == []
    # What is asked today is answered by today's card.
    container = next(c for c in api.get("/v1/containers?limit=200") if c["state"] == "open")
    assert api.get(f"/v1/containers/{container['code']}")["material"]
    assert api.get("/v1/me", who="lead")["name"] == "Lead Berg"
    assert differences() == []
