"""Fractions, thickness, resin need, and the masses of kits and parts (shop rules 30 and 33)."""

import math
from typing import ClassVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.laminate import (
    KitMass,
    PieceMass,
    after_trim,
    fibre_mass_fraction,
    fibre_volume_fraction,
    fractions_with_voids,
    gel_coat_g,
    kit_check,
    kit_mass,
    ply_thickness_mm,
    resin_need_g,
    thickness_from_glass_mm,
    uptake_g,
)
from service.formulas.ranges import OutOfRange

shares = st.floats(0.01, 0.99)
densities = st.floats(0.5, 8)


class TestFractions:
    @pytest.mark.parametrize(
        ("by_mass", "fibre", "matrix", "by_volume", "digits"),
        [
            # 4.24 g carbon in 6.29 g: the public page "Composites theory" prints 0.56 for a density ratio of 1.6.
            (4.24 / 6.29, 1.6, 1.0, 0.5638, 5e-5),
            (4.24 / 6.29, 1.78, 1.1, 0.5610, 5e-5),
            # 100 g glass to 70 g resin: a published aircraft maintenance manual, 51-00-00 p. 10; computed.
            (100 / 170, 2.54, 1.15, 0.393, 5e-4),
            # 100 g carbon cloth to 85 g resin: same; fractions computed.
            (100 / 185, 1.78, 1.15, 0.432, 5e-4),
            # 50 % glass by weight: FAA AC 43.13-1B, 9/8/98, para 3-3; fraction computed.
            (0.50, 2.54, 1.15, 0.312, 5e-4),
        ],
    )
    def test_by_volume_from_by_mass(self, by_mass, fibre, matrix, by_volume, digits):
        found = fibre_volume_fraction(
            fibre_mass_fraction=by_mass, fibre_density_g_cm3=fibre, matrix_density_g_cm3=matrix
        )
        assert found == pytest.approx(by_volume, abs=digits)

    @pytest.mark.parametrize(("fibre", "by_mass"), [(1.78, 0.708), (2.54, 0.775)])
    def test_by_mass_from_the_best_volume_fraction(self, fibre, by_mass):
        # 62 % fibre by volume: US Army TM 1-1500-204-23-11; fractions by mass computed with resin 1.2.
        found = fibre_mass_fraction(fibre_volume_fraction=0.62, fibre_density_g_cm3=fibre, matrix_density_g_cm3=1.2)
        assert found == pytest.approx(by_mass, abs=5e-4)

    @pytest.mark.parametrize(
        ("by_volume", "resin_per_carbon"),
        [
            (0.30, 1.46),
            (0.35, 1.16),
            (0.40, 0.94),
            (0.45, 0.76),
            (0.50, 0.63),
            (0.55, 0.51),
            (0.60, 0.42),
            (0.65, 0.34),
        ],
    )
    def test_resin_to_carbon_ratios_as_printed(self, by_volume, resin_per_carbon):
        # the public page "Composites theory", density ratio 1.6; 0.625 is printed as 0.63.
        by_mass = fibre_mass_fraction(fibre_volume_fraction=by_volume, fibre_density_g_cm3=1.6, matrix_density_g_cm3=1)
        assert (1 - by_mass) / by_mass == pytest.approx(resin_per_carbon, abs=0.0051)

    @given(share=shares, fibre=densities, matrix=densities)
    @settings(deadline=None, max_examples=50)
    def test_there_and_back(self, share, fibre, matrix):
        by_mass = fibre_mass_fraction(
            fibre_volume_fraction=share, fibre_density_g_cm3=fibre, matrix_density_g_cm3=matrix
        )
        back = fibre_volume_fraction(
            fibre_mass_fraction=by_mass, fibre_density_g_cm3=fibre, matrix_density_g_cm3=matrix
        )
        assert back == pytest.approx(share, rel=1e-9)
        assert (by_mass > share) == (fibre > matrix) or by_mass == pytest.approx(share)

    @pytest.mark.parametrize("share", [0, 1, -0.1, 1.1, 55, math.nan, True, "0.5"])
    def test_a_percentage_or_nonsense_is_refused(self, share):
        with pytest.raises(OutOfRange, match="fibre_mass_fraction"):
            fibre_volume_fraction(fibre_mass_fraction=share, fibre_density_g_cm3=2.5, matrix_density_g_cm3=1.2)

    def test_a_density_in_other_units_is_refused(self):
        with pytest.raises(OutOfRange, match="fibre_density_g_cm3"):
            fibre_volume_fraction(fibre_mass_fraction=0.5, fibre_density_g_cm3=2540, matrix_density_g_cm3=1.2)


