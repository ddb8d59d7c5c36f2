"""Hazards: signal word, all pictograms, official statements (shop rule 40)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels import UnknownHazard
from labels.hazards import ORGANIC_PEROXIDE, STATEMENTS, canonical, hazard_block, statement
from labels.pictograms import PICTOGRAMS

WRITTEN = [code if code != "EUH208" else "EUH208 (maleic anhydride)" for code in STATEMENTS]
code_lists = st.lists(st.sampled_from(WRITTEN), max_size=10)


# Statements, pictograms and signal words of UN GHS, Annex 3, and CLP, Annex III, read in public transcriptions.
@pytest.mark.parametrize(
    ("code", "signal_word", "pictograms", "text"),
    [
        ("H225", "DANGER", ("GHS02",), "Highly flammable liquid and vapour."),
        ("H226", "WARNING", ("GHS02",), "Flammable liquid and vapour."),
        ("H240", "DANGER", ("GHS01",), "Heating may cause an explosion."),
        ("H241", "DANGER", ("GHS01", "GHS02"), "Heating may cause a fire or explosion."),
        ("H242", "DANGER", ("GHS02",), "Heating may cause a fire."),
        ("H272", "DANGER", ("GHS03",), "May intensify fire; oxidiser."),
        ("H280", "WARNING", ("GHS04",), "Contains gas under pressure; may explode if heated."),
        ("H290", "WARNING", ("GHS05",), "May be corrosive to metals."),
        ("H301", "DANGER", ("GHS06",), "Toxic if swallowed."),
        ("H302", "WARNING", ("GHS07",), "Harmful if swallowed."),
        ("H304", "DANGER", ("GHS08",), "May be fatal if swallowed and enters airways."),
        ("H314", "DANGER", ("GHS05",), "Causes severe skin burns and eye damage."),
        ("H315", "WARNING", ("GHS07",), "Causes skin irritation."),
        ("H317", "WARNING", ("GHS07",), "May cause an allergic skin reaction."),
        ("H318", "DANGER", ("GHS05",), "Causes serious eye damage."),
        ("H319", "WARNING", ("GHS07",), "Causes serious eye irritation."),
        ("H320", "WARNING", (), "Causes eye irritation."),
        ("H334", "DANGER", ("GHS08",), "May cause allergy or asthma symptoms or breathing difficulties if inhaled."),
        ("H361d", "WARNING", ("GHS08",), "Suspected of damaging the unborn child."),
        ("H362", None, (), "May cause harm to breast-fed children."),
        ("H372", "DANGER", ("GHS08",), "Causes damage to organs through prolonged or repeated exposure."),
        ("H302+H312", "WARNING", ("GHS07",), "Harmful if swallowed or in contact with skin."),
        ("H300+H310+H330", "DANGER", ("GHS06",), "Fatal if swallowed, in contact with skin or if inhaled."),
        ("H400", "WARNING", ("GHS09",), "Very toxic to aquatic life."),
        ("H411", None, ("GHS09",), "Toxic to aquatic life with long lasting effects."),
        ("H412", None, (), "Harmful to aquatic life with long lasting effects."),
        ("EUH066", None, (), "Repeated exposure may cause skin dryness or cracking."),
        ("EUH205", None, (), "Contains epoxy constituents. May produce an allergic reaction."),
        ("EUH430", "DANGER", (), "May cause endocrine disruption in the environment."),
    ],
)
def test_one_code_alone(code: str, signal_word: str | None, pictograms: tuple[str, ...], text: str):
    hazard = hazard_block([code])
    assert (hazard.signal_word, hazard.pictograms, hazard.statements) == (signal_word, pictograms, ((code, text),))


# Precedence: CLP Article 26 and UN GHS 1.4.10.5.3.1, read in transcription.
@pytest.mark.parametrize(
    ("codes", "pictograms"),
    [
        (["H314", "H317"], ("GHS05", "GHS07")),  # a corrosive sensitiser has two (shop rule 40)
        (["H314", "H315", "H319"], ("GHS05",)),
        (["H318", "H319"], ("GHS05",)),
        (["H314", "H302"], ("GHS05", "GHS07")),
        (["H318", "H335"], ("GHS05", "GHS07")),
        (["H290", "H319"], ("GHS05", "GHS07")),  # corrosive to metals says nothing of eyes
        (["H301", "H302"], ("GHS06",)),
        (["H301", "H317", "H315"], ("GHS06",)),
        (["H301", "H420"], ("GHS06", "GHS07")),  # ozone is no health hazard
        (["H334", "H317", "H319", "H315"], ("GHS08",)),
        (["H334", "H302"], ("GHS07", "GHS08")),
        (["H351", "H317"], ("GHS07", "GHS08")),  # only respiratory sensitisation takes precedence
        (["H315", "H317", "H319", "H411"], ("GHS07", "GHS09")),
        (["H226", "H304", "H332", "H361d", "H372", "H412"], ("GHS02", "GHS07", "GHS08")),
    ],
)
def test_pictograms_follow_the_rules_of_precedence(codes: list[str], pictograms: tuple[str, ...]):
    assert hazard_block(codes).pictograms == pictograms


def test_danger_goes_before_warning():
    assert hazard_block(["H315", "H314"]).signal_word == "DANGER"
    assert hazard_block(["H411", "H315"]).signal_word == "WARNING"
    assert hazard_block(["H411", "H412"]).signal_word is None
    assert hazard_block([]).signal_word is None
    assert hazard_block([]).statements == ()


@given(code_lists)
def test_every_code_keeps_its_statement_once(codes: list[str]):
    hazard = hazard_block(codes)
    assert {code for code, _ in hazard.statements} == {canonical(code) for code in codes}
    assert len(hazard.statements) == len(set(codes))
    assert all("{" not in text and text.endswith(".") for _, text in hazard.statements)


@given(code_lists, st.sampled_from(WRITTEN))
def test_one_more_code_never_makes_a_label_milder(codes: list[str], more: str):
    """Only the exclamation mark may go, and only for a graver symbol."""
    rank = {None: 0, "WARNING": 1, "DANGER": 2}
    before, after = hazard_block(codes), hazard_block([*codes, more])
    assert rank[after.signal_word] >= rank[before.signal_word]
    lost = set(before.pictograms) - set(after.pictograms)
    assert lost <= {"GHS07"}
    if lost:
        assert {"GHS05", "GHS06", "GHS08"} & set(after.pictograms)


@given(code_lists, st.randoms())
def test_the_order_in_which_codes_are_given_does_not_matter(codes: list[str], random):
    shuffled = list(codes)
    random.shuffle(shuffled)
    assert hazard_block(shuffled) == hazard_block(codes)


def test_the_table_names_only_pictograms_that_are_drawn_and_every_drawing_is_used():
    used = {pictogram for code in WRITTEN for pictogram in hazard_block([code]).pictograms}
    assert used == set(PICTOGRAMS)


def test_peroxides_are_in_the_table():
    assert {"H240", "H241", "H242"} == ORGANIC_PEROXIDE
    assert set(STATEMENTS) >= ORGANIC_PEROXIDE


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("h317", "H317"),
        (" H302 + h312 ", "H302+H312"),
        ("euh066", "EUH066"),
        ("H360Fd", "H360Fd"),
        ("h361fd", "H361fd"),
    ],
)
def test_codes_are_read_in_any_case_and_spacing(written: str, code: str):
    assert canonical(written) == code


def test_organs_and_sensitiser_are_named_where_the_statement_has_a_place_for_them():
    assert statement("H372 (hearing organs)")[1] == (
        "Causes damage to organs (hearing organs) through prolonged or repeated exposure."
    )
    assert statement("EUH208 (maleic anhydride)") == (
        "EUH208",
        "Contains maleic anhydride. May produce an allergic reaction.",
    )


@pytest.mark.parametrize(
    "written",
    ["", "H999", "317", "H31", "P280", "H314+H317", "H360fd", "EUH208", "H317 (skin)", "H372 (", "H317, H314"],
)
def test_what_the_table_does_not_know_is_refused_with_a_sentence(written: str):
    with pytest.raises(UnknownHazard) as caught:
        hazard_block(["H315", written])
    assert caught.value.sentence.endswith(".")
