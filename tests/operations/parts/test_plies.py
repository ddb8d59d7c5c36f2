"""What a design says of its plies: their areas, the weight of its kit, its symmetry (shop rules 29 and 31)."""

from typing import Any

import pytest

from schemas.words import FabricForm, MaterialKind
from service.operations.door.refusals import Unprocessable
from service.operations.parts.plies import expected_kit, laminate_check, stack_of, turn_of, with_areas
from service.records.materials import Material
from service.records.parts import Design

TWILL, TAPE, MAT, CORE = 1, 2, 3, 4


def cloth(number: int, kind: MaterialKind, form: FabricForm | None, areal_weight_g_m2: float) -> Material:
    return Material(id=number, name=f"Cloth {number}", kind=kind, form=form, areal_weight_g_m2=areal_weight_g_m2)


MATERIALS = {
    TWILL: cloth(TWILL, MaterialKind.FABRIC, FabricForm.WOVEN, 280),
    TAPE: cloth(TAPE, MaterialKind.FABRIC, FabricForm.UNIDIRECTIONAL, 200),
    MAT: cloth(MAT, MaterialKind.FABRIC, FabricForm.MAT, 300),
    CORE: cloth(CORE, MaterialKind.CORE, None, 400),
}
SQUARE = [[0, 0], [1000, 0], [1000, 500], [0, 500]]


def ply(number: int, material: int = TWILL, angle_deg: float = 0, area_m2: float | None = 0.5, **more: Any) -> Any:
    return {"number": number, "material": material, "angle_deg": angle_deg, "area_m2": area_m2, **more}


def design(*plies: Any, spread_pct: float | None = None) -> Design:
    return Design(plies=list(plies), piece_spread_pct=spread_pct)


def test_a_stated_area_is_kept_and_an_outline_gives_its_own() -> None:
    kept = with_areas([ply(1), ply(2, area_m2=None, outline=SQUARE)])
    assert [p["area_m2"] for p in kept] == [0.5, 0.5]
    cut_out = with_areas([ply(1, area_m2=None, outline=SQUARE, allowance_mm=10)])
    assert cut_out[0]["area_m2"] > 0.5, "as cut, with its allowance"


@pytest.mark.parametrize(
    ("one", "field", "sentence"),
    [
        (ply(1, area_m2=None), "area_m2", "Give the area of a ply or its outline, one of the two."),
        (ply(1, outline=SQUARE), "area_m2", "Give the area of a ply or its outline, one of the two."),
        (ply(1, allowance_mm=10), "outline", "Holes and an allowance belong to an outline."),
        (ply(1, holes=[SQUARE]), "outline", "Holes and an allowance belong to an outline."),
        (ply(1, area_m2=None, outline=[[0, 0], [1, 0], [0, 1]]), "outline", "a ply has 0.0001 to 1000 m²"),
        (ply(1, area_m2=None, outline=[[0, 0], [1, 0]]), "outline", "outline"),
    ],
)
def test_what_does_not_hold_is_pointed_at(one: Any, field: str, sentence: str) -> None:
    with pytest.raises(Unprocessable, match=sentence) as refused:
        with_areas([ply(1), one])
    assert refused.value.pointer == f"/plies/1/{field}"


def test_a_kit_weighs_what_its_fabric_weighs_and_core_is_no_part_of_it() -> None:
    found = expected_kit(design(ply(1), ply(2, TAPE, area_m2=2), ply(3, CORE)), MATERIALS)
    assert found is not None
    assert found.expected_g == pytest.approx(0.5 * 280 + 2 * 200)
    assert found.lightest_g == pytest.approx(140)


def test_a_kit_of_some_plies_weighs_these_and_one_named_twice_counts_twice() -> None:
    whole = design(ply(1), ply(2), ply(3, TAPE))
    some, twice = expected_kit(whole, MATERIALS, [1, 3]), expected_kit(whole, MATERIALS, [1, 1])
    assert some is not None
    assert twice is not None
    assert (some.expected_g, twice.expected_g) == (pytest.approx(240), pytest.approx(280))
    assert expected_kit(whole, MATERIALS, [9]) is None
    assert expected_kit(design(ply(1, CORE)), MATERIALS) is None


def test_a_kit_without_a_stated_spread_has_none() -> None:
    exact, spread = (expected_kit(design(ply(1), spread_pct=s), MATERIALS) for s in (None, 5.0))
    assert exact is not None
    assert spread is not None
    assert exact.spread_g == 0 < spread.spread_g


@pytest.mark.parametrize(
    ("angles", "symmetric", "balanced"),
    [((0, 45, -45, -45, 45, 0), True, True), ((0, 45, -45), False, True), ((0, 45, 0), True, False)],
)
def test_a_laminate_of_tape_is_judged_ply_by_ply(angles: tuple[float, ...], symmetric: bool, balanced: bool) -> None:
    found = laminate_check(design(*(ply(n, TAPE, angle) for n, angle in enumerate(angles, 1))), MATERIALS)
    assert found is not None
    assert (found.symmetric, found.balanced) == (symmetric, balanced)


def test_a_design_without_plies_is_not_judged() -> None:
    assert laminate_check(design(), MATERIALS) is None


def test_a_ply_goes_to_the_theory_with_the_weave_of_its_cloth() -> None:
    assert [p.weave for p in stack_of([ply(1), ply(2, TAPE), ply(3, MAT), ply(4, CORE)], MATERIALS)] == [
        "woven",
        "unidirectional",
        "mat",
        "mat",
    ]


def test_after_which_turn_a_cloth_lies_as_before() -> None:
    """Zero: at any angle."""
    assert [turn_of(MATERIALS[number]) for number in (TWILL, TAPE, MAT, CORE)] == [90, 180, 0, 0]
    assert turn_of(Material(form=FabricForm.MULTIAXIAL)) == 180
