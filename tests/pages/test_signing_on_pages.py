"""What is signed at a page: the secret asked at the first signed step, a lock for signing only, tablets signed off."""

import re
from typing import Any

import pytest

from tests import makers
from tests.journeys import floor
from tests.pages.hand import Hand, hand_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def secret_of(api: Any, who: str) -> str:
    return str(api.shop.secrets[who])


def test_a_hold_is_lifted_by_the_secret_and_the_next_ones_without_it(api: Any) -> None:
    mixing = makers.mixing(api)
    cans = (mixing.slow_can, mixing.resin_can, mixing.fast_can)
    holds = [api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="lead")["id"] for can in cans]

    def standing() -> list[int]:
        return [row["id"] for row in api.get("/v1/holds?standing=true", who="quality")]

    laminator = hand_of(api)
    laminator.open(f"/I/{cans[0]}/settle")
    assert "Quality lifts it" in laminator.page
    assert "_secret" not in laminator.page
    quality = hand_of(api, "quality")
    quality.open(f"/I/{cans[0]}/settle")
    page = quality.tap("Lift the hold", why="clear when warmed", _secret="not this one")
    assert "not your secret" in page
    assert quality.status == 403
    assert "4 tries are left" in page
    assert "/v1" not in page
    assert 'value="clear when warmed"' in page
    assert "not this one" not in page
    quality.tap("Lift the hold", why="clear when warmed", _secret=secret_of(api, "quality"))
    assert standing() == holds[1:]
    # Not asked again, but shown; locked by a tap, it is asked.
    quality.open(f"/I/{cans[1]}/settle")
    assert "_secret" not in quality.page
    assert "signs here until" in quality.page
    quality.tap("Lift the hold", why="clear when warmed")
    assert standing() == holds[2:]
    quality.open(f"/I/{cans[2]}/settle")
    quality.tap("Lock")
    assert quality.at == f"/I/{cans[2]}/settle"
    assert "_secret" in quality.page
    # Reading and recording go on meanwhile.
    quality.open(f"/I/{cans[2]}/labels")
    quality.tap("Make its label", size="62")
    assert "Label 1 stands" in quality.page
    # Five minutes later it is asked again, whatever was kept.
    quality.open(f"/I/{cans[2]}/settle")
    quality.tap("Lift the hold", why="", _secret=secret_of(api, "quality"))
    assert "_secret" not in quality.page
    api.shop.clock.forward(minutes=5.1)
    quality.tap("Lift the hold", why="clear when warmed")
    assert "Type your PIN or passphrase" in quality.page
    assert standing() == holds[2:]
    journal = repr(api.get("/v1/journal", who="quality"))
    assert secret_of(api, "quality") not in journal


def test_a_permit_is_asked_for_by_one_and_signed_by_another(api: Any) -> None:
    can = makers.mixing(api).slow_can
    api.post(f"/v1/containers/{can}/opening")
    api.shop.clock.forward(days=900)
    hand = hand_of(api)
    assert "Ask for a permit" in hand.open(f"/I/{can}")
    hand.open(f"/I/{can}/settle")
    hand.tap("Ask for it", why="a trial panel, not flown")
    lead = hand_of(api, "lead")
    assert "a trial panel, not flown" in lead.open("/decide")
    lead.open(f"/I/{can}/settle")
    lead.tap("Permit it", permitted="true", _secret=secret_of(api, "lead"))
    permits = api.get("/v1/permissions", who="lead")
    assert [(p["decision"], p["signed_by"]) for p in permits] == [("permitted", "Lead")]
    lead.tap("Withdraw the permit", why="the panel is done")
    assert api.get("/v1/permissions", who="lead")[0]["decision"] == "withdrawn"


def test_a_tablet_that_was_lost_is_signed_off_whole_and_a_session_by_its_own(api: Any) -> None:
    tablet, other, lead = hand_of(api), hand_of(api), hand_of(api, "lead")
    # Somebody else at the same tablet: the one before is still told of there.
    tablet.sign_on(api.shop.keys["quality"])
    name = re.search(r'as-code">(\w{4})<', tablet.open("/tablets"))
    assert name is not None
    page = lead.open("/tablets")
    assert page.count(f"Tablet {name[1]}") == 1
    assert page.count("End it") == 4
    assert hand_of(api).open("/tablets").count("End it") == 3, "a laminator sees their own alone"
    other.open("/scan")
    lead.tap(f"It was lost: end all of tablet {name[1]}", tablet=name[1])
    assert "/enter?next=/scan" in tablet.open("/scan")
    assert "Scan or type a code" in other.open("/scan")
    number = re.search(r'Lead<br>.*?name="session" value="(\d+)"', lead.page, re.S)
    assert number is not None
    # The lead's own stands first there; a laminator who sends its number ends nothing.
    stranger = hand_of(api)
    stranger.open("/tablets")
    assert "the session of somebody else" in stranger.tap("End it", session=number[1])
    assert "Who is signed on" in lead.open("/tablets")


def test_someone_else_is_one_tap_and_goes_on_where_the_one_before_was(api: Any) -> None:
    can, hand = makers.mixing(api).slow_can, hand_of(api, "quality")
    hand.open(f"/I/{can}/move")
    hand.tap("Someone else")
    assert "Give this browser a key" in hand.page
    hand.tap("Enter", key=api.shop.keys["laminator"])
    assert hand.at == f"/I/{can}/move"


