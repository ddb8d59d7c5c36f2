"""What is worked out of a design: areas from outlines, cuts off the roll, thickness, need of resin, mirror image."""

import math
from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once

# 1000 × 500 mm with a hole of 100 × 100 mm and 10 mm at every edge: 1020 × 520 − 80 × 80 mm².
OUTLINE = {
    "outline": [[0, 0], [1000, 0], [1000, 500], [0, 500]],
    "holes": [[[100, 100], [200, 100], [200, 200], [100, 200]]],
    "allowance_mm": 10,
}


@pytest.fixture
@made_once
def yard(api: Any) -> Any:
    makers.supplier(api)
    api.glass = makers.fabric(api)
    return api


def _draft(yard: Any, number: str = "HY-204", **facts: Any) -> dict[str, Any]:
    return makers.design(yard, number, approved=False, **facts)


def test_a_ply_has_its_area_as_cut_from_its_outline(yard: Any) -> None:
    made = _draft(yard, plies=[{"number": 1, "material": yard.glass, "angle_deg": 0, **OUTLINE}])
    ply = made["plies"][0]
    assert ply["area_m2"] == pytest.approx(0.524)
    assert ply["outline"] == OUTLINE["outline"]
    assert made["kit_expected_g"] == pytest.approx(0.524 * 280, abs=0.05)
    changed = yard.call(
        "PATCH", f"/v1/designs/{made['id']}", who="lead", If_Match='"1"',
        body={"plies": [{"number": 1, "material": yard.glass, "angle_deg": 0, **OUTLINE, "allowance_mm": 0}]},
    ).get_json()  # fmt: skip
    assert changed["plies"][0]["area_m2"] == pytest.approx(0.49)


@pytest.mark.parametrize(
    ("facts", "pointer", "says"),
    [
        ({**OUTLINE, "area_m2": 0.5}, "/plies/0/area_m2", "one of the two"),
        ({}, "/plies/0/area_m2", "one of the two"),
        ({"area_m2": 0.5, "allowance_mm": 10}, "/plies/0/outline", "belong to an outline"),
        ({"outline": [[0, 0], [100, 0], [100, 100], [50, -50], [0, 100]]}, "/plies/0/outline", "self-intersection"),
        ({"outline": [[0, 0], [9, 0], [9, 9]]}, "/plies/0/outline", "a ply has 0.0001 to 1000 m²"),
        ({**OUTLINE, "holes": [[[900, 0], [1100, 0], [1000, 100]]]}, "/plies/0/holes", "inside the outline"),
    ],
)
def test_an_outline_that_encloses_nothing_is_refused_where_it_stands(
    yard: Any, facts: dict[str, Any], pointer: str, says: str
) -> None:
    ply = {"number": 1, "material": yard.glass, "angle_deg": 0, **facts}
    body = {"part_number": "HY-1", "revision": "A", "name": "Odd", "plies": [ply]}
    problem = yard.refused("/v1/designs", body, "invalid", status=422, who="lead")
    assert (problem["errors"][0]["pointer"], says in problem["detail"]) == (pointer, True)


def test_the_cuts_off_each_roll_are_told_with_their_waste(yard: Any) -> None:
    """Four pieces of 600 × 400 mm on a roll of 1000 mm, 10 mm apart: two by two, 1210 mm (formula roll_length_mm)."""
    piece = {"material": yard.glass, "angle_deg": 0, "area_m2": 0.24, "length_mm": 600, "width_mm": 400}
    narrow = makers.fabric(yard, "Tape 300", width_mm=300)
    plies = [{**piece, "number": n} for n in range(1, 5)]
    plies += [
        {"number": 5, "material": narrow, "angle_deg": 0, **OUTLINE},
        {"number": 6, "material": yard.glass, "angle_deg": 0, "area_m2": 0.1},
    ]
    made = _draft(yard, plies=plies)
    found = yard.get(f"/v1/designs/{made['id']}/cutting?gap_mm=10")
    wide, tape = found["cloths"]
    assert (wide["length_mm"], wide["used_area_m2"], wide["waste_area_m2"]) == (1210, 0.96, 0.25)
    assert "1.21 m off a roll of 1000 mm for 4 pieces" in wide["sentence"]
    assert len(wide["placements"]) == 4
    assert (tape["length_mm"], "520 mm across the roll" in tape["sentence"]) == (None, True)
    assert found["sentences"] == ["Ply 6 has neither an outline nor a length: it is not in it."]


