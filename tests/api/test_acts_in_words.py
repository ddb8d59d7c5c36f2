"""People read what was done in words; the name that the journal keeps of it stays in the journal."""

import re
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from service.operations.door.acts import ACTS
from tests.reports import workshop

# "pour" and "trim" are words as well as names; those of several words are written apart for a person.
_NAMES = re.compile("|".join(rf"\b{name}\b" for name in ACTS if "_" in name))


def _texts(value: Any) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _texts(inner)


def _correct(api: Any, item: str, operation: str, *, expect: int = 201) -> dict[str, Any]:
    seq = api.get(f"/v1/journal?item={item}&operation={operation}", who="quality")[-1]["seq"]
    body = {"declaration": "incorrect data", "why": "typed on the wrong line"}
    answer: dict[str, Any] = api.post(f"/v1/journal/{seq}/corrections", body, who="quality", expect=expect)
    return answer


def test_reports_reviews_flags_and_refusals_name_an_act_in_words(api: Any) -> None:
    yard = workshop.workshop(api)
    part = yard.whole(yard.old_can, check_late=True)
    happened = (api.shop.clock.now - timedelta(minutes=1)).isoformat()
    api.shop.clock.forward(minutes=45)
    api.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "sanded", "occurred_at": happened})
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True, "occurred_at": happened})
    pot = api.get(f"/v1/parts/{part}/record")["pots"][0]["code"]
    for item, operation in ((part, "record_part_step"), (pot, "stir"), (pot, "check_cup")):
        _correct(api, item, operation)

    review = [point["what"] for point in api.get(f"/v1/parts/{part}/release")["review"]]
    assert "A step on the part was recorded 46 min after it happened." in review
    api.shop.clock.forward(days=22)
    api.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "told late", "occurred_at": happened})
    late = [point["what"] for point in api.get(f"/v1/parts/{part}/release")["review"]]
    assert "A step on the part was recorded 22 d 1 h after it happened." in late
    assert any(said.startswith("Corrected: stirring the pot of ") for said in review)
    report = api.get(f"/v1/parts/{part}/investigation", who="quality")
    assert [entry["what"] for entry in report["account"]["corrected"]] == [
        "a step on the part", "stirring the pot", "checking the cup"
    ]  # fmt: skip
    assert {verb for person in report["account"]["people"] for verb in person["did"]} >= {"mixed", "corrected entries"}
    record = api.get(f"/v1/parts/{part}/record")
    api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")
    refused = _correct(api, part, "release_part", expect=409)
    assert refused["detail"].endswith("is a decision (releasing the part).")
    for shown in (review, report, record, api.get(f"/v1/items/{pot}"), refused):
        assert [text for text in _texts(shown) if _NAMES.search(text)] == []


def test_the_journal_says_each_act_by_its_name_and_in_words(api: Any) -> None:
    api.post("/v1/places", {"name": "Shelf B2"}, who="lead")
    entry = api.get("/v1/journal", who="quality")[-1]
    assert (entry["operation"], entry["called"]) == ("add_place", "adding a place")
