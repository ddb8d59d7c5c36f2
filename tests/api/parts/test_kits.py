"""Kits over HTTP: every length off a roll is kit, waste or offcut; the kit is weighed before resin is mixed."""

from typing import Any

import pytest

from service.database import connected
from service.records.items import Item
from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def yard(api: Any) -> Any:
    makers.supplier(api)
    api.place = makers.place(api)
    api.glass = makers.fabric(api)
    api.roll = makers.roll(api, api.glass, api.place, "F-1")
    return api


def _close(*codes: str) -> None:
    """Each balance is what its movements say."""
    with connected():
        for code in codes:
            item = Item.get(Item.code == code)
            assert item.balance == makers.balance_by_movements(item), code


def test_a_cut_is_kit_and_waste_and_an_offcut_with_a_code_of_its_own(yard: Any) -> None:
    design = makers.design(yard, plies=makers.plies(yard.glass, 0, 45))
    cut = {"roll": yard.roll, "length_mm": 1000, "waste_mm": 60, "offcut_mm": 240, "plies": [1, 2]}
    kit = yard.post("/v1/kits", {"design": design["id"], "cuts": [cut], "mass_g": 281})
    assert (kit["state"], kit["plies"], kit["expected_g"], kit["doubtful"]) == ("cut", [1, 2], 280, False)
    assert kit["cuts"][0]["makers_lot"] == "F-1"
    offcut = yard.get(f"/v1/containers/{kit['cuts'][0]['offcut']}")
    assert (offcut["left_mm"], offcut["parent"], offcut["makers_lot"]) == (240, yard.roll, "F-1")
    assert yard.get(f"/v1/containers/{yard.roll}")["left_mm"] == 50_000 - 1300
    _close(yard.roll, offcut["code"], kit["code"])
    back = yard.get(f"/v1/items/{kit['code']}/trace?direction=back")
    assert back["counts"] == {"container": 1, "lot": 1}


def test_a_kit_is_fabric_long_enough_and_of_the_right_cloth(yard: Any) -> None:
    other = makers.fabric(yard, "Carbon UD 300", form="unidirectional", areal_weight_g_m2=300)
    design = makers.design(yard, plies=[*makers.plies(yard.glass, 0), *makers.plies(other, 0, number=2)])["id"]
    long = {
        "design": design,
        "cuts": [{"roll": yard.roll, "length_mm": 30_000}, {"roll": yard.roll, "length_mm": 20_001}],
    }
    assert yard.refused("/v1/kits", long, "stock-short")["left_mm"] == 50_000
    wrong = {"design": design, "cuts": [{"roll": yard.roll, "length_mm": 500, "plies": [2]}]}
    problem = yard.refused("/v1/kits", wrong, "invalid", status=422)
    assert problem["errors"][0]["pointer"] == "/cuts/0/plies"
    nowhere = {"design": design, "cuts": [{"roll": yard.roll, "length_mm": 500, "plies": [7]}]}
    yard.refused("/v1/kits", nowhere, "invalid", status=422)
    yard.refused("/v1/kits", {"cuts": [{"roll": yard.roll, "length_mm": 500, "plies": [1]}]}, "invalid", status=422)
    resin = makers.cans(yard, makers.material(yard, "Alder 10 resin", "resin"), yard.place, "26-1")[0]
    problem = yard.refused("/v1/kits", {"cuts": [{"roll": resin, "length_mm": 500}]}, "not-fit")
    assert "wrong-kind" in [r["kind"] for r in problem["reasons"]]
    draft = makers.design(yard, "HY-205", approved=False)["id"]
    yard.refused("/v1/kits", {"design": draft, "cuts": [{"roll": yard.roll, "length_mm": 500}]}, "wrong-state")
    mixed = yard.post("/v1/kits", {"design": design, "cuts": [{"roll": yard.roll, "length_mm": 500}]})
    assert mixed["plies"] == [1], "all of this cloth, if none are named"


def test_a_missing_ply_is_seen_by_its_weight(yard: Any) -> None:
    """8 plies of 140 g: seven weigh 980 g; the lightest ply is 140 g (formula kit_check)."""
    design = makers.design(yard, plies=makers.plies(yard.glass, *[0] * 8), piece_spread_pct=2)["id"]
    cut = {"roll": yard.roll, "length_mm": 4000}
    kit = yard.post("/v1/kits", {"design": design, "cuts": [cut], "mass_g": 980})
    assert (kit["doubtful"], kit["expected_g"]) == (True, 1120)
    assert "140.0 g lighter" in kit["weighed"]
    flags = yard.get(f"/v1/items/{kit['code']}")["flags"]
    assert [(f["kind"], f["stops"]) for f in flags] == [("kit-mass", False)]
    heavy = yard.post("/v1/kits", {"design": design, "cuts": [cut], "mass_g": 1260})
    assert "140.0 g heavier" in heavy["weighed"]
    assert yard.post("/v1/kits", {"design": design, "cuts": [cut]})["weighed"] is None


def test_a_roll_whose_lot_nobody_knows_is_barred_from_a_traceable_design(yard: Any) -> None:
    roll = makers.roll(yard, yard.glass, yard.place, None)
    cuts = [{"roll": roll, "length_mm": 500}]
    strict = makers.design(yard, plies=makers.plies(yard.glass, 0))["id"]
    yard.refused("/v1/kits", {"design": strict, "cuts": cuts}, "lot-not-known")
    free = makers.design(yard, "HY-205", plies=makers.plies(yard.glass, 0), traceable=False)["id"]
    assert yard.post("/v1/kits", {"design": free, "cuts": cuts})["cuts"][0]["makers_lot"] is None


def test_a_roll_used_up_is_empty_and_a_kit_cut_under_a_permit_says_so(yard: Any) -> None:
    old = makers.roll(yard, yard.glass, yard.place, "F-0", no_expiry=False, expires_on="2026-11-01")
    cut = {"cuts": [{"roll": old, "length_mm": 49_000, "waste_mm": 1000}]}
    assert yard.refused("/v1/kits", cut, "not-fit")["instead"] == [yard.roll]
    asked = {"kind": "deviation permit", "item": old, "reasons": ["expired"], "why": "dry glass, stored well"}
    yard.post("/v1/permissions", asked)
    kit = yard.post("/v1/kits", cut)
    assert yard.get(f"/v1/containers/{old}")["state"] == "empty"
    flags = yard.get(f"/v1/items/{kit['code']}")["flags"]
    assert [(f["kind"], f["stops"], f["decision"]) for f in flags] == [("expired", True, "asked")]
    assert kit["holds"] == []
    _close(old, kit["code"])
    assert [k["code"] for k in yard.get("/v1/kits?state=cut")] == [kit["code"]]
