"""Codes: what is given out, what is read back, and what is caught."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from labels import codes
from labels.codes import Code, Misread

SAMPLE_NUMBERS = (1, 9, 10, 318, 4321, 10000, 12345, 65536, 99998, 99999, 100000, 123456, 9007199254, 99999999990)
SAMPLE = [codes.make(kind, codes.next_usable(kind, number - 1)) for kind in codes.KINDS for number in SAMPLE_NUMBERS]
TYPED = string.ascii_uppercase + string.digits


def folded(text: str) -> str:
    """What a typed code means: O and I stand for 0 and 1 after the kind letter."""
    return text[:1] + text[1:].replace("O", "0").replace("I", "1")


def test_check_character_is_iso_7064_mod_37_2():
    """The vector in python-stdnum's documentation of ISO/IEC 7064 MOD 37-2: G123489654321 has the check Y."""
    assert mod_37_2.calc_check_digit("G123489654321") == "Y"
    assert codes.make("C", 318) == "C003183"
    # By hand: C is 12, then double and add: 24 + 0, 48 + 0, 96 + 3, 198 + 1, 398 + 8; 2 × 406 + check is 1 (mod 37).
    assert (2 * 406 + 3) % 37 == 1


def test_every_code_reads_back():
    for code in SAMPLE:
        read = codes.parse(code)
        assert (read.text, codes.make(read.kind, read.number)) == (code, code)


def test_numbers_whose_check_would_be_star_o_or_i_are_skipped():
    seen_skips = set()
    for number in range(1, 400):
        check = mod_37_2.calc_check_digit(f"P{number:05d}")
        assert codes.usable("P", number) == (check not in "*OI")
        if check in "*OI":
            seen_skips.add(check)
            assert codes.next_usable("P", number - 1) > number
            with pytest.raises(ValueError, match="skipped"):
                codes.make("P", number)
    assert seen_skips == set("*OI")


def test_every_single_wrong_character_is_caught():
    """Typed O and I mean 0 and 1 and are no mistake; every other change of one character is refused."""
    for code in SAMPLE:
        for position, right in enumerate(code):
            for wrong in TYPED:
                typed = code[:position] + wrong + code[position + 1 :]
                if wrong == right or folded(typed) == code:
                    continue
                with pytest.raises(Misread):
                    codes.parse(typed)


def test_every_swap_of_neighbours_is_caught():
    swaps = 0
    for code in SAMPLE:
        for position in range(len(code) - 1):
            typed = code[:position] + code[position + 1] + code[position] + code[position + 2 :]
            if typed != code:
                swaps += 1
                with pytest.raises(Misread):
                    codes.parse(typed)
    assert swaps > 500


@given(kind=st.sampled_from(codes.KINDS), number=st.integers(1, codes.MAX_NUMBER - 10), data=st.data())
def test_one_mistake_in_any_code_is_caught(kind: str, number: int, data: st.DataObject):
    code = codes.make(kind, codes.next_usable(kind, number))
    position = data.draw(st.integers(0, len(code) - 1))
    typed = code[:position] + data.draw(st.sampled_from(TYPED)) + code[position + 1 :]
    if folded(typed) == code:
        assert codes.parse(typed).text == code
    else:
        with pytest.raises(Misread):
            codes.parse(typed)


@pytest.mark.parametrize(
    "typed", ["C003183", "c003183", " C00318 3 ", "C-00318-3", "CO03183", "coo3i83", "C00318\u20093", "C00318\u00a03"]
)
def test_typed_variants_mean_the_same_can(typed: str):
    assert codes.parse(typed) == Code(kind="C", number=318, text="C003183")


@pytest.mark.parametrize(
    ("address", "issue"),
    [
        ("HTTPS://POTMARK.HERON-YARD.EXAMPLE/I/C003183/2", 2),
        ("https://potmark.heron-yard.example/i/C003183", None),
        ("http://potmark.heron-yard.example/I/coo3183/12/", 12),
    ],
)
def test_a_scanned_address_gives_code_issue_and_host(address: str, issue: int | None):
    read = codes.parse(address)
    assert (read.text, read.issue, read.host) == ("C003183", issue, "POTMARK.HERON-YARD.EXAMPLE")


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "C",
        "C3183",  # too few digits
        "C0003183",  # a leading zero too many
        "X003183",  # no such kind
        "0C03183",
        "C00318*",
        "C00000" + mod_37_2.calc_check_digit("C00000"),
        "C٠٠٣١٨3",  # digits of another script
        "C003183C003183",
        "HTTPS://HOST/J/C003183/2",
        "HTTPS://HOST/I/C003184/2",
        "HTTPS://HOST/I/C003183/0",
        "HTTPS://HOST/I/C003183/2/3",
        "FTP://HOST/I/C003183/2",
    ],
)
def test_what_is_no_code_is_misread_with_a_sentence(typed: str):
    with pytest.raises(Misread) as caught:
        codes.parse(typed)
    assert caught.value.sentence.endswith(".")
    assert caught.value.sentence.startswith("“")


@given(st.text(max_size=60))
def test_any_text_is_read_or_misread_and_nothing_else(text: str):
    try:
        read = codes.parse(text)
    except Misread:
        return
    assert codes.make(read.kind, read.number) == read.text


@pytest.mark.parametrize(("kind", "number"), [("X", 1), ("", 1), ("CC", 1), ("C", 0), ("C", -1), ("C", 10**12)])
def test_make_names_the_argument_that_is_wrong(kind: str, number: int):
    with pytest.raises(ValueError, match=r"^(kind|number) must be"):
        codes.make(kind, number)


def test_codes_are_grouped_with_the_check_character_apart():
    assert codes.grouped("C003183") == "C00318 3"
    assert codes.parse(codes.grouped("C003183")).text == "C003183"
