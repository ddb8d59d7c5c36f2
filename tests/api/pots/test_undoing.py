"""A slip at the scales is put right by its own maker within a minute, later by the lead; the pot is finished after."""

from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _undo(bench: makers.Mixing, mix: str, reading_g: float | None = None, *, expect: int = 201, **more: Any) -> Any:
    body = {"declaration": "did not occur"}
    if reading_g is not None:
        body = {"declaration": "incorrect data", "reading_g": reading_g}
    who = more.pop("who", "laminator")
    return bench.api.post(f"/v1/mixes/{mix}/pours/undo", {**body, **more}, expect=expect, who=who)


def _pour_entry(bench: makers.Mixing, mix: str) -> Any:
    """The last pour of the pot in the journal, or what undid it."""
    told = bench.api.get(f"/v1/journal?item={mix}", who="quality")
    return next(e for e in reversed(told) if e["operation"] in ("pour", "undo_pour") and e["movements"])


def _corrected_by_the_lead(bench: makers.Mixing, mix: str, **said: Any) -> None:
    path = f"/v1/journal/{_pour_entry(bench, mix)['seq']}/corrections"
    bench.api.post(path, {"why": "read wrongly", **said}, who="lead")


def _finished(bench: makers.Mixing, mix: str) -> None:
    bench.stir(mix)
    part = makers.started_part(bench.api)
    assert bench.apply(mix, (part, 100))["holds"] == []
    assert bench.api.post(f"/v1/mixes/{mix}/closing", {"left_g": 30})["state"] == "closed"
    with connected():
        assert check_account().differences == 0


def _hardener_mistyped(bench: makers.Mixing, reading_g: float = 38) -> str:
    mix = bench.start(130)["code"]
    bench.api.shop.clock.forward(minutes=2)
    bench.pour(mix, bench.resin_can, 100)
    bench.api.shop.clock.forward(minutes=2)
    assert bench.pour(mix, bench.slow_can, reading_g)["state"] == "running"
    return str(mix)


def test_the_right_reading_takes_the_place_of_the_wrong_one_and_both_are_told(bench: makers.Mixing) -> None:
    mix = _hardener_mistyped(bench)
    contact = bench.api.get(f"/v1/mixes/{mix}")["clock"]["contact_at"]
    bench.api.shop.clock.forward(seconds=50)
    right = _undo(bench, mix, 30)
    assert (right["hardener_g"], right["judgement"]["verdict"], right["state"]) == (30, "within", "running")
    assert right["clock"]["contact_at"] == contact, "it was poured when it was poured"
    assert [(p["net_g"], p["taken_back"]) for p in right["pours"][1:]] == [(38, True), (30, False)]
    assert bench.api.get(f"/v1/containers/{bench.slow_can}")["left_g"] == 1970
    told = [e["operation"] for e in bench.api.get(f"/v1/journal?item={mix}", who="quality")]
    assert told[-2:] == ["pour", "undo_pour"]
    _finished(bench, mix)


def test_a_pour_that_did_not_occur_leaves_the_pot_as_before_it(bench: makers.Mixing) -> None:
    mix = _hardener_mistyped(bench)
    gone = _undo(bench, mix)
    assert (gone["state"], gone["hardener_g"], gone["clock"]["contact_at"]) == ("weighing", 0, None)
    assert (gone["next"]["component"], gone["next"]["target_g"]) == ("hardener", 30)
    assert bench.api.get(f"/v1/containers/{bench.slow_can}")["reserved_g"] == 30
    assert bench.pour(mix, bench.slow_can, 30)["state"] == "running"
    _finished(bench, mix)


def test_after_the_lead_s_correction_it_is_poured_plainly_too(bench: makers.Mixing) -> None:
    mix = _hardener_mistyped(bench)
    bench.api.shop.clock.forward(minutes=5)
    _corrected_by_the_lead(bench, mix, declaration="did not occur")
    seen = bench.api.get(f"/v1/mixes/{mix}")
    assert (seen["state"], seen["next"]["target_g"], seen["clock"]["contact_at"]) == ("weighing", 30, None)
    bench.pour(mix, bench.slow_can, 30)
    _finished(bench, mix)


def test_an_undone_pot_may_be_given_up(bench: makers.Mixing) -> None:
    own, lead = _hardener_mistyped(bench), _hardener_mistyped(bench)
    _corrected_by_the_lead(bench, lead, declaration="did not occur")
    _undo(bench, own, expect=409)  # a pot older than a minute
    fresh = _hardener_mistyped(bench)
    _undo(bench, fresh)
    for mix in (fresh, lead):
        assert bench.api.post(f"/v1/mixes/{mix}/abandonment")["state"] == "abandoned"


