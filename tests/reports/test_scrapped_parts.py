"""As what a part is scrapped, and whether it counts as failed by that, over HTTP."""

import re
from typing import Any

import pypdfium2
import pytest

from tests import makers

_METHOD = {"method": "sawn up"}


@pytest.fixture
def yard(api: Any) -> Any:
    makers.design(api, zones=["root"])
    return api


def _inspect(api: Any, part: str, *, accepted: bool = True) -> None:
    api.post(f"/v1/parts/{part}/inspections", {"accepted": accepted, "remark": "looked at"}, who="lead")


def _scrap(api: Any, part: str, **said: Any) -> None:
    api.post(f"/v1/parts/{part}/scrapping", {**_METHOD, **said}, who="lead")


def _became(api: Any, part: str) -> dict[str, int]:
    return dict(api.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]["became"])


def _take_back(api: Any, part: str, operation: str) -> None:
    entry = api.get(f"/v1/journal?item={part}&operation={operation}", who="quality")[-1]
    body = {"declaration": "did not occur", "why": "another part"}
    api.post(f"/v1/journal/{entry['seq']}/corrections", body, who="lead")


def _failed_in_traces(api: Any, part: str) -> bool:
    return next(i["failed"] for i in api.get(f"/v1/items/{part}/trace")["items"] if i["code"] == part)


def test_what_is_sectioned_or_not_wanted_has_not_failed_by_being_scrapped(yard: Any) -> None:
    """The report asks to section a part: doing so made it one more failure, like the one that is looked at."""
    failed, scrapped, sectioned, surplus, never_seen, found_bad = (makers.laid_up_part(yard) for _ in range(6))
    _inspect(yard, failed, accepted=False)
    _scrap(yard, scrapped)
    for part in (sectioned, surplus):
        _inspect(yard, part)
    _inspect(yard, found_bad, accepted=False)
    for part in (sectioned, never_seen, found_bad):
        _scrap(yard, part, scrapped_as="tested")
    _scrap(yard, surplus, scrapped_as="not wanted")
    # What was rejected has failed, as whatever it was scrapped.
    expected = {"failed": 3, "failed_otherwise": 0, "good": 2, "not_judged": 0, "scrapped": 1}
    became = _became(yard, failed)
    assert {name: became[name] for name in expected} == expected
    wanted = {scrapped: True, sectioned: False, surplus: False, never_seen: False, found_bad: True}
    assert {part: _failed_in_traces(yard, part) for part in wanted} == wanted
    section = yard.get(f"/v1/parts/{failed}/investigation", who="quality")["suspects"]["next_part"]
    assert never_seen[:6] not in (section or ""), "nothing is left of it"


def test_how_it_was_scrapped_stands_in_its_answer_its_record_and_its_papers(yard: Any) -> None:
    """It was said in the journal alone; the head of a scrapped part's record told of its release and no more."""
    part = makers.laid_up_part(yard)
    assert yard.get(f"/v1/parts/{part}")["scrapping"] is None
    body = {"method": "sawn in four", "scrapped_as": "tested"}
    answer = yard.post(f"/v1/parts/{part}/scrapping", body, who="lead")["scrapping"]
    assert {**answer, "occurred_at": None} == {
        "scrapped_as": "tested", "method": "sawn in four", "occurred_at": None, "by": "Lead",
    }  # fmt: skip
    assert yard.get(f"/v1/parts/{part}")["scrapping"] == answer
    assert yard.get(f"/v1/parts/{part}/record", who="quality")["scrapping"] == answer
    for paper in ("record", "investigation"):
        pdf = yard.call("GET", f"/v1/parts/{part}/{paper}.pdf", who="quality").get_data()
        text = " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))
        assert re.search(r"scrapped 3 Nov 2026 by Lead, as tested: sawn in four", re.sub(r"\s+", " ", text)), paper
    # What was taken back and stands again says what it said; so does one that a decision scrapped.
    _take_back(yard, part, "scrap_part")
    assert yard.get(f"/v1/parts/{part}")["scrapping"] is None
    bad = makers.laid_up_part(yard)
    _inspect(yard, bad, accepted=False)
    found = yard.get(f"/v1/nonconformances?item={bad}")[0]["id"]
    decided = {"disposition": "scrap", "because": "soft all over"}
    yard.post(f"/v1/nonconformances/{found}/decision", decided, who="quality")
    said = yard.get(f"/v1/parts/{bad}")["scrapping"]
    assert (said["scrapped_as"], said["method"], said["by"]) == ("failed", "soft all over", "Quality")


def test_that_nothing_is_left_to_compare_with_is_told_as_it_is(yard: Any) -> None:
    """Another part was made in this time, and nobody can inspect it any more."""
    failed, gone = (makers.laid_up_part(yard) for _ in range(2))
    _inspect(yard, failed, accepted=False)
    _scrap(yard, gone, scrapped_as="not wanted")
    said = {part: yard.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]["sentence"]
            for part in (failed, gone)}  # fmt: skip
    assert said[failed].startswith(
        "No other part of this time can be compared (one was scrapped without an inspection), so there is nothing to"
    )
    assert said[gone] == (
        "One part of this time is judged, and it failed, so there is nothing to compare it with. Needed is a part that "
        "held."
    )