class TestVoids:
    CARBON: ClassVar = {"fibre_mass_fraction": 0.65, "fibre_density_g_cm3": 1.78, "matrix_density_g_cm3": 1.20}

    def test_hand_calculation(self):
        # ASTM D3171 form, computed: V_f 0.5478, V_m 0.4375, voids 1.47 %.
        found = fractions_with_voids(**self.CARBON, laminate_density_g_cm3=1.50)
        assert found.fibre_volume_fraction == pytest.approx(0.5478, abs=5e-5)
        assert found.matrix_volume_fraction == pytest.approx(0.4375, abs=5e-5)
        assert found.void_fraction == pytest.approx(0.0147, abs=5e-5)

    def test_at_the_theoretical_density_there_are_none(self):
        # Computed: 1.5225 g/cm³.
        assert fractions_with_voids(**self.CARBON, laminate_density_g_cm3=1.52245).void_fraction == pytest.approx(
            0, abs=5e-5
        )

    @given(share=shares, fibre=densities, matrix=densities)
    @settings(deadline=None, max_examples=50)
    def test_without_voids_it_is_the_plain_formula(self, share, fibre, matrix):
        plain = {
            "fibre_mass_fraction": share,
            "fibre_density_g_cm3": fibre,
            "matrix_density_g_cm3": matrix,
        }
        theory = 1 / (share / fibre + (1 - share) / matrix)
        found = fractions_with_voids(**plain, laminate_density_g_cm3=theory)
        assert found.fibre_volume_fraction == pytest.approx(fibre_volume_fraction(**plain), rel=1e-9)
        assert found.void_fraction == pytest.approx(0, abs=1e-9)

    def test_denser_than_its_parts_is_refused(self):
        with pytest.raises(OutOfRange, match="laminate_density_g_cm3"):
            fractions_with_voids(**self.CARBON, laminate_density_g_cm3=1.60)


class TestThickness:
    @pytest.mark.parametrize(("weight", "density", "thickness"), [(200, 1.78, 0.2247), (600, 2.54, 0.4724)])
    def test_of_a_ply_at_half_fibre(self, weight, density, thickness):
        # Computed: A_w/(rho_f V_f).
        found = ply_thickness_mm(areal_weight_g_m2=weight, fibre_density_g_cm3=density, fibre_volume_fraction=0.5)
        assert found == pytest.approx(thickness, abs=5e-5)

    @pytest.mark.parametrize(
        ("glass", "share", "thickness"),
        [(1.0, 0.30, 2.335), (0.3, 0.30, 0.7005), (0.6, 0.48, 0.7760), (0.8, 0.48, 1.0347), (0.3, 0.55, 0.3217)],
    )
    def test_small_craft_formula(self, glass, share, thickness):
        # ISO 12215-5:2008 Annex C (from memory); values computed.
        found = thickness_from_glass_mm(glass_kg_m2=glass, glass_mass_fraction=share)
        assert found == pytest.approx(thickness, abs=5e-4)

    @given(glass=st.floats(0.01, 100), share=st.floats(0.05, 0.99))
    @settings(deadline=None, max_examples=50)
    def test_small_craft_formula_is_glass_of_256_and_resin_of_120(self, glass, share):
        by_volume = fibre_volume_fraction(
            fibre_mass_fraction=share, fibre_density_g_cm3=2.56, matrix_density_g_cm3=1.20
        )
        assert thickness_from_glass_mm(glass_kg_m2=glass, glass_mass_fraction=share) == pytest.approx(
            glass / 2.56 / by_volume, rel=1e-9
        )

    def test_grams_for_kilograms_are_refused(self):
        with pytest.raises(OutOfRange, match="glass_kg_m2"):
            thickness_from_glass_mm(glass_kg_m2=300, glass_mass_fraction=0.3)


