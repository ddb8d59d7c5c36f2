"""A recall from its page: opened by a scan, walked piece by piece, closed by a second person with their secret."""

import re
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from service.pages import recalls
from tests import makers
from tests.journeys import floor
from tests.pages.hand import HTML, hand_of
from tests.pages.test_other_ways_to_weigh import words

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_a_recall_is_opened_walked_and_closed_from_its_page(api: Any) -> None:
    yard = floor.founded(api)
    part = yard.part(yard.design(plies=[]))
    yard.pot(part)
    assert hand_of(api).client.get("/recalls", headers=HTML).status_code == 200
    assert api.client.application.test_client().get("/recalls", headers=HTML).status_code == 303
    lead = hand_of(api, "lead")
    lead.open("/recalls")
    lead.tap("Call it back", item=yard.bench.slow_can, reason="the supplier calls the lot back")
    where = lead.at
    assert part in lead.page.replace(" ", "")
    seen = api.get(f"/v1{where}", who="lead")
    assert seen["left"] == len([p for p in seen["pieces"] if p["to_fetch"]]) > 1
    assert "Close it" not in lead.page
    hand = hand_of(api)
    hand.open(where)
    codes = re.findall(r'aria-label="(\w+) not found"', hand.page)
    for code in codes[:-1]:
        form = hand.page[: hand.page.index(f'aria-label="{code} found"')].rpartition("<form")[2]
        sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form)) | {"item": code, "found": "found"}
        assert hand.client.post(f"{where}/steps", data=sent, headers=HTML).status_code == 303
        hand.open(where)
    assert "1 to fetch" in hand.page
    hand.tap("Enter it", item=codes[-1], found="scrapped", remark="in the bin already")
    assert "All followed" in hand.page
    quality = hand_of(api, "quality")
    quality.open(where)
    quality.tap("Close the recall", effectiveness="all were here", _secret=api.shop.secrets["quality"])
    assert api.get(f"/v1{where}", who="lead")["effectiveness"] == "all were here"
    assert "Closed" in quality.page


def test_what_was_taken_from_some_time_on_is_called_back_from_the_page_by_the_shops_clock(api: Any) -> None:
    yard = floor.founded(api)
    design = yard.design(plies=[])
    early, late = yard.part(design), yard.part(design)
    yard.pot(early)
    since = yard.clock.forward(hours=1).astimezone(ZoneInfo("Europe/Copenhagen"))
    yard.pot(late)
    lead = hand_of(api, "lead")
    lead.open("/recalls")
    asked = {"item": yard.bench.slow_can, "reason": "lid off"}
    lead.tap("Call it back", **asked, since="2031-01-01T06:00")
    assert "since lies in the future" in lead.page
    assert 'value="2031-01-01T06:00"' in lead.page
    lead.tap("Call it back", **asked, since=f"{since:%Y-%m-%dT%H:%M}")
    seen = api.get(f"/v1{lead.at}", who="lead")
    codes = {p["code"] for p in seen["pieces"]}
    assert late in codes
    assert early not in codes
    assert "what was taken or done from" in lead.page


def test_a_lot_is_called_back_by_its_makers_number_as_a_suppliers_notice_has_it(api: Any) -> None:
    """Two lots with the same maker's number are told apart; what is neither a code nor such a number is refused."""
    yard = floor.founded(api)
    yard.pot(yard.part(yard.design(plies=[])))
    ours = api.get(f"/v1/containers/{yard.bench.slow_can}")["lot"]
    makers_number = api.get(f"/v1/lots/{ours}")["makers_lot"]
    lead = hand_of(api, "lead")
    lead.open("/recalls")
    lead.tap("Call it back", item="no such lot", reason="their letter of today")
    assert "no such lot" in lead.page
    lead.tap("Call it back", item=makers_number, reason="their letter of today")
    assert api.get(f"/v1{lead.at}", who="lead")["of"].startswith(ours)
    makers.cans(api, makers.material(api, "Another hardener", "hardener"), yard.bench.place, makers_number)
    lead.open("/recalls")
    lead.tap("Call it back", item=makers_number, reason="their letter of today")
    assert "Several lots here have" in lead.page
    assert "Another hardener" in lead.page