def test_what_an_order_was_cancelled_for_is_not_wanted_unless_said(yard: Any) -> None:
    """The way out of a cancelled order is to scrap what was begun; that made failures of it."""
    failed = makers.laid_up_part(yard)
    _inspect(yard, failed, accepted=False)
    order = yard.post(
        "/v1/orders",
        {"reference": "PO 7", "system": "order desk", "lines": [{"part_number": "HY-204", "quantity": 2}]},
        who="lead",
    )["order"]["id"]
    one, two = (p["code"] for p in yard.get(f"/v1/orders/{order}/parts"))
    for part in (one, two):
        yard.post(f"/v1/parts/{part}/start")
    yard.post(f"/v1/orders/{order}/cancellation", {"confirmed": True}, who="lead")
    _scrap(yard, one)
    _scrap(yard, two, scrapped_as="failed")
    became = _became(yard, failed)
    assert (became["failed"], became["scrapped"], became["not_judged"]) == (2, 1, 0)
    assert (_failed_in_traces(yard, one), _failed_in_traces(yard, two)) == (False, True)


def test_a_scrapping_that_is_taken_back_is_a_failure_corrected_away(yard: Any) -> None:
    """And so is one that is said again to have been for a test; one that never was a failure is not."""
    failed, mixed_up, meant_as_test, surplus = (makers.laid_up_part(yard) for _ in range(4))
    _inspect(yard, failed, accepted=False)
    for part, said in ((mixed_up, {}), (meant_as_test, {}), (surplus, {"scrapped_as": "not wanted"})):
        _inspect(yard, part)
        _scrap(yard, part, **said)
        _take_back(yard, part, "scrap_part")
    became = _became(yard, failed)
    assert (became["failed"], became["good"], became["corrected_away"]) == (1, 3, 2)
    _scrap(yard, meant_as_test, scrapped_as="tested")
    _scrap(yard, mixed_up)
    became = _became(yard, failed)
    assert (became["failed"], became["good"], became["corrected_away"]) == (2, 2, 1)


def test_a_part_that_was_never_begun_is_none_of_the_time(yard: Any) -> None:
    """It was counted as not judged, and named as the one to section."""
    failed, mistaken = makers.laid_up_part(yard), str(yard.post("/v1/parts", {"part_number": "HY-204"})["code"])
    _take_back(yard, mistaken, "start_part")
    assert yard.get(f"/v1/parts/{mistaken}")["state"] == "abandoned"
    _inspect(yard, failed, accepted=False)
    assert sum(_became(yard, failed).values()) == 1


def test_what_a_section_shows_is_recorded_of_what_was_scrapped_for_it(yard: Any) -> None:
    """It is cut first and looked at then; what was thrown away for another reason is not what lies on the bench."""
    failed, sound, void, gone = (makers.laid_up_part(yard) for _ in range(4))
    _inspect(yard, failed, accepted=False)
    for part in (sound, void):
        _scrap(yard, part, scrapped_as="tested")
    _scrap(yard, gone, scrapped_as="not wanted")
    _inspect(yard, sound)
    _inspect(yard, void, accepted=False)
    yard.refused(f"/v1/parts/{gone}/inspections", {"accepted": True}, "wrong-state", who="lead")
    became = _became(yard, failed)
    assert {n: became[n] for n in ("failed", "good", "scrapped")} == {"failed": 2, "good": 1, "scrapped": 1}
    assert yard.get(f"/v1/parts/{sound}")["state"] == "scrapped"


def test_what_came_back_and_was_sectioned_did_not_hold_by_what_was_found_before_it_left(yard: Any) -> None:
    """Nobody said yet what the section shows; it counted as good by the inspection from before it was shipped."""
    failed, back = (makers.laid_up_part(yard) for _ in range(2))
    _inspect(yard, failed, accepted=False)
    makers.cured(yard, back)
    yard.post(f"/v1/parts/{back}/demoulding", {"temperature_c": 20})
    yard.post(f"/v1/parts/{back}/trimming", {"mass_g": 400})
    _inspect(yard, back)
    yard.post(f"/v1/parts/{back}/release", {"reviewed": True}, who="quality")
    yard.post(f"/v1/parts/{back}/shipment", {"customer": "Club", "document": "LN 1"}, who="lead")
    yard.shop.clock.forward(hours=24)
    yard.post(f"/v1/parts/{back}/return", {"reason": "feels soft"}, who="lead")
    _scrap(yard, back, scrapped_as="tested")
    became = _became(yard, failed)
    assert (became["failed"], became["good"], became["scrapped"]) == (1, 0, 1)
    yard.shop.clock.forward(minutes=5)
    _inspect(yard, back)
    became = _became(yard, failed)
    assert (became["failed"], became["good"], became["scrapped"]) == (1, 1, 0)
