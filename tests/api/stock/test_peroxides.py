"""Organic peroxides in the store, over HTTP (shop rule 23): refused beforehand, held once it has happened."""

from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once

VENTED = "1 l bottle with the supplier's vented cap"


@pytest.fixture
@made_once
def store(api: Any) -> Any:
    makers.supplier(api)
    api.cabinet = makers.place(api, "Peroxide cabinet")
    api.shelf = makers.place(api, "Shelf B2")
    api.peroxide = makers.material(
        api, "Sorrel K50", "catalyst", density_g_ml=1.15, emergency_c=60, vented_container=VENTED,
        h_codes=["H242", "H302", "H314"], storage_low_c=5, storage_high_c=25,
    )  # fmt: skip
    api.promoter = makers.material(api, "Sorrel cobalt 1", "promoter")
    api.acetone = makers.material(api, "Acetone", "cleaner", acetone=True)
    api.bottle = makers.cans(api, api.peroxide, api.cabinet, "K-1", net_g=1000)[0]
    return api


def _holds(api: Any, code: str) -> list[str]:
    return [hold["reason"] for hold in api.get(f"/v1/containers/{code}")["holds"]]


def test_a_peroxide_is_a_mark_whatever_its_h_codes(api: Any) -> None:
    plain = {"name": "Paste", "kind": "hardener", "organic_peroxide": True}
    made = api.post("/v1/materials", plain, who="lead")
    assert made["organic_peroxide"] is True
    assert any("Never pour it back" in said for said in made["cautions"])
    assert api.post("/v1/materials", {"name": "Drier", "kind": "promoter"}, who="lead")["organic_peroxide"] is False
    both = {"name": "Both", "kind": "promoter", "organic_peroxide": True}
    assert "no organic peroxide" in api.post("/v1/materials", both, expect=422, who="lead")["detail"]
    cold = {"name": "Resin", "kind": "resin", "emergency_c": 60}
    assert api.post("/v1/materials", cold, expect=422, who="lead")["errors"][0]["pointer"] == "/emergency_c"


def test_whoever_scans_a_peroxide_reads_its_cautions(store: Any) -> None:
    said = store.get(f"/v1/containers/{store.bottle}")["cautions"]
    assert any("explode" in line for line in said)
    assert any("60 °C" in line and "call the fire service" in line for line in said)
    assert any("local rules" in line for line in said)


@pytest.mark.parametrize("enemy", ["promoter", "acetone"])
def test_a_peroxide_never_comes_to_stand_beside_a_promoter_or_acetone(store: Any, enemy: str) -> None:
    can = makers.cans(store, getattr(store, enemy), store.shelf, f"{enemy} 1", net_g=500)[0]
    path = f"/v1/items/{store.bottle}/moves"
    problem = store.refused(path, {"place": store.shelf}, "peroxide-barred")
    assert can in problem["detail"]
    assert "another place" in problem["way_out"]
    assert store.get(f"/v1/containers/{store.bottle}")["place"] == store.cabinet
    # And the other way round.
    store.refused(f"/v1/items/{can}/moves", {"place": store.cabinet}, "peroxide-barred")
    # What stands there already is recorded, and held.
    store.post(path, {"place": store.shelf, "happened": True})
    assert store.get(f"/v1/containers/{store.bottle}")["place"] == store.shelf
    assert can in _holds(store, store.bottle)[0]


def test_a_delivery_beside_a_peroxide_is_booked_and_held(store: Any) -> None:
    lot = makers.lot(
        store, store.promoter, store.cabinet, makers_lot="C-1", released=False, containers=[{"net_g": 500}]
    )
    held = store.get(f"/v1/containers/{lot['containers'][0]}")["holds"]
    assert store.bottle in held[0]["reason"]


def test_a_peroxide_is_decanted_only_into_its_vented_container(store: Any) -> None:
    path = f"/v1/containers/{store.bottle}/decants"
    problem = store.refused(path, {"mass_g": 100}, "peroxide-barred")
    assert VENTED in problem["way_out"]
    child = store.post(path, {"mass_g": 100, "vented": True})
    assert child["holds"] == []
    # Never topped up or poured back, not even from its own lot.
    topped = store.refused(path, {"mass_g": 100, "vented": True, "into": child["code"]}, "peroxide-barred")
    assert "topped up" in topped["detail"]
    held = store.post(path, {"mass_g": 50, "into": child["code"], "happened": True})
    assert {h["reason"].split(":")[0] for h in held["holds"]} == {
        child["code"], f"{store.bottle} Sorrel K50 is an organic peroxide",
    }  # fmt: skip
    assert held["fitness"]["answer"] == "leave"
    assert held["left_g"] == 150


def test_a_peroxide_that_was_too_hot_is_left_alone_for_good(store: Any) -> None:
    path = f"/v1/places/{store.cabinet}/readings"
    assert store.post(path, {"temperature_c": 59.5})["alarms"] == []
    assert store.get(f"/v1/containers/{store.bottle}")["fitness"]["reasons"][0]["kind"] != "peroxide-hot"
    alarm = store.post(path, {"temperature_c": 60})["alarms"][0]
    assert store.bottle in alarm
    assert "Leave it where it is" in alarm
    assert "fire" in alarm
    store.post(path, {"temperature_c": 20})
    can = store.get(f"/v1/containers/{store.bottle}")
    reason = can["fitness"]["reasons"][0]
    assert (can["fitness"]["answer"], reason["kind"], reason["may_permit"]) == ("leave", "peroxide-hot", [])
    # Neither moving it nor lifting the hold heals it.
    store.post(f"/v1/holds/{can['holds'][0]['id']}/lifting", {"why": "cold again"}, who="quality")
    store.post(f"/v1/items/{store.bottle}/moves", {"place": store.shelf})
    assert store.get(f"/v1/containers/{store.bottle}")["fitness"]["answer"] == "leave"


def test_a_peroxide_goes_into_no_part_by_itself(store: Any) -> None:
    part = makers.started_part(store, need_g=None)
    used = store.post(f"/v1/parts/{part}/uses", {"container": store.bottle, "purpose": "wipe", "mass_g": 5})
    assert used["holds"][0]["reason"].startswith(f"{store.bottle} Sorrel K50 is an organic peroxide")