def test_grain_turns_a_piece_on_the_roll(yard: Any) -> None:
    piece = {"number": 1, "material": yard.glass, "angle_deg": 0, "area_m2": 0.72, "length_mm": 900, "width_mm": 800}
    along, across = (_draft(yard, f"HY-{n}", plies=[{**piece, "grain": n}])["id"] for n in ("along", "across"))
    lengths = [yard.get(f"/v1/designs/{n}/cutting")["cloths"][0]["length_mm"] for n in (along, across)]
    assert lengths == [900, 800]


def test_thickness_and_need_of_resin_stand_beside_what_the_design_plans(api: Any) -> None:
    """t = A/(1000 ρ V), resin = fibre (1 − W)/W (1 + loss) + uptake, gel coat = area · t · ρ · (1 + loss)."""
    makers.mixing(api)
    made = _draft(
        api,
        plies=makers.plies(makers.fabric(api), 0, 0),
        densities={"fibre_g_cm3": 2.54, "matrix_g_cm3": 1.15},
        laminate={
            "process": "hand lay-up",
            "fibre_mass_fraction": 0.5,
            "loss_fraction": 0.05,
            "uptakes": [{"name": "peel ply", "uptake_g_m2": 40}],
            "gel_coat": {"thickness_mm": 0.5, "density_g_cm3": 1.2, "loss_fraction": 0},
        },
        resin_need=[{"purpose": "wet-out", "system": "Alder 10", "mass_g": 300}],
    )
    found = api.get(f"/v1/designs/{made['id']}/laminate")
    volume = (0.5 / 2.54) / (0.5 / 2.54 + 0.5 / 1.15)
    assert found["fibre_volume_fraction"] == pytest.approx(volume, abs=1e-4)
    assert found["plies"][0]["thickness_mm"] == pytest.approx(280 / (2540 * volume), abs=1e-3)
    stack = found["stacks"][0]
    assert (stack["zone"], stack["plies"], stack["symmetric"], stack["balanced"]) == (None, 2, True, True)
    assert stack["thickness_mm"] == pytest.approx(2 * 280 / (2540 * volume), abs=0.01)
    assert found["thickness"] == "Worked out for 50 % by mass and 31 % by volume of fibre: 0.71 mm thick."
    # 2 × 0.5 m² × 280 g/m² of glass at half by mass, 5 % lost, and 0.5 m² of peel ply.
    wet_out, coat = found["needs"]
    assert (wet_out["worked_out_g"], wet_out["planned_g"]) == (280 * 1.05 + 20, 300)
    assert wet_out["sentence"] == "Resin coat and wet-out: 314 g is worked out; the design plans 300 g, 4 % less."
    assert (coat["worked_out_g"], coat["planned_g"]) == (300, None)


def test_the_thickness_of_its_laminate_stands_in_the_record_of_a_part(yard: Any) -> None:
    facts: dict[str, Any] = {
        "densities": {"fibre_g_cm3": 2.54, "matrix_g_cm3": 1.15},
        "laminate": {"fibre_mass_fraction": 0.5},
    }
    makers.design(yard, plies=makers.plies(yard.glass, 0, 0), **facts)
    part = yard.post("/v1/parts", {"part_number": "HY-204"})["code"]
    record = yard.get(f"/v1/parts/{part}/record")
    assert any("0.71 mm thick" in sentence for sentence in record["design"]["sentences"])


def test_a_mat_of_glass_has_its_thickness_from_the_small_craft_formula(yard: Any) -> None:
    """300 g/m² at 30 % of glass by mass: 0.70 mm (ISO 12215-5:2008, Annex C, from memory)."""
    mat = makers.fabric(yard, "Chopped strand 300", form="mat", areal_weight_g_m2=300)
    laminate = {"fibre_mass_fraction": 0.3}
    made = _draft(yard, plies=makers.plies(mat, 0), laminate=laminate)
    found = yard.get(f"/v1/designs/{made['id']}/laminate")
    assert found["plies"][0]["thickness_mm"] == pytest.approx(0.7, abs=0.002)
    assert found["plies"][0]["worked_out_from"] == "glass content, small craft formula"
    assert any("what is lost" in sentence for sentence in found["sentences"])
    bare = yard.get(f"/v1/designs/{_draft(yard, 'HY-205', plies=makers.plies(mat, 0))['id']}/laminate")
    assert (bare["plies"][0]["thickness_mm"], bare["needs"]) == (None, [])


