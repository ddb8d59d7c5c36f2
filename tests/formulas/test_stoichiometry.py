"""Equivalent weights, parts per hundred and the stoichiometric index."""

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.formulas import stoichiometry
from service.formulas.ranges import OutOfRange

quick = settings(deadline=None, max_examples=50)
masses = st.floats(1, 10_000)
weights = st.floats(15, 2000)


@pytest.mark.parametrize(
    ("name", "molar_mass", "hydrogens", "published", "tolerance"),
    [
        # A supplier's published page on amine curing agents (read).
        ("ethylenediamine, CAS 107-15-3", 60.098, 4, 15.03, 0.01),
        ("diethylenetriamine, CAS 111-40-0", 103.166, 5, 20.6, 0.05),
        ("triethylenetetramine, CAS 112-24-3", 146.234, 6, 24.4, 0.05),
        # Handbooks (from memory).
        ("isophoronediamine, CAS 2855-13-2", 170.295, 4, 42.6, 0.05),
        ("m-xylylenediamine, CAS 1477-55-0", 136.194, 4, 34.1, 0.06),
        ("4,4'-diaminodiphenyl sulfone, CAS 80-08-0", 248.301, 4, 62.1, 0.05),
    ],
)
def test_hydrogen_equivalents_of_pure_amines(
    name: str, molar_mass: float, hydrogens: int, published: float, tolerance: float
) -> None:
    found = stoichiometry.amine_hydrogen_equivalent_weight(molar_mass_g_mol=molar_mass, active_hydrogens=hydrogens)
    assert found == pytest.approx(published, abs=tolerance), name


@pytest.mark.parametrize(
    ("molar_mass", "published"),
    # Monomers of the diglycidyl ethers of bisphenol A and F, handbooks (from memory).
    [(340.413, 170), (312.360, 156)],
)
def test_epoxide_equivalents_of_pure_resins(molar_mass: float, published: float) -> None:
    found = stoichiometry.epoxide_equivalent_weight(molar_mass_g_mol=molar_mass, epoxide_groups=2)
    assert found == pytest.approx(published, abs=0.5)


@pytest.mark.parametrize(
    ("ahew", "eew", "published"),
    # Adhesives in Civil Engineering, chapter on epoxides (read): 10.3; the handbooks' pair of 190 and 24.4 (from
    # memory): 12.84.
    [(20.6, 200, 10.3), (24.4, 190, 12.84)],
)
def test_parts_per_hundred_of_known_pairs(ahew: float, eew: float, published: float) -> None:
    assert stoichiometry.phr_from_equivalents(ahew=ahew, eew=eew) == pytest.approx(published, abs=0.005)


def test_equivalents_in_a_hundred_grams() -> None:
    # Guide to epoxy calculations (turiya.nl): 100/190.
    assert stoichiometry.epoxy_number(eew=190) == pytest.approx(0.5263, abs=5e-5)
    assert stoichiometry.amine_number(ahew=24.4) == pytest.approx(4.0984, abs=5e-5)


def test_a_filler_counts_in_the_mass_alone() -> None:
    # Hand calculation: 90 g at 190 hold 0.47368 eq in 100 g, so 211.11 g/eq.
    found = stoichiometry.blend_equivalent_weight(masses_g=[90, 10], equivalent_weights=[190, None])
    assert found == pytest.approx(211.11, abs=0.005)


def test_a_reactive_diluent_counts_in_both() -> None:
    # Hand calculation: 80/190 + 20/130 = 0.57490 eq in 100 g, so 173.94 g/eq.
    found = stoichiometry.blend_equivalent_weight(masses_g=[80, 20], equivalent_weights=[190, 130])
    assert found == pytest.approx(173.94, abs=0.005)


def test_the_index_of_an_even_mix_is_one() -> None:
    assert stoichiometry.stoichiometric_index(resin_g=100, eew=200, hardener_g=10.3, ahew=20.6) == pytest.approx(1)
    assert stoichiometry.stoichiometric_index(resin_g=100, eew=200, hardener_g=20.6, ahew=20.6) == pytest.approx(2)


