"""The page of a part that is no longer made: scrapped, shipped, come back, held by a recall; and its papers."""

from typing import Any

import pytest

from tests import makers
from tests.journeys import floor
from tests.pages.hand import HTML, hand_of
from tests.pages.test_other_ways_to_weigh import words

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def _finished(api: Any, yard: floor.Floor, part_number: str = "HY-204") -> str:
    part = yard.part(yard.design(part_number, plies=[]))
    yard.pot(part)
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding")
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True}, who="lead")
    return part


def _released(api: Any, yard: floor.Floor, part_number: str = "HY-205") -> str:
    part = _finished(api, yard, part_number)
    api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="quality")
    return part


def test_a_scrapped_part_says_as_what_how_by_whom_and_nothing_of_release(api: Any) -> None:
    yard = floor.founded(api)
    tested, released = _finished(api, yard), _released(api, yard)
    lead = hand_of(api, "lead")
    for part, as_what, method in ((tested, "tested", "sawn in four"), (released, "not wanted", "crushed")):
        assert f'href="/I/{part}/scrap"' in lead.open(f"/I/{part}")
        lead.open(f"/I/{part}/scrap")
        assert "selected" not in lead.page, "nothing is chosen beforehand"
        lead.tap("Scrap it", scrapped_as=as_what, method=method)
        said = words(lead.page)
        assert f"Scrapped As {as_what}: {method}. Lead, " in said
        assert "no more" in said
        for wrong in ("can be released", "Signed off", "Nothing is open", "Ship it", "Scrap it", "Failed yes"):
            assert wrong not in said, wrong
    failed = _finished(api, yard, "HY-206")
    api.post(f"/v1/parts/{failed}/scrapping", {"method": "skip"}, who="lead")
    lead = hand_of(api, "lead")  # two cures later the session has ended
    assert "As failed: skip. Lead" in words(lead.open(f"/I/{failed}"))
    assert "Failed yes" in words(lead.page)


def test_a_shipped_part_says_to_whom_and_one_that_came_back_says_so_and_that_it_failed(api: Any) -> None:
    yard = floor.founded(api)
    part = _released(api, yard)
    lead = hand_of(api, "lead")
    assert "Ship it" in lead.open(f"/I/{part}")
    hold = api.post("/v1/holds", {"item": part, "reason": "wait"}, who="lead")["id"]
    assert "Ship it" not in lead.open(f"/I/{part}"), "what is held is not offered to be shipped"
    api.post(f"/v1/holds/{hold}/lifting", {"why": "waited"}, who="quality")
    api.post(f"/v1/parts/{part}/shipment", {"document": "LN 7", "customer": "Heron club"}, who="lead")
    said = words(lead.open(f"/I/{part}"))
    assert "To Heron club on" in said
    assert "with LN 7" in said
    assert "at Heron club" in said
    api.post(f"/v1/parts/{part}/return", {"reason": "it cracked"}, who="lead")
    body = {"item": part, "found": "cracked at the root", "failed": True, "in_service": True}
    api.post("/v1/nonconformances", body, who="lead")
    said = words(lead.open(f"/I/{part}"))
    assert "came back from Heron club: it cracked." in said
    assert "Failed yes" in said
    assert "cracked at the root" in said
    assert "by the one who uses it · it failed · not decided yet" in said
    assert "at Heron club" not in said


def test_the_papers_of_a_part_open_from_its_page_for_who_is_signed_on(api: Any) -> None:
    yard = floor.founded(api)
    part = _finished(api, yard)
    hand = hand_of(api)
    hand.open(f"/I/{part}")
    for paper in (f"/v1/parts/{part}/investigation.pdf", f"/v1/parts/{part}/record.pdf",
                  f"/v1/items/{part}/trace?direction=back"):  # fmt: skip
        assert f'href="{paper}"' in hand.page
        assert hand.client.get(paper, headers=HTML).status_code == 200, paper


def test_a_recall_that_is_the_reason_of_a_hold_is_a_tap_away_wherever_it_is_named(api: Any) -> None:
    yard = floor.founded(api)
    part = _finished(api, yard)
    body = {"item": yard.bench.slow_can, "reason": "soft parts", "papers": False}
    api.post("/v1/recalls", body, who="lead")
    api.post("/v1/holds", {"item": yard.bench.fast_can, "reason": "Recall 1: of the supplier's own"}, who="lead")
    lead = hand_of(api, "lead")
    can = yard.bench.slow_can
    for path in (f"/I/{part}", f"/I/{can}", f"/I/{can}/settle", "/decide"):
        assert 'href="/recalls/1"' in lead.open(path), path
    other = yard.bench.fast_can
    for path in (f"/I/{other}", f"/I/{other}/settle"):
        assert 'href="/recalls/1"' not in lead.open(path), "another's recall 1 is not ours"


def test_what_becomes_of_what_was_found_is_not_chosen_beforehand(api: Any) -> None:
    yard = floor.founded(api)
    part = _finished(api, yard)
    api.post("/v1/nonconformances", {"item": part, "found": "cracked"})
    quality = hand_of(api, "quality")
    quality.open(f"/I/{part}/settle")
    assert '<select id="as-1" name="disposition" required><option value="">choose one</option>' in quality.page
    quality.tap("Decide", because="so", _secret=api.shop.secrets["quality"])
    assert quality.status == 422
    assert "counts as failed" in quality.page
    assert api.get("/v1/nonconformances/1", who="quality")["disposition"] is None


def test_what_was_decided_to_be_scrapped_says_why_and_what_was_cancelled_was_never_begun(api: Any) -> None:
    yard = floor.founded(api)
    part = _finished(api, yard)
    found = api.post("/v1/nonconformances", {"item": part, "found": "cracked"})["id"]
    body = {"disposition": "scrap", "because": "cracked through"}
    api.post(f"/v1/nonconformances/{found}/decision", body, who="quality")
    quality = hand_of(api, "quality")
    said = words(quality.open(f"/I/{part}"))
    assert "Scrapped As failed: cracked through. Quality, " in said
    assert "decided: scrap" in said
    assert "A hold stands on it still: Nonconformance" in said
    order = {"system": "order book", "reference": "SO-1", "lines": [{"part_number": "HY-204", "quantity": 1}]}
    api.post("/v1/orders", order, who="lead")
    planned = api.get("/v1/parts?state=planned")[0]["code"]
    api.post("/v1/orders/1/cancellation", who="lead")
    said = words(quality.open(f"/I/{planned}"))
    assert "Cancelled It was planned and cancelled with its order." in said
    assert "can be released" not in said