def test_symmetry_is_told_zone_by_zone(yard: Any) -> None:
    plies = makers.plies(yard.glass, 0, 30, 0)
    plies[2] = {**plies[2], "zone": "root"}
    made = _draft(yard, plies=plies, zones=["root", "tip"])
    root, tip = yard.get(f"/v1/designs/{made['id']}/laminate")["stacks"]
    assert (root["plies"], root["symmetric"], tip["plies"], tip["symmetric"]) == (3, True, 2, False)
    assert not tip["balanced"]


def test_one_fibre_fraction_is_stated_and_the_other_follows(yard: Any) -> None:
    body = {"part_number": "HY-1", "revision": "A", "name": "Odd"}
    both = {"fibre_mass_fraction": 0.5, "fibre_volume_fraction": 0.4}
    problem = yard.refused("/v1/designs", {**body, "laminate": both}, "invalid", status=422, who="lead")
    assert problem["errors"][0]["pointer"] == "/laminate/fibre_volume_fraction"


def test_the_other_hand_has_angles_of_the_other_sign_and_templates_turned_over(yard: Any) -> None:
    stitched = makers.fabric(yard, "Stitched 600", form="multiaxial", areal_weight_g_m2=600)
    plies = [
        {"number": 1, "material": stitched, "angle_deg": 45, "face": "up", "area_m2": 0.5},
        {"number": 2, "material": yard.glass, "angle_deg": 0, "outline": [[0, 0], [900, 0], [0, 500]]},
    ]
    made = _draft(yard, plies=plies, zones=["root"])
    other = {"part_number": "HY-205", "revision": "A", "name": "Rudder, starboard half", "about": "centreline"}
    hand = yard.post(f"/v1/designs/{made['id']}/mirror", other, who="lead")
    assert [(p["angle_deg"], p["face"]) for p in hand["plies"]] == [(-45, "up"), (0, None)]
    assert hand["plies"][1]["outline"] == [[0, 0], [900, 0], [0, -500]]
    assert hand["plies"][1]["area_m2"] == made["plies"][1]["area_m2"]
    assert (hand["zones"], hand["approved_at"]) == (["root"], None)
    yard.post(f"/v1/designs/{made['id']}/mirror", other, who="lead", expect=409)
    yard.post(f"/v1/designs/{made['id']}/mirror", {**other, "revision": "B"}, expect=403)


def test_mirrored_about_the_midplane_a_laminate_is_symmetric(yard: Any) -> None:
    """Shop rule 31: a stitched ±45 turns its face across the midplane."""
    stitched = makers.fabric(yard, "Stitched 600", form="multiaxial", areal_weight_g_m2=600)
    plies = [
        {"number": 1, "material": yard.glass, "angle_deg": 0, "area_m2": 0.5},
        {"number": 2, "material": stitched, "angle_deg": 45, "face": "up", "area_m2": 0.5},
    ]
    made = _draft(yard, plies=plies)
    assert made["symmetric"] is False
    body = {"part_number": "HY-204", "revision": "B", "name": "Rudder half, doubled", "about": "midplane"}
    whole = yard.post(f"/v1/designs/{made['id']}/mirror", body, who="lead")
    assert whole["symmetric"] is True
    assert [(p["number"], p["material"], p["face"]) for p in whole["plies"]] == [
        (1, yard.glass, None), (2, stitched, "up"), (3, stitched, "down"), (4, yard.glass, None),
    ]  # fmt: skip
    assert math.isclose(whole["kit_expected_g"], 2 * made["kit_expected_g"])
    again = {**body, "revision": "C"}
    assert (
        "centreline" in yard.refused(f"/v1/designs/{whole['id']}/mirror", again, "wrong-state", who="lead")["way_out"]
    )
    empty = _draft(yard, "HY-207")
    yard.refused(f"/v1/designs/{empty['id']}/mirror", again, "invalid", status=422, who="lead")