@quick
@given(parts=st.lists(st.tuples(masses, weights), min_size=1, max_size=6), filler_g=masses)
def test_a_blend_lies_between_its_parts_and_a_filler_only_raises_it(
    parts: list[tuple[float, float]], filler_g: float
) -> None:
    m, w = [mass for mass, _ in parts], [weight for _, weight in parts]
    found = stoichiometry.blend_equivalent_weight(masses_g=m, equivalent_weights=w)
    assert min(w) * (1 - 1e-9) <= found <= max(w) * (1 + 1e-9)
    filled = stoichiometry.blend_equivalent_weight(masses_g=[*m, filler_g], equivalent_weights=[*w, None])
    assert filled == pytest.approx(found * (1 + filler_g / math.fsum(m)))


@quick
@given(resin_g=masses, eew=weights, ahew=weights, index=st.floats(0.5, 1.5))
def test_hardener_and_index_turn_each_other_round(resin_g: float, eew: float, ahew: float, index: float) -> None:
    assume(0.001 < resin_g * ahew / eew * index < 1e6)
    hardener_g = stoichiometry.hardener_for_index_g(resin_g=resin_g, eew=eew, ahew=ahew, index=index)
    found = stoichiometry.stoichiometric_index(resin_g=resin_g, eew=eew, hardener_g=hardener_g, ahew=ahew)
    assert found == pytest.approx(index)


@quick
@given(resin_g=masses, eew=weights, ahew=weights)
def test_parts_per_hundred_give_an_index_of_one(resin_g: float, eew: float, ahew: float) -> None:
    assume(0.001 < resin_g * ahew / eew < 1e6)
    hardener_g = resin_g * stoichiometry.phr_from_equivalents(ahew=ahew, eew=eew) / 100
    found = stoichiometry.stoichiometric_index(resin_g=resin_g, eew=eew, hardener_g=hardener_g, ahew=ahew)
    assert found == pytest.approx(1)


@pytest.mark.parametrize("bad", [0, -4, 1001, 4.0, True, "4", None, pytest.param(10**5000, id="5001 digits")])
def test_a_number_of_groups_is_a_whole_number(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^active_hydrogens is .*from 1 to 1000"):
        stoichiometry.amine_hydrogen_equivalent_weight(molar_mass_g_mol=100, active_hydrogens=bad)
    with pytest.raises(OutOfRange, match=r"^epoxide_groups is "):
        stoichiometry.epoxide_equivalent_weight(molar_mass_g_mol=300, epoxide_groups=bad)


@pytest.mark.parametrize("bad", [0, -190, 9.9, 10_001, math.nan, math.inf, True, "190", None])
def test_what_is_no_equivalent_weight_is_refused_by_name(bad: Any) -> None:
    with pytest.raises(OutOfRange, match=r"^eew is .*g/eq"):
        stoichiometry.phr_from_equivalents(ahew=24.4, eew=bad)
    with pytest.raises(OutOfRange, match=r"^ahew is .*g/eq"):
        stoichiometry.stoichiometric_index(resin_g=100, eew=190, hardener_g=12, ahew=bad)


@pytest.mark.parametrize(
    ("masses_g", "equivalent_weights", "argument"),
    [
        ([], [], "masses_g"),
        ([100], [190, 130], "equivalent_weights"),
        ([100, 10], [None, None], "equivalent_weights"),
        ([100, 0], [190, None], r"masses_g\[1\]"),
        ([100], [math.inf], r"equivalent_weights\[0\]"),
    ],
)
def test_a_blend_that_cannot_react_is_refused(masses_g: Any, equivalent_weights: Any, argument: str) -> None:
    with pytest.raises(OutOfRange, match=f"^{argument} is "):
        stoichiometry.blend_equivalent_weight(masses_g=masses_g, equivalent_weights=equivalent_weights)
