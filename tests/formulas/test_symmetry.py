"""Symmetric and balanced laminates (shop rule 31; classical laminate theory)."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.ranges import OutOfRange
from service.formulas.symmetry import Ply, check_laminate, is_balanced, is_symmetric, mirrored


def ud(angle: float, weight: float = 200, material: str = "carbon") -> Ply:
    return Ply(material, weight, angle, None, "unidirectional")


def woven(angle: float = 0, weight: float = 160, face=None) -> Ply:
    return Ply("glass", weight, angle, face, "woven")


def stitched(angle: float, face="up") -> Ply:
    return Ply("glass", 600, angle, face, "biaxial")


def mat(angle: float = 0) -> Ply:
    return Ply("mat", 300, angle, None, "mat")


GEL_COAT = Ply("white gel coat", 600, 0, None, "gel coat")


class TestSymmetric:
    @pytest.mark.parametrize(
        "plies",
        [
            # 160/300/300/160 is symmetric.
            [woven(weight=160), woven(weight=300), woven(weight=300), woven(weight=160)],
            [ud(0), ud(45), ud(-45), ud(-45), ud(45), ud(0)],
            [ud(0), ud(90), ud(0)],
            [ud(45), ud(45)],
            [ud(0)],
            [woven(0), ud(0), woven(90)],
            [woven(45), woven(-45)],
            [ud(30), ud(210)],
            [mat(0), mat(77)],
            [stitched(45, "up"), stitched(45, "down")],
            [stitched(-45, "up"), stitched(135, "down")],
            [woven(face="up"), woven(face="down")],
            [GEL_COAT, woven(), mat(), woven()],
        ],
    )
    def test_symmetric(self, plies):
        assert is_symmetric(plies=plies)

    @pytest.mark.parametrize(
        "plies",
        [
            [woven(weight=160), woven(weight=300)],
            [ud(45), ud(-45)],
            [ud(0), ud(90)],
            [ud(0), ud(0, material="glass")],
            [stitched(45, "up"), stitched(45, "up")],
            [stitched(45, "up")],
            [mat(), stitched(45, "up"), mat()],
            [woven(face="up"), woven(face="up")],
            [woven(face="up")],
            [woven(face="up"), woven(face=None)],
            [woven(0), woven(45)],
            [woven(), mat()],
        ],
    )
    def test_not_symmetric(self, plies):
        assert not is_symmetric(plies=plies)

    def test_a_stitched_cloth_laid_at_right_angles_is_its_own_mirror_image(self):
        # From the top: +45, −45 against −45, +45. Turned over about its length alone it is +45, −45 again.
        assert is_symmetric(plies=[stitched(45, "up"), stitched(-45, "up")])


class TestBalanced:
    @pytest.mark.parametrize(
        "plies",
        [
            [ud(45), ud(-45)],
            [ud(45), ud(135)],
            [ud(0), ud(90), ud(90), ud(180)],
            [ud(30), ud(30), ud(-30), ud(150)],
            [woven(45)],
            [woven(0), woven(90)],
            [woven(30), woven(-30)],
            [woven(30), woven(60)],
            [stitched(45, "up")],
            [stitched(0, "up")],
            [stitched(30, "up"), stitched(-30, "down")],
            [mat(33)],
            [GEL_COAT, ud(0)],
        ],
    )
    def test_balanced(self, plies):
        assert is_balanced(plies=plies)

    @pytest.mark.parametrize(
        "plies",
        [
            [ud(45), ud(45)],
            [ud(45)],
            [ud(45, weight=200), ud(-45, weight=300)],
            [ud(45), ud(-45, material="glass")],
            [ud(45), stitched(-45)],
            [woven(30)],
            [stitched(30)],
            [ud(30), ud(-30), ud(-30)],
        ],
    )
    def test_not_balanced(self, plies):
        assert not is_balanced(plies=plies)


class TestTheWordsAreNotInterchangeable:
    def test_symmetric_and_not_balanced(self):
        check = check_laminate(plies=[ud(45), ud(45)])
        assert (check.symmetric, check.balanced) == (True, False)

    def test_balanced_and_not_symmetric(self):
        check = check_laminate(plies=[ud(45), ud(-45)])
        assert (check.symmetric, check.balanced) == (False, True)

    def test_both(self):
        assert check_laminate(plies=[ud(45), ud(-45), ud(-45), ud(45)]).sentences == ("Symmetric.", "Balanced.")


class TestReasons:
    def test_name_the_plies_as_laid_the_gel_coat_counted(self):
        check = check_laminate(plies=[GEL_COAT, woven(weight=160), woven(weight=300)])
        assert check.sentences[0] == (
            "Not symmetric: ply 2 (glass 160 g/m² woven) stands opposite ply 3 (glass 300 g/m² woven)."
        )

    def test_name_the_angles(self):
        sentences = check_laminate(plies=[ud(45), ud(-30)]).sentences
        assert "ply 1 at 45° stands opposite ply 2 at -30°" in sentences[0]
        assert any("lies 1 times at +45° and 0 times at -45°" in sentence for sentence in sentences)

    def test_name_the_turned_face(self):
        assert "the face turns across the midplane" in check_laminate(plies=[stitched(45), stitched(45)]).sentences[0]

    def test_name_the_ply_in_the_middle(self):
        assert "lies in the middle" in check_laminate(plies=[mat(), stitched(45), mat()]).sentences[0]

    def test_name_a_face_that_is_not_given(self):
        assert "is not given" in check_laminate(plies=[woven(face="up"), woven(face=None)]).sentences[0]


angles = st.sampled_from([0, 15, 30, 45, 60, 90, -15, -30, -45, -60, 135, 180])
some_plies = st.lists(
    st.one_of(
        st.builds(ud, angles),
        st.builds(woven, angles, st.sampled_from([160, 300]), st.sampled_from([None, "up", "down"])),
        st.builds(stitched, angles, st.sampled_from(["up", "down"])),
        st.builds(mat, angles),
        st.just(GEL_COAT),
    ),
    min_size=1,
    max_size=10,
).filter(lambda plies: any(ply.weave != "gel coat" for ply in plies))


@given(plies=some_plies)
@settings(deadline=None, max_examples=80)
def test_plies_with_their_mirror_image_are_symmetric(plies):
    whole = [*plies, *mirrored(plies=plies)]
    assert is_symmetric(plies=whole)
    assert is_balanced(plies=whole) == is_balanced(plies=plies)


@given(plies=some_plies)
@settings(deadline=None, max_examples=80)
def test_the_mirror_image_of_the_mirror_image_is_the_laminate(plies):
    assert list(mirrored(plies=mirrored(plies=plies))) == [ply for ply in plies if ply.weave != "gel coat"]


@given(plies=some_plies, shift=st.sampled_from([-180, 180]))
@settings(deadline=None, max_examples=80)
def test_half_a_turn_changes_nothing(plies, shift):
    turned = [Ply(p.material_name, p.areal_weight_g_m2, p.angle_deg + shift, p.face, p.weave) for p in plies]
    assert check_laminate(plies=turned).symmetric == check_laminate(plies=plies).symmetric
    assert is_balanced(plies=turned) == is_balanced(plies=plies)


@given(plies=some_plies)
@settings(deadline=None, max_examples=80)
def test_balance_does_not_depend_on_the_order_and_counts_as_many_partners(plies):
    assert is_balanced(plies=plies[::-1]) == is_balanced(plies=plies)
    flipped = [Ply(p.material_name, p.areal_weight_g_m2, -p.angle_deg, p.face, p.weave) for p in plies]
    assert is_balanced(plies=[*plies, *flipped])


@given(plies=some_plies)
@settings(deadline=None, max_examples=80)
def test_coupling_of_a_symmetric_laminate_vanishes(plies):
    """Odd moments of the directions about the midplane, layer by layer, as in the B matrix of laminate theory."""
    layers: list[tuple[float, float | None]] = []
    for ply in plies:
        if ply.weave == "gel coat":
            continue
        if ply.weave == "unidirectional":
            layers += [(2.0, ply.angle_deg)]
        elif ply.weave == "biaxial":
            pair = [(1.0, ply.angle_deg), (1.0, ply.angle_deg + 90)]
            layers += pair if ply.face == "up" else pair[::-1]
        elif ply.weave == "mat":
            layers += [(2.0, None)]
        else:
            return  # A weave has both directions in one layer; its face has no place in the sums.
    half = sum(thickness for thickness, _ in layers) / 2
    position, cosine, sine = -half, 0.0, 0.0
    for thickness, angle in layers:
        middle = position + thickness / 2
        position += thickness
        if angle is not None:
            cosine += middle * thickness * math.cos(2 * math.radians(angle))
            sine += middle * thickness * math.sin(2 * math.radians(angle))
    if is_symmetric(plies=plies):
        assert (cosine, sine) == (pytest.approx(0, abs=1e-9), pytest.approx(0, abs=1e-9))


class TestRefusals:
    @pytest.mark.parametrize("plies", [[], [GEL_COAT]])
    def test_no_ply_is_refused(self, plies):
        with pytest.raises(OutOfRange, match="plies"):
            is_symmetric(plies=plies)

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("areal_weight_g_m2", 0),
            ("areal_weight_g_m2", math.nan),
            ("angle_deg", 361),
            ("angle_deg", "45"),
            ("face", "left"),
            ("weave", "braid"),
        ],
    )
    def test_a_ply_that_is_none_is_refused_by_name(self, field, value):
        good = {"material_name": "glass", "areal_weight_g_m2": 200, "angle_deg": 0, "face": None, "weave": "woven"}
        with pytest.raises(OutOfRange, match=field):
            Ply(**{**good, field: value})

    def test_a_stitched_cloth_without_a_face_is_refused(self):
        with pytest.raises(OutOfRange, match="face"):
            Ply("glass", 600, 45, None, "biaxial")
