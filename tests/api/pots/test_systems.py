"""Resin systems over HTTP: what a data sheet says is checked against itself, and locked once it is approved."""

from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def shelf(api: Any) -> Any:
    makers.supplier(api)
    api.resin = makers.material(api, "Alder 10 resin", "resin", density_g_ml=1.15)
    api.slow = makers.material(api, "Alder 32 slow hardener", "hardener", density_g_ml=0.95)
    return api


def _body(api: Any, hardener: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    return {
        "name": "Alder 10",
        "data_sheet": "Alder 10, revision 4",
        "resin": api.resin,
        "hardeners": [
            {
                "material": api.slow,
                "speed": "slow",
                "parts_by_weight": 30,
                "cup_life": makers.CUP_LIFE,
                **(hardener or {}),
            }
        ],
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet, section 3"},
        "largest_pot_g": 1000,
        **more,
    }


def _add(api: Any, *, expect: int = 201, **more: Any) -> Any:
    return api.post("/v1/resin-systems", _body(api, **more), expect=expect, who="lead")


def test_a_tolerance_in_parts_is_shown_as_per_cent_of_the_ratio(shelf: Any) -> None:
    # Shop rule 15: 100:30 ± 2 parts is ± 6.7 %.
    system = _add(shelf, tolerance={"kind": "parts", "value": 2, "source": "data sheet"})
    assert system["hardeners"][0]["tolerance_pct"] == pytest.approx(6.67, abs=0.01)


@pytest.mark.parametrize("left_out", ["kind", "source"])
def test_a_tolerance_without_kind_or_source_is_not_saved(shelf: Any, left_out: str) -> None:
    tolerance = {"kind": "parts", "value": 2, "source": "data sheet"}
    del tolerance[left_out]
    problem = _add(shelf, tolerance=tolerance, expect=422)
    assert problem["errors"][0]["pointer"] == f"/tolerance/{left_out}"


def test_a_ratio_by_volume_is_worked_out_through_the_densities(shelf: Any) -> None:
    system = _add(shelf, hardener={"parts_by_weight": None, "parts_by_volume": 36})
    hardener = system["hardeners"][0]
    assert hardener["weight_worked_out"] is True
    assert hardener["parts_by_weight"] == pytest.approx(36 * 0.95 / 1.15)


def test_ratios_by_weight_and_volume_that_disagree_are_refused_with_their_numbers(shelf: Any) -> None:
    # 40 parts by volume at 1.15 and 0.95 g/ml are 33.0 by weight, 10.1 % off 30.
    problem = _add(shelf, hardener={"parts_by_volume": 40}, expect=422)
    assert problem["errors"][0]["pointer"] == "/hardeners/0/parts_by_volume"
    assert "33.0 parts by weight" in problem["detail"]
    assert problem["deviation_pct"] == pytest.approx(10.1, abs=0.05)
    assert _add(shelf, hardener={"parts_by_volume": 40}, agreement_limit_pct=11)["revision_number"] == 1


def test_a_ratio_by_volume_needs_both_densities(shelf: Any) -> None:
    light = makers.material(shelf, "Alder 33 hardener", "hardener")
    problem = _add(shelf, hardener={"material": light, "parts_by_weight": None, "parts_by_volume": 36}, expect=422)
    assert "density of Alder 33 hardener" in problem["detail"]


def test_resin_is_resin_and_hardener_is_hardener(shelf: Any) -> None:
    problem = _add(shelf, resin=shelf.slow, expect=422)
    assert problem["errors"][0]["pointer"] == "/resin"
    problem = _add(shelf, hardener={"material": shelf.resin}, expect=422)
    assert problem["errors"][0]["pointer"] == "/hardeners/0/material"


def test_an_organic_peroxide_is_part_of_no_system(shelf: Any) -> None:
    # Shop rule 23: materials with H240 to H242 carry this as a rule.
    peroxide = makers.material(shelf, "Catalyst 50", "hardener", h_codes=["H242", "H314"])
    shelf.refused("/v1/resin-systems", _body(shelf, {"material": peroxide}), "peroxide-barred", who="lead")


def test_a_table_that_contradicts_itself_is_refused_when_it_is_entered(shelf: Any) -> None:
    table = [
        {"mass_g": 100, "temperature_c": 20, "life_min": 40},
        {"mass_g": 100, "temperature_c": 30, "life_min": 50},
    ]
    problem = _add(shelf, hardener={"cup_life": table}, expect=422)
    assert problem["type"] == "/problems/out-of-range"
    assert "never lives longer" in problem["detail"]


def test_constants_are_kept_as_they_are_with_their_source(shelf: Any) -> None:
    constants = {"kinetics": {"ea_kj_mol": 55.2, "order": [1, 2]}, "source": "own calorimetry, 2026"}
    assert _add(shelf, constants=constants)["constants"] == constants
    problem = _add(shelf, name="Alder 11", constants={"kinetics": {}}, expect=422)
    assert problem["errors"][0]["pointer"] == "/constants"


def test_a_draft_is_changed_with_its_version_and_an_approved_one_is_not(shelf: Any) -> None:
    system = _add(shelf)
    path = f"/v1/resin-systems/{system['id']}"
    changed = shelf.call("PATCH", path, {"largest_pot_g": 800, "stir_min": 3}, who="lead", If_Match='"1"')
    assert changed.status_code == 200
    assert (changed.get_json()["largest_pot_g"], changed.get_json()["version"]) == (800, 2)
    assert changed.get_json()["hardeners"] == system["hardeners"]
    assert shelf.call("PATCH", path, {"stir_min": 4}, who="lead", If_Match='"1"').status_code == 412
    approved = shelf.post(f"{path}/approval", who="quality")
    assert approved["approved_by"] == shelf.get(path)["approved_by"] == "Quality"
    assert [s["approved_by"] for s in shelf.get(f"/v1/resin-systems?name={system['name']}")] == ["Quality"]
    assert len(approved["document_sha256"]) == 64
    locked = shelf.call("PATCH", path, {"stir_min": 4}, who="lead", If_Match=f'"{approved["version"]}"')
    assert locked.get_json()["type"] == "/problems/wrong-state"
    assert "next revision" in locked.get_json()["way_out"]
    shelf.refused(f"{path}/approval", {}, "wrong-state", who="quality")


def test_the_next_revision_replaces_the_one_before_when_it_is_approved(shelf: Any) -> None:
    first = _add(shelf)
    shelf.refused("/v1/resin-systems", _body(shelf), "already-there", who="lead")
    shelf.post(f"/v1/resin-systems/{first['id']}/approval", who="quality")
    second = _add(shelf, largest_pot_g=500)
    assert second["revision_number"] == 2
    assert shelf.get(f"/v1/resin-systems/{first['id']}")["replaced_by_id"] is None
    shelf.post(f"/v1/resin-systems/{second['id']}/approval", who="quality")
    assert shelf.get(f"/v1/resin-systems/{first['id']}")["replaced_by_id"] == second["id"]
    assert [s["id"] for s in shelf.get("/v1/resin-systems?current=true&name=Alder%2010")] == [second["id"]]


def test_a_laminator_adds_and_approves_no_system(shelf: Any) -> None:
    shelf.post("/v1/resin-systems", _body(shelf), expect=403)
    system = _add(shelf)
    shelf.post(f"/v1/resin-systems/{system['id']}/approval", expect=403)


def test_tables_that_end_below_the_largest_pot_are_said_before_and_at_approval(api: Any) -> None:
    bench = makers.mixing(api)
    draft = makers.resin_system(api, bench.resin, {bench.slow: 30}, name="Alder 11", approved=False,
                                largest_pot_g=1500)  # fmt: skip
    said = [
        f"The {what} life of Alder 32 slow hardener is stated up to 1000 g and the largest pot is 1500 g: above 1000 g "
        "there is no figure for it."
        for what in ("cup", "tray")
    ]
    assert draft["sentences"] == said
    approved = api.post(f"/v1/resin-systems/{draft['id']}/approval", who="quality")
    assert approved["sentences"] == said
    notes = api.get("/v1/journal?operation=approve_resin_system", who="lead")[-1]["body"]["notes"]
    assert [note["left_open"] for note in notes if "left_open" in note] == [said]
    assert api.get(f"/v1/resin-systems/{bench.system}")["sentences"] == []
    at_once = makers.resin_system(api, bench.resin, {bench.slow: 30}, name="Alder 12", approved=False,
                                  largest_pot_g=1500)["id"]  # fmt: skip
    several = api.post("/v1/approvals", {"systems": [at_once]}, who="quality")
    assert several["systems"][0]["sentences"] == said
