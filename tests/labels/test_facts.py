"""Facts are checked when they are built, and say which of them is wrong."""

from collections.abc import Callable
from dataclasses import FrozenInstanceError
from datetime import UTC, date, datetime
from typing import Any

import pytest

from labels import BadFact, DoesNotFit, Misread, UnknownHazard
from labels import facts as f
from labels.wording import words


def test_facts_cannot_be_changed(make: Callable[..., Any], kind: str):
    with pytest.raises(FrozenInstanceError):
        make(kind).issue = 2


def test_the_code_must_be_of_the_kind_of_the_label(make: Callable[..., Any]):
    with pytest.raises(BadFact, match=r"^code must be that of a container \(letter C\), not K003"):
        make("container", code=make("kit").code)
    with pytest.raises(Misread):
        make("container", code="C003184")


def test_a_code_typed_loosely_is_kept_as_it_is_printed(make: Callable[..., Any]):
    assert make("container", code="c-oo318 3").code == "C003183"


def test_an_address_too_long_for_the_symbol_is_found_when_the_facts_are_built(make: Callable[..., Any]):
    with pytest.raises(DoesNotFit, match="and 87 fit"):
        make("part", origin="https://potmark." + "x" * 80 + ".example")


@pytest.mark.parametrize(
    ("kind", "changes", "sentence"),
    [
        ("container", {"name": " "}, r"^name must not be empty"),
        ("container", {"name": "x" * 121}, r"^name has 121 characters; a label takes at most 120"),
        ("container", {"name": "two\nlines"}, r"^name has a character that cannot be printed"),
        ("container", {"lot": "a\x00b"}, r"^lot has a character that cannot be printed"),
        ("container", {"name": "right\u202eto left"}, r"^name has a character that cannot be printed"),
        ("container", {"net": 5}, r"^net must be text, not int"),
        ("container", {"expires_on": "2027-09-30"}, r"^expires_on must be a date, not str"),
        ("container", {"expires_on": datetime(2027, 9, 30, tzinfo=UTC)}, r"^expires_on must be a date"),
        ("container", {"opened_life_days": 0}, r"^opened_life_days must be from 1 to 36500, not 0"),
        ("container", {"h_codes": "H314"}, r"^h_codes must be a list of codes"),
        ("container", {"issue": 0}, r"^issue must be from 1 to 999999, not 0"),
        ("pot", {"mixed_at": None}, r"^mixed_at must be given"),
        ("pot", {"mixed_at": date(2026, 3, 3)}, r"^mixed_at must be a date with a time"),
        ("pot", {"use_before": datetime(2026, 3, 3, 14, 0, tzinfo=UTC)}, r"^use_before must not be earlier"),
        ("pot", {"use_before": datetime(2026, 3, 3, 15, 0)}, r"must both have a time zone"),  # noqa: DTZ001
    ],
)
def test_a_fact_that_no_label_can_carry_is_named(
    make: Callable[..., Any], kind: str, changes: dict[str, Any], sentence: str
):
    with pytest.raises(BadFact, match=sentence):
        make(kind, **changes)


def test_an_unknown_hazard_code_stops_the_label_when_it_is_built(make: Callable[..., Any], chemical: str):
    with pytest.raises(UnknownHazard):
        make(chemical, h_codes=["H314", "H999"])


def test_hazard_codes_may_come_from_any_iterable(make: Callable[..., Any]):
    assert make("container", h_codes=(code for code in ("H314", "H317"))).h_codes == ("H314", "H317")


@pytest.mark.parametrize(
    ("expires_on", "opened_on", "life", "use_by"),
    [
        (date(2027, 9, 30), None, 180, date(2027, 9, 30)),
        (date(2027, 9, 30), date(2026, 3, 1), 180, date(2026, 8, 28)),
        (date(2026, 4, 30), date(2026, 3, 1), 180, date(2026, 4, 30)),
        (date(2027, 9, 30), date(2026, 3, 1), None, date(2027, 9, 30)),
        (None, date(2026, 3, 1), 30, date(2026, 3, 31)),
        (None, None, None, None),
    ],
)
def test_the_day_that_counts_is_the_earlier_of_lot_and_opened_life(
    make: Callable[..., Any],
    expires_on: date | None,
    opened_on: date | None,
    life: int | None,
    use_by: date | None,
):
    """Shop rule 9; 1 March 2026 and 180 days is 28 August 2026, counted by the calendar."""
    can = make("container", expires_on=expires_on, opened_on=opened_on, opened_life_days=life)
    assert can.use_by == use_by


def test_a_sealed_can_has_room_to_write_the_day_it_is_opened(make: Callable[..., Any]):
    box = words(make("container")).box
    assert box is not None
    assert (box.caption, box.value) == ("use by, unopened", "30 Sep 2027")
    assert (box.side_caption, box.side_value, box.side_note, box.write_in) == ("opened", "", "then 180 days", True)


def test_an_opened_can_shows_the_shorter_date_and_the_day_it_was_opened(make: Callable[..., Any]):
    box = words(make("container", opened_on=date(2026, 3, 1))).box
    assert box is not None
    assert (box.caption, box.value) == ("use by", "28 Aug 2026")
    assert (box.side_caption, box.side_value, box.write_in) == ("opened", "1 Mar 2026", False)


def test_no_expiry_is_said_in_words(make: Callable[..., Any]):
    box = words(make("container", expires_on=None)).box
    assert box is not None
    assert box.value == "no expiry"


def test_quarantine_is_an_alert(make: Callable[..., Any]):
    assert words(make("lot")).alert == "QUARANTINE: not released"
    assert words(make("container")).alert == ""


@pytest.mark.parametrize(
    ("use_before", "printed"),
    [
        (datetime(2026, 3, 3, 14, 52, tzinfo=UTC), "14:52"),
        (datetime(2026, 3, 4, 0, 20, tzinfo=UTC), "00:20, 4 Mar"),
        (None, "not stated"),
    ],
)
def test_a_pot_says_when_it_must_be_used_and_goes_with_the_cup(
    make: Callable[..., Any], use_before: datetime | None, printed: str
):
    said = words(make("pot", use_before=use_before))
    assert said.box is not None
    assert (said.box.caption, said.box.value) == ("use before", printed)
    assert "keep this label on the cup for the check next morning" in said.notes


def test_a_pot_without_a_figure_says_why_it_has_none(make: Callable[..., Any]):
    note = "Shorter than 65.3 min: 260 g is heavier than the table (100 g)."
    said = words(make("pot", use_before=None, life_note=note))
    assert said.box is not None
    assert (said.box.value, said.notes[0]) == ("no figure", note)
    assert note not in words(make("pot", life_note=note)).notes, "a figure needs no reason"


def test_a_part_in_work_says_that_its_final_label_is_still_to_come(make: Callable[..., Any]):
    assert words(make("part")).notes == ("in work; the final label follows post-cure and trim",)
    assert words(make("part", final=True)).notes == ()


@pytest.mark.parametrize(
    ("storage", "note"),
    [("15 to 25 °C", "keep at 15 to 25 °C"), ("−18 °C", "keep at −18 °C"), ("dry, upright", "keep dry, upright")],
)
def test_storage_reads_as_a_sentence(make: Callable[..., Any], storage: str, note: str):
    assert words(make("container", storage=storage, ratio="")).notes == (note,)


def test_every_kind_of_code_has_a_label():
    from labels.codes import KINDS

    # A hold tag is of any kind.
    assert {made.KIND for made in f.Facts.__subclasses__() if made is not f.HoldTag} == set(KINDS)