def test_after_a_minute_or_for_another_it_is_the_lead_s(bench: makers.Mixing) -> None:
    mix = _hardener_mistyped(bench)
    pour = _pour_entry(bench, mix)
    entry = pour["seq"]
    other = _undo(bench, mix, 30, expect=409, who="second laminator")
    assert other["way_out"] == f"The lead corrects entry {entry} of the journal."
    bench.api.shop.clock.forward(seconds=61)
    late = _undo(bench, mix, 30, expect=409)
    assert (late["entry"], "more than a minute ago" in late["detail"]) == (entry, True)
    assert bench.api.get(f"/v1/mixes/{mix}")["hardener_g"] == 38
    amount = {"movement": pour["movements"][0]["id"], "mass_g": 30}
    _corrected_by_the_lead(bench, mix, declaration="incorrect data", amounts=[amount])
    assert bench.api.get(f"/v1/mixes/{mix}")["judgement"]["verdict"] == "within"
    _finished(bench, mix)


def test_what_was_mistyped_past_the_book_is_not_found_any_more(bench: makers.Mixing) -> None:
    small = makers.cans(bench.api, bench.resin, bench.place, "R-9", net_g=400)[0]
    mix = bench.start(390, containers=[{"container": small}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, small, 3000, confirmed=True)
    right = _undo(bench, mix, 300)
    assert right["resin_g"] == 300
    assert bench.api.get(f"/v1/containers/{small}")["left_g"] == 100
    with connected():
        assert check_account().differences == 0


def test_the_right_reading_is_read_back_like_any_other(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 10, source="typed", read_back_g=10)
    assert _undo(bench, mix, 1, expect=409)["type"] == "/problems/read-back"
    assert _undo(bench, mix, 100)["resin_g"] == 100


def test_a_second_slip_is_undone_as_well_and_the_lead_may_correct_the_last(bench: makers.Mixing) -> None:
    mix = _hardener_mistyped(bench)
    _undo(bench, mix, 31)
    assert _undo(bench, mix, 30.5)["hardener_g"] == 30.5
    bench.api.shop.clock.forward(minutes=2)
    _corrected_by_the_lead(bench, mix, declaration="did not occur")
    assert bench.api.get(f"/v1/mixes/{mix}")["hardener_g"] == 31
    with connected():
        assert check_account().differences == 0


def test_only_the_last_pour_is_undone_and_not_what_was_used_up(bench: makers.Mixing) -> None:
    mix = bench.mixed(130)["code"]
    bench.apply(mix, (makers.started_part(bench.api), 120))
    fresh = bench.pour(mix, bench.slow_can, 1, correction=True)
    assert fresh["left_g"] == 11
    bench.apply(mix, (makers.started_part(bench.api), 11))
    assert _undo(bench, mix, expect=409)["type"] == "/problems/cannot-undo"
    empty = bench.start(130)["code"]
    assert _undo(bench, empty, expect=409)["type"] == "/problems/wrong-state"
    assert _undo(bench, empty, 5, declaration="did not occur", expect=422)["errors"][0]["pointer"] == "/reading_g"


def test_the_same_pour_within_seconds_is_asked_about(bench: makers.Mixing) -> None:
    mix = bench.start(650)["code"]
    path = f"/v1/mixes/{mix}/pours"
    body = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 250, "source": "typed", "read_back_g": 250}
    bench.api.post(path, body, Idempotency_Key="tap-1")
    twice = bench.api.refused(path, body, "said-twice", Idempotency_Key="tap-2")
    assert twice["answer_with"] == {"again": True}
    assert bench.api.get(f"/v1/mixes/{mix}")["resin_g"] == 250
    assert bench.api.post(path, {**body, "again": True})["resin_g"] == 500
    other = bench.start(650)["code"]
    path = f"/v1/mixes/{other}/pours"
    bench.api.post(path, body)
    assert bench.api.post(path, body, who="second laminator")["resin_g"] == 500
    bench.api.shop.clock.forward(seconds=11)
    assert bench.api.post(path, body, who="second laminator")["resin_g"] == 750


def test_the_same_application_within_seconds_is_asked_about(bench: makers.Mixing) -> None:
    mix, part = bench.mixed(130)["code"], makers.started_part(bench.api)
    path, body = f"/v1/mixes/{mix}/applications", {"parts": [{"part": part, "mass_g": 40}]}
    bench.api.post(path, body, Idempotency_Key="tap-1")
    bench.api.refused(path, body, "said-twice", Idempotency_Key="tap-2")
    bench.api.post(path, {"parts": [{"part": part, "mass_g": 41}]})
    assert bench.api.post(path, {"parts": [{"part": part, "mass_g": 41}], "again": True})["left_g"] == 8
    bench.api.shop.clock.forward(seconds=11)
    assert bench.api.post(path, {"parts": [{"part": part, "mass_g": 4}]})["left_g"] == 4