def test_who_has_no_secret_sets_one_at_the_page_and_not_by_badge(api: Any) -> None:
    person = api.post("/v1/people", {"name": "Nora Falk", "roles": ["quality"], "with_key": True}, who="administrator")
    badge = api.post(f"/v1/people/{person['id']}/badges", who="administrator")["code"]
    can = makers.mixing(api).slow_can
    api.post("/v1/holds", {"item": can, "reason": "cloudy"}, who="lead")
    hand = Hand(api.client.application.test_client()).sign_on(person["secret"])
    hand.open(f"/I/{can}/settle")
    assert "Set my PIN or passphrase" in hand.tap("Lift the hold", why="clear", _secret="anything 12")
    hand.open("/secret")
    assert "not the same" in hand.tap("Set it", secret="kelp and 40 rivets", again="kelp and 41 rivets")
    assert "kelp" not in hand.page
    page = hand.tap("Set it", secret="kelp and 40 rivets", again="kelp and 40 rivets")
    assert "You can sign now" in page
    assert person["secret"] not in page
    hand.open(f"/I/{can}/settle")
    hand.tap("Lift the hold", why="clear")
    assert api.get("/v1/holds?standing=true", who="quality") == []
    by_badge = hand_of(api)
    by_badge.open("/enter")
    by_badge.tap("This is me", badge=badge)
    assert "the key that an administrator handed you comes first" in by_badge.open("/secret")


def test_a_part_is_inspected_released_and_shipped_from_its_page(api: Any) -> None:
    """Laid up and cured by one, inspected with a defect, decided by quality, released by the lead, and sent off."""
    yard = floor.founded(api)
    part = yard.part(yard.design(plies=[]))
    yard.pot(part)
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding")
    hand = hand_of(api)
    hand.open(f"/I/{part}/inspect")
    found = {"defects.0.kind": "void", "defects.0.zone": "tip", "defects.0.size_mm": "4,5"}
    measured = {"measurements.0.name": "Barcol", "measurements.0.value": "38,5", "measurements.0.low": "30"}
    hand.tap("Enter the inspection", accepted="false", **found, **measured)
    assert "On hold" in hand.page
    inspected = api.get(f"/v1/parts/{part}", who="quality")
    assert [(d["kind"], d["size_mm"], d["accepted"]) for d in inspected["defects"]] == [("void", 4.5, False)]
    assert inspected["inspections"][0]["measurements"][0]["value"] == 38.5
    quality = hand_of(api, "quality")
    quality.open(f"/I/{part}/settle")
    quality.tap("Decide", disposition="use as is", because="4.5 mm, filled", _secret=secret_of(api, "quality"))
    lead = hand_of(api, "lead")
    lead.open(f"/I/{part}/release")
    assert "Nonconformance 1" in lead.page
    # Not ticked as read: the page asks, and asks for the secret with it.
    lead.tap("Release the part", _secret=secret_of(api, "lead"))
    assert "to be read before" in lead.page
    lead.tap("Yes, record it so")
    assert "Signed off by Lead" in lead.page
    lead.open(f"/I/{part}/ship")
    lead.tap("It has left", document="LN 7", customer="Heron club")
    shipped = api.get(f"/v1/parts/{part}", who="quality")
    assert (shipped["state"], shipped["released_by"], shipped["shipment"]["document"]) == ("shipped", "Lead", "LN 7")


def test_a_lot_is_checked_and_released_and_every_other_thing_says_whether_it_may_be_used(api: Any) -> None:
    makers.supplier(api)
    place = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    lot = makers.lot(api, resin, place, makers_lot="26-0914", released=False, containers=[{"net_g": 5000}])["code"]
    lead = hand_of(api, "lead")
    assert "Not released" in lead.open(f"/I/{lot}")
    lead.open(f"/I/{lot}/check")
    lead.tap("Enter it", name="colour", result="clear", passed="true")
    lead.open(f"/I/{lot}/release")
    lead.tap("Release it for use", _secret=secret_of(api, "lead"))
    assert "It may be used" in lead.page
    assert api.get(f"/v1/lots/{lot}")["state"] == "released"
    scale = api.post("/v1/scales", {"name": "Bench scale", "interval_g": 0.1, "repeatability_g": 0.1,
                                    "maximum_g": 6000, "check_every_days": 7}, who="lead")["code"]  # fmt: skip
    assert "It has not been checked yet" in lead.open(f"/I/{scale}")
    assert "Leave it" in lead.page
    lead.open(f"/I/{scale}/check")
    lead.tap("Enter the check", weight="W 2", nominal_g="500", reading_g="500,1", limit_g="0,2")
    assert "Passed on" in lead.page
    assert "Use it" in lead.page
    mould = api.post("/v1/moulds", {"name": "Rudder half mould"}, who="lead")["code"]
    assert "Not ready" in lead.open(f"/I/{mould}")
    lead.open(f"/I/{mould}/prepare")
    lead.tap("Enter it", kind="cleaning", coats="")
    assert api.get(f"/v1/moulds/{mould}")["treatments"][0]["kind"] == "cleaning"
    lead.open(f"/I/{place}/reading")
    lead.tap("Enter it", temperature_c="19,5")
    assert lead.at == f"/I/{place}"
    assert lead.status == 200