def test_what_somebody_did_is_called_back_from_the_page_by_a_task_on_record_and_nobody_is_blamed(api: Any) -> None:
    yard = floor.founded(api)
    design = yard.design(plies=[])
    early, late = yard.part(design), yard.part(design)
    yard.pot(early)
    since = yard.clock.forward(hours=1).astimezone(ZoneInfo("Europe/Copenhagen"))
    pot = yard.pot(late)["code"]
    person = api.shop.people["laminator"]
    lead = hand_of(api, "lead")
    lead.open("/recalls")
    assert f'<option value="{person}">Laminator</option>' in lead.page
    lead.open(f"/recalls?person={person}")
    assert "blames nobody" in lead.page
    assert "Call it back" not in lead.page
    tasks = re.findall(r"<option(?: selected)?>([^<]+)</option>", lead.page)
    assert "weighed by" in tasks
    assert "weighed" not in tasks, "the same task by its other word"
    asked = {"task": "weighed by", "reason": "the tare was forgotten"}
    lead.tap("Call back what they did", **asked, since="2031-01-01T06:00")
    assert "since lies in the future" in lead.page
    assert "<option selected>weighed by</option>" in lead.page
    lead.tap("Call back what they did", **asked, since=f"{since:%Y-%m-%dT%H:%M}")
    seen = api.get(f"/v1{lead.at}", who="lead")
    assert {p["code"] for p in seen["pieces"]} == {pot, late}
    assert "what Laminator did (weighed by)" in lead.page
    # Of whom nothing is on record, nothing can be called back; whoever is unknown is nobody.
    lead.open(f"/recalls?person={api.shop.people['second lead']}")
    assert "No task of theirs is on record" in lead.page
    lead.open("/recalls?person=9999")
    assert "Call it back" in lead.page


def test_the_newest_recalls_are_listed_first_however_many_there_are(api: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recalls, "_RECALLS", 2)
    yard = floor.founded(api)
    part = yard.part(yard.design(plies=[]))
    yard.pot(part)
    for thing in (yard.bench.slow_can, yard.bench.resin_can, part):
        api.post("/v1/recalls", {"item": thing, "reason": "soft", "papers": False}, who="lead")
    hand = hand_of(api, "lead")
    hand.open("/recalls")
    assert re.findall(r'href="/recalls/(\d+)"', hand.page) == ["3", "2"]


def test_papers_that_are_missing_are_issued_from_its_page(api: Any) -> None:
    """One that was opened without, or that has more letters than are issued in one call."""
    yard = floor.founded(api)
    yard.pot(yard.part(yard.design(plies=[])))
    body = {"item": yard.bench.slow_can, "reason": "soft parts", "papers": False}
    recall = api.post("/v1/recalls", body, who="lead")["id"]
    hand = hand_of(api)
    hand.open(f"/recalls/{recall}")
    assert "Issue what is missing" not in hand.page
    lead = hand_of(api, "lead")
    lead.open(f"/recalls/{recall}")
    assert "3 of its papers are not issued yet." in lead.page
    lead.tap("Issue what is missing")
    assert lead.at == f"/recalls/{recall}"
    assert "not issued yet" not in lead.page
    assert [one["document"] for one in api.get(f"/v1/recalls/{recall}")["papers"]] == ["RC-1", "RT-1", "RW-1"]


def _opened(api: Any, yard: Any, **more: Any) -> dict[str, Any]:
    yard.pot(yard.part(yard.design(plies=[])))
    body = {"item": yard.bench.slow_can, "reason": "soft parts", "papers": False, **more}
    return dict(api.post("/v1/recalls", body, who="lead"))


