"""Facts -> HTML: the exact words, and nothing that a text could smuggle in."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from labels import DoesNotFit
from labels.render import SIZES, label_html, sheet_pdf

PARTS = "P00087\u202fK, P00088\u202fH"
TAG = re.compile(r"<[^>]+>")


def lines_of(html: str) -> list[str]:
    """The printed lines, in the order of reading."""
    return [TAG.sub("", line) for line in re.findall(r'<div class="t[^>]*>(.*?)</div>', html)]


def test_a_can_says_this_and_nothing_else(make: Callable[..., Any]):
    html = label_html(make("container", h_codes=("H314", "H317"), issue=2), "100x50")
    lines = lines_of(html)
    assert lines[:8] == [
        "C00318 3",
        "label 2 of this can",
        "Alder 32 slow hardener",
        "lot 26-0914 · can 2 of 4 · 5 kg",
        "use by, unopened",
        "30 Sep 2027",
        "opened",
        "then 180 days",
    ]
    assert lines[8:10] == [
        "keep at 15 to 25 °C · Alder 10 resin 100 : 30 by weight",
        "shop label; see also the safety data sheet",
    ]
    assert " ".join(lines[10:]) == (
        "DANGER H314 Causes severe skin burns and eye damage. H317 May cause an allergic skin reaction."
    )
    assert re.findall(r'aria-label="([^"]+)"', html) == [
        "HTTPS://POTMARK.HERON-YARD.EXAMPLE/I/C003183/2",
        "GHS05: corrosion",
        "GHS07: exclamation mark",
    ]


def test_a_pot_says_when_and_what_for(make: Callable[..., Any]):
    lines = lines_of(label_html(make("pot", h_codes=("H317",)), "62"))
    for said in ("Alder 10 resin", "use before", "14:52", "mixed, 3 Mar 2026", "14:05", "WARNING"):
        assert said in lines
    assert "keep this label on the cup for the check next morning" in " ".join(lines)


def test_a_pot_says_who_mixed_it_for_which_part_and_the_ratio_of_a_gel_coat(make: Callable[..., Any]):
    facts = make("pot", purpose="gel coat", parts=PARTS, maker="Ines", ratio="2 % of the resin")
    said = " ".join(lines_of(label_html(facts, "100x50")))
    for word in (f"for gel coat, {PARTS}", "by Ines", "2 % of the resin"):
        assert word in said


def test_a_small_pot_label_has_maker_part_time_and_pictograms(make: Callable[..., Any]):
    told = {"parts": PARTS, "maker": "Ines", "ratio": "100 : 30 by weight"}
    facts = make("pot", hardener="Alder 32 slow hardener", h_codes=("H302", "H314", "H317", "H411"), **told)
    html = label_html(facts, "50x25")
    said = " ".join(lines_of(html))
    for word in ("P00087\u202fK + 1", "Ines", "100 : 30 by weight", "14:52", "DANGER"):
        assert word in said
    assert re.findall(r'aria-label="(GHS0\d)', html) == ["GHS05", "GHS07", "GHS09"]


def test_a_can_never_leaves_a_statement_to_other_cans(make: Callable[..., Any]):
    for size in SIZES:
        try:
            html = label_html(make("container", h_codes=("H314", "H317")), size)
        except DoesNotFit:
            continue
        assert "Causes severe skin burns" in html


def test_a_decant_says_what_it_was_filled_from_and_a_kit_which_of_how_many_it_is(make: Callable[..., Any]):
    filled = make("container", sequence="", source="C00012\u202f8")
    assert "from C00012\u202f8" in " ".join(lines_of(label_html(filled, "100x50")))
    assert "kit 3 of 4" in " ".join(lines_of(label_html(make("kit", sequence="kit 3 of 4"), "100x50")))


def test_a_hold_tag_says_hold_across_and_why(make: Callable[..., Any]):
    html = label_html(make("hold"), "100x50")
    lines = lines_of(html)
    assert "HOLD" in lines
    assert "A letter from the maker: wait for word. · and 1 more" in lines
    size = float(re.search(r"font-size:([\d.]+)pt[^>]*>HOLD", html).group(1))
    assert size >= 24, "it is read from across the shop"


def test_a_label_of_what_is_held_says_so_across(make: Callable[..., Any], kind: str):
    for size in SIZES if kind != "hold" else ():
        plain, held = (label_html(make(kind, held=word), size) for word in ("", "FAILED"))
        assert "FAILED" not in " ".join(lines_of(plain))
        assert "FAILED" in " ".join(lines_of(held))
    waits = " ".join(lines_of(label_html(make("lot", quarantine=True, held="HOLD"), "62")))
    assert "HOLD · QUARANTINE" in waits


def test_the_first_label_of_an_item_does_not_count_itself(make: Callable[..., Any], kind: str):
    for size in SIZES:
        assert "label 1" not in label_html(make(kind), size)
        assert f"label 12 of this {make(kind).NOUN if kind != 'container' else 'can'}" in " ".join(
            lines_of(label_html(make(kind, issue=12), size))
        )


def test_void_is_never_printed(make: Callable[..., Any], kind: str):
    assert "void" not in " ".join(lines_of(label_html(make(kind, issue=3), "100x50"))).lower()


def test_zeros_are_slashed_in_codes_and_lots(make: Callable[..., Any]):
    html = label_html(make("container"), "100x50")
    assert "font-feature-settings:'zero'" in html
    assert re.search(r'class="t zero"[^>]*>C00318 3<', html)
    assert re.search(r'class="t zero"[^>]*>lot 26-0914', html)


def test_texts_cannot_become_markup(make: Callable[..., Any]):
    name = '<img src="https://evil.example/x.png"> & "co"'
    html = label_html(make("mould", name=name), "100x50")
    assert "<img" not in html
    assert "&lt;img" in html
    assert "&amp;" in html
    assert "&quot;co&quot;" in html


def test_frames_are_drawn_in_black_and_left_out_on_stock_that_has_them(make: Callable[..., Any]):
    facts = make("container", h_codes=("H314", "H317"))
    frame = 'd="M0-47L47 0 0 47-47 0Z"'
    assert label_html(facts, "100x50").count(frame) == 2
    assert label_html(facts, "100x50", frame="red").count(frame) == 0


def test_labels_are_pure_black_and_white(make: Callable[..., Any], kind: str):
    html = label_html(make(kind, **({"h_codes": ("H314", "H317")} if kind == "container" else {})), "100x50")
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b", html)) <= {"#000", "#fff"}


@pytest.mark.parametrize(("size", "frame"), [("100x51", "black"), ("", "black"), ("62", "green")])
def test_an_unknown_size_or_frame_is_refused_with_the_choice(make: Callable[..., Any], size: str, frame: str):
    with pytest.raises(DoesNotFit, match="must be one of"):
        label_html(make("mould"), size, frame=frame)


def test_no_label_at_all_is_refused():
    with pytest.raises(DoesNotFit, match="no label"):
        sheet_pdf([], "62", at=datetime(2026, 3, 3, tzinfo=UTC))