class TestResinNeed:
    def test_glass_cloth_of_a_published_manual(self):
        # 100 g cloth to 70 g mixed resin: published aircraft maintenance manuals, 51-00-00 p. 10 and 51-20-00 p. 201.
        need = resin_need_g(fibre_g=100, fibre_mass_fraction=0.5882, loss_fraction=0, uptake_g=0)
        assert need == pytest.approx(70, abs=0.05)

    def test_half_by_weight_takes_its_own_weight(self):
        # FAA AC 43.13-1B, para 3-3: resin mass = patch mass.
        assert resin_need_g(fibre_g=250, fibre_mass_fraction=0.5, loss_fraction=0, uptake_g=0) == pytest.approx(250)

    def test_losses_grow_with_the_resin_and_the_uptake_does_not(self):
        # Hand calculation: 800 * 1 * 1.05 + 60.
        assert resin_need_g(fibre_g=800, fibre_mass_fraction=0.5, loss_fraction=0.05, uptake_g=60) == pytest.approx(900)

    def test_uptake_of_several_layers(self):
        assert uptake_g(area_m2=0.5, uptake_g_m2=[40, 80]) == pytest.approx(60)
        assert uptake_g(area_m2=0.5, uptake_g_m2=[]) == 0

    @given(fibre=st.floats(1, 1e5), share=shares, loss=st.floats(0, 1), times=st.floats(1, 9))
    @settings(deadline=None, max_examples=50)
    def test_twice_the_fibre_needs_twice_the_resin(self, fibre, share, loss, times):
        def need(grams):
            return resin_need_g(fibre_g=grams, fibre_mass_fraction=share, loss_fraction=loss, uptake_g=0)

        assert need(fibre * times) == pytest.approx(times * need(fibre), rel=1e-9)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"fibre_g": 0}, "fibre_g"),
            ({"fibre_mass_fraction": 1}, "fibre_mass_fraction"),
            ({"loss_fraction": -0.01}, "loss_fraction"),
            ({"loss_fraction": 5}, "loss_fraction"),
            ({"uptake_g": -1}, "uptake_g"),
            ({"uptake_g": math.inf}, "uptake_g"),
        ],
    )
    def test_nonsense_is_refused_by_name(self, change, named):
        good = {"fibre_g": 100, "fibre_mass_fraction": 0.5, "loss_fraction": 0.05, "uptake_g": 0}
        with pytest.raises(OutOfRange, match=named):
            resin_need_g(**{**good, **change})

    def test_an_uptake_below_zero_is_refused_by_its_place(self):
        with pytest.raises(OutOfRange, match=r"uptake_g_m2\[1\]"):
            uptake_g(area_m2=0.5, uptake_g_m2=[40, -1])

    def test_a_kilogram_of_gel_coat_covers_about_one_square_metre_and_a_half(self):
        # 1 kg covers about 1.6 m² at 0.4 to 0.6 mm: a laminating guide of a supplier.
        assert gel_coat_g(area_m2=1.6, thickness_mm=0.52, density_g_cm3=1.2, loss_fraction=0) == pytest.approx(
            1000, rel=0.01
        )

    def test_gel_coat_is_area_by_thickness_by_density_and_what_the_brush_keeps_on_top(self):
        # By hand: 2 m² of 0.5 mm at 1.2 g/cm³ are 1200 g, and a tenth more is lost.
        assert gel_coat_g(area_m2=2, thickness_mm=0.5, density_g_cm3=1.2, loss_fraction=0.1) == pytest.approx(1320)
        assert gel_coat_g(area_m2=4, thickness_mm=0.25, density_g_cm3=2.4, loss_fraction=0.5) == pytest.approx(3600)

    @pytest.mark.parametrize("loss", [-0.01, 1.01])
    def test_gel_coat_that_loses_more_than_there_is_is_refused(self, loss):
        with pytest.raises(OutOfRange, match="loss_fraction"):
            gel_coat_g(area_m2=1.6, thickness_mm=0.52, density_g_cm3=1.2, loss_fraction=loss)

    def test_gel_coat_a_metre_thick_is_refused(self):
        with pytest.raises(OutOfRange, match="thickness_mm"):
            gel_coat_g(area_m2=1.6, thickness_mm=500, density_g_cm3=1.2, loss_fraction=0)


EIGHT_PLIES = kit_mass(pieces=[PieceMass(0.5, 200, 5.8)] * 8)