def test_what_was_not_found_is_said_first_put_right_and_its_closing_has_a_day(api: Any) -> None:
    recall = _opened(api, floor.founded(api))
    lost, *others = [p["code"] for p in recall["pieces"] if p["to_fetch"]]
    for code in (lost, *others):
        body = {"item": code, "found": "not found" if code == lost else "found"}
        api.post("/v1/recalls/1/steps", body, who="lead")
    hand = hand_of(api)
    said = words(hand.open("/recalls/1"))
    assert f"1 not found: {lost[:-1]} {lost[-1]}" in said
    assert "All followed" not in said
    assert "Nothing is left to fetch" not in said
    for code in others:
        assert f'aria-label="What became of {code}"' in hand.page
    hand.tap("Put it right", found="returned", remark="it lay in the car")
    said = words(hand.page)
    assert api.get("/v1/recalls/1", who="lead")["left"] == 0
    assert "returned , it lay in the car" in said
    assert "not found:" not in said
    assert "All followed" in said
    quality = hand_of(api, "quality")
    quality.open("/recalls/1")
    quality.tap("Close the recall", effectiveness="all were here", _secret=api.shop.secrets["quality"])
    assert re.search(r"Closed on \d+ \w+ \d{4} by Quality", words(quality.page))
    assert "The holds that it placed stay until each is lifted" in words(quality.page)
    assert "Put it right" not in quality.page


def test_whoever_opened_a_recall_is_told_who_closes_it_and_sees_no_form(api: Any) -> None:
    recall = _opened(api, floor.founded(api))
    for piece in recall["pieces"]:
        api.post("/v1/recalls/1/steps", {"item": piece["code"], "found": "found"}, who="lead")
    lead, laminator = hand_of(api, "lead"), hand_of(api)
    for hand in (lead, laminator):
        hand.open("/recalls/1")
        assert "Close the recall" not in hand.page
        assert "A second person with the role" in hand.page
    assert "does not close it as well" in lead.page
    assert "Close the recall" in hand_of(api, "quality").open("/recalls/1")


def test_each_paper_says_what_it_is(api: Any) -> None:
    _opened(api, floor.founded(api), papers=True)
    said = words(hand_of(api, "lead").open("/recalls/1"))
    for name, number in (("The list to fetch it by", "RC-1"), ("The list as a table", "RT-1"),
                         ("The list as a workbook", "RW-1")):  # fmt: skip
        assert f"{name} · {number}, issue 1" in said


def test_another_recall_of_the_same_thing_is_asked_about_before_it_is_opened(api: Any) -> None:
    yard = floor.founded(api)
    since = yard.clock.now.astimezone(ZoneInfo("Europe/Copenhagen"))
    yard.clock.forward(minutes=5)
    _opened(api, yard)
    lead = hand_of(api, "lead")
    lead.open("/recalls")
    asked = {"item": yard.bench.slow_can, "reason": "lid off"}
    # The very same one is refused as ever, with a link; of another time it is asked first.
    lead.tap("Call it back", **asked)
    assert "stands open already: soft parts" in lead.page
    assert "_beside" not in lead.page
    assert 'href="/recalls/1">Go on' in lead.page
    lead.tap("Call it back", **asked, since=f"{since:%Y-%m-%dT%H:%M}")
    assert (lead.status, lead.at) == (409, "/recalls")
    assert "Of this stands open already: recall 1 (soft parts)." in lead.page
    assert 'href="/recalls/1">Go on' in lead.page
    assert len(api.get("/v1/recalls", who="lead")) == 1
    lead.tap("Call it back", item="", _beside="")
    assert "A recall is of a thing or of what a person did" in lead.page, "of nothing, nothing stands open"
    lead.tap("Call it back", **asked, since=f"{since:%Y-%m-%dT%H:%M}")
    lead.tap("Call it back", _beside="yes")
    assert lead.at == "/recalls/2", words(lead.page)