def test_more_applied_than_is_in_the_pot_is_read_back_and_each_excess_has_its_sentence(bench: makers.Mixing) -> None:
    mix, part = bench.mixed(130)["code"], makers.started_part(bench.api)
    path = f"/v1/mixes/{mix}/applications"
    slip = {"parts": [{"part": part, "mass_g": 1300}]}
    asked = bench.api.refused(path, slip, "read-back")
    assert (asked["applied_g"], asked["left_g"]) == (1300, 130)
    bench.api.refused(path, {**slip, "read_back_g": 130}, "read-back")
    assert bench.api.get(f"/v1/mixes/{mix}")["applications"] == []
    bench.apply(mix, (part, 140), read_back_g=140)
    twice = bench.apply(mix, (part, 20), read_back_g=20)
    assert [f["sentence"] for f in twice["flags"] if f["kind"] == "mass-does-not-close"] == [
        "10 g more was applied than was in the pot.",
        "20 g more was applied than was in the pot.",
    ]


def test_a_reading_finer_than_the_scale_shows_is_read_back(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    path = f"/v1/mixes/{mix}/pours"
    body = {"container": bench.resin_can, "scale": bench.scale, "reading_g": 99.95, "source": "typed"}
    asked = bench.api.refused(path, body, "read-back")
    assert "99.95 g is finer than the scale shows, which goes by 0.1 g." in asked["detail"]
    assert bench.api.post(path, {**body, "read_back_g": 99.95})["resin_g"] == 99.95


def test_what_an_undone_pour_was_flagged_for_is_settled_and_stays_to_be_read(bench: makers.Mixing) -> None:
    """The wrong hardener was tapped, not poured: its flag and its hold go with it; poured later it is flagged again."""
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    wrong = bench.pour(mix, bench.fast_can, 20)
    assert [(f["kind"], f["stops"], f["settled"]) for f in wrong["flags"]] == [("wrong-pair", True, None)]
    assert len(wrong["holds"]) == 1
    undone = _undo(bench, mix)
    assert [f["settled"] for f in undone["flags"]] == ["The pour was undone: it did not occur."]
    assert undone["holds"] == []
    again = bench.pour(mix, bench.fast_can, 21)
    assert [(f["kind"], f["settled"] is None) for f in again["flags"]] == [("wrong-pair", False), ("wrong-pair", True)]
    assert len(again["holds"]) == 1
    _undo(bench, mix)
    bench.pour(mix, bench.slow_can, 30)
    bench.stir(mix)
    part = makers.started_part(bench.api)
    bench.apply(mix, (part, 100))
    check = bench.api.get(f"/v1/parts/{part}/release", who="quality")
    assert "wrong-pair" not in {point["kind"] for point in check["open"]}
    read = [point["what"] for point in check["review"] if point["kind"] == "wrong-pair"]
    assert len(read) == 2
    assert all(said.endswith("The pour was undone: it did not occur.") for said in read)


def test_a_pot_that_was_only_mistyped_too_large_is_judged_by_its_right_amount(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    large = bench.pour(mix, bench.resin_can, 1100)
    assert [(f["kind"], f["settled"]) for f in large["flags"]] == [("pot-too-large", None)]
    still = _undo(bench, mix, 1050, read_back_g=1050)
    said = "The pour was corrected, and is judged by its right amount."
    assert [(f["kind"], f["settled"]) for f in still["flags"]] == [("pot-too-large", said), ("pot-too-large", None)]
    right = _undo(bench, mix, 100)
    assert [f["settled"] for f in right["flags"]] == [said, said]


def test_the_lead_s_correction_settles_them_too_and_taking_it_back_brings_them_back(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    bench.pour(mix, bench.fast_can, 20)
    bench.api.shop.clock.forward(minutes=3)
    _corrected_by_the_lead(bench, mix, declaration="did not occur")
    seen = bench.api.get(f"/v1/mixes/{mix}")
    told = {f["kind"]: f["settled"] for f in seen["flags"]}
    assert (told["wrong-pair"], seen["holds"]) == ("The pour was corrected: it did not occur.", [])
    entry = bench.api.get(f"/v1/journal?item={mix}", who="quality")[-1]
    bench.api.post(
        f"/v1/journal/{entry['seq']}/corrections", {"declaration": "did not occur", "why": "it did"}, who="lead"
    )
    seen = bench.api.get(f"/v1/mixes/{mix}")
    assert None in [f["settled"] for f in seen["flags"] if f["kind"] == "wrong-pair"]
    # The pour stands again, and is corrected again like any other.
    _corrected_by_the_lead(bench, mix, declaration="did not occur")
    seen = bench.api.get(f"/v1/mixes/{mix}")
    told = {f["kind"]: f["settled"] for f in seen["flags"]}
    assert (told["wrong-pair"], seen["hardener_g"]) == ("The pour was corrected: it did not occur.", 0)