class TestKit:
    def test_eight_plies(self):
        # Hand calculation: 8 * 0.5 m² * 200 g/m² = 800 g; 2 * sqrt(8) * 5.8 g = 32.8 g.
        assert EIGHT_PLIES.expected_g == pytest.approx(800)
        assert EIGHT_PLIES.spread_g == pytest.approx(32.8, abs=0.05)
        assert EIGHT_PLIES.lightest_g == pytest.approx(100)

    @pytest.mark.parametrize(
        ("measured", "doubtful"), [(700, True), (900, True), (750.1, False), (749.9, True), (832, False)]
    )
    def test_a_missing_or_doubled_ply_is_seen(self, measured, doubtful):
        assert kit_check(kit=EIGHT_PLIES, measured_g=measured).doubtful is doubtful

    def test_a_spread_wider_than_half_a_ply_says_that_weight_is_not_enough(self):
        kit = kit_mass(pieces=[PieceMass(0.5, 200, 5.8)] * 40)
        check = kit_check(kit=kit, measured_g=3950)
        assert not check.doubtful
        assert not check.sees_one_piece
        assert "count them" in check.sentence

    def test_weight_sees_one_piece_until_the_spread_is_half_of_it(self):
        assert kit_check(kit=KitMass(800, 49, 100), measured_g=800).sees_one_piece
        assert not kit_check(kit=KitMass(800, 50, 100), measured_g=800).sees_one_piece

    def test_a_roll_that_is_heavy_as_a_whole_widens_the_spread_in_step_with_the_kit(self):
        # Hand calculation: 2 * 4 % of 4000 g.
        kit = kit_mass(pieces=[PieceMass(0.5, 200, 0)] * 40, shared_spread_pct=4)
        assert kit.spread_g == pytest.approx(320)

    @given(count=st.integers(1, 50), spread=st.floats(0, 20))
    @settings(deadline=None, max_examples=50)
    def test_spread_of_equal_pieces_grows_with_the_root_of_their_number(self, count, spread):
        one = kit_mass(pieces=[PieceMass(0.3, 160, spread)])
        many = kit_mass(pieces=[PieceMass(0.3, 160, spread)] * count)
        assert many.spread_g == pytest.approx(one.spread_g * math.sqrt(count), rel=1e-9)

    def test_an_empty_kit_is_refused(self):
        with pytest.raises(OutOfRange, match="pieces"):
            kit_mass(pieces=[])

    @pytest.mark.parametrize("field", ["area_m2", "areal_weight_g_m2"])
    def test_a_piece_of_nothing_is_refused(self, field):
        with pytest.raises(OutOfRange, match=field):
            PieceMass(**{"area_m2": 0.5, "areal_weight_g_m2": 200, "areal_weight_spread_pct": 2, field: 0})


class TestAfterTrim:
    WEIGHED: ClassVar = {
        "part_g": 1300,
        "trim_g": 260,
        "fibre_g": 800,
        "other_g": 0,
        "fibre_density_g_cm3": 1.78,
        "matrix_density_g_cm3": 1.15,
    }

    def test_hand_calculation(self):
        # 1300 + 260 - 800 = 760 g resin; 800/1560 = 0.5128; volumes 449.4 and 660.9 cm³.
        found = after_trim(**self.WEIGHED, resin_applied_g=800, area_m2=1.0)
        assert found.resin_g == pytest.approx(760)
        assert found.fibre_mass_fraction == pytest.approx(0.5128, abs=5e-5)
        assert found.resin_mass_fraction == pytest.approx(0.4872, abs=5e-5)
        assert found.fibre_volume_fraction == pytest.approx(0.4048, abs=5e-5)
        assert found.thickness_mm == pytest.approx(1.110, abs=5e-4)
        assert found.unexplained_g == pytest.approx(40)
        assert found.unexplained_pct == pytest.approx(5)

    def test_agrees_with_the_plain_fractions_and_the_ply_thickness(self):
        found = after_trim(**self.WEIGHED, area_m2=4.0)
        by_volume = fibre_volume_fraction(
            fibre_mass_fraction=found.fibre_mass_fraction, fibre_density_g_cm3=1.78, matrix_density_g_cm3=1.15
        )
        assert found.fibre_volume_fraction == pytest.approx(by_volume)
        thickness = ply_thickness_mm(areal_weight_g_m2=200, fibre_density_g_cm3=1.78, fibre_volume_fraction=by_volume)
        assert found.thickness_mm == pytest.approx(thickness)

    def test_what_is_not_known_is_not_made_up(self):
        found = after_trim(**self.WEIGHED)
        assert (found.thickness_mm, found.unexplained_g, found.unexplained_pct) == (None, None, None)

    def test_more_resin_found_than_applied_shows_below_zero(self):
        assert after_trim(**self.WEIGHED, resin_applied_g=700).unexplained_g == pytest.approx(-60)

    def test_a_part_lighter_than_its_fibre_is_refused(self):
        with pytest.raises(OutOfRange, match="part_g"):
            after_trim(**{**self.WEIGHED, "part_g": 540})
