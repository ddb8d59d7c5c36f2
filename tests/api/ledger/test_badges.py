"""Badges: a printed label says who is at the tablet, and signs nothing."""

from typing import Any

import pytest

from tests import makers

IN = {"REMOTE_ADDR": "192.168.1.7"}
OUT = {"REMOTE_ADDR": "203.0.113.7"}


@pytest.fixture
def inside(api: Any) -> Any:
    """A service that knows which network is the shop's."""
    from dataclasses import replace

    settings = api.client.application.extensions["settings"]
    api.client.application.extensions["settings"] = replace(settings, shop_network="192.168.1.0/24")
    yield api
    api.client.application.extensions["settings"] = settings


def badge_of(api: Any, who: str) -> str:
    return str(api.post(f"/v1/people/{api.shop.people[who]}/badges", who="lead")["code"])


def scan(api: Any, code: str, address: dict[str, str], browser: Any = None) -> Any:
    browser = browser or api.client.application.test_client()
    answer = browser.post("/enter/badge", data={"badge": code, "next": "/scan"}, environ_base=address)
    return browser, answer


def form(browser: Any, **fields: str) -> dict[str, str]:
    from service.api.access import COOKIE
    from service.operations.door.sessions import form_secret

    return {"_who": form_secret(browser.get_cookie(COOKIE).value), "_key": "k1", **fields}


def test_a_badge_acts_in_its_holders_name_and_signs_nothing(inside: Any) -> None:
    mixing = makers.mixing(inside)
    browser, answer = scan(inside, badge_of(inside, "lead"), IN)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/scan")
    hold = browser.post(f"/I/{mixing.slow_can}/hold", data=form(browser, reason="cloudy"), environ_base=IN)
    assert hold.status_code == 303, hold.get_data(as_text=True)
    entry = inside.get("/v1/journal?operation=place_hold&limit=1", who="lead")[0]
    assert (entry["person"], entry["device"]) == (inside.shop.people["lead"], "browser")
    from service.api.access import holder_of_badge
    from service.database import connected
    from service.operations.door.act import Act
    from service.operations.door.refusals import SignatureRequired
    from service.operations.stock.lots import reject_lot

    badge = inside.get("/v1/keys?limit=200", who="administrator")[-1]["badge"]
    with connected():
        visitor = holder_of_badge(badge)
    assert visitor.badge
    now = inside.shop.clock()
    act = Act(
        person=visitor.person, roles=visitor.roles, site=visitor.site, occurred_at=now, recorded_at=now, badge=True
    )
    with pytest.raises(SignatureRequired, match="gives their own secret"):
        reject_lot(act, lot="L00001P")


def test_a_badge_is_nothing_outside_the_shop_without_a_key(inside: Any) -> None:
    badge = badge_of(inside, "laminator")
    browser, answer = scan(inside, badge, OUT)
    assert answer.status_code == 403
    assert "a key comes first" in answer.get_data(as_text=True)
    browser.post("/enter", data={"key": inside.shop.keys["lead"]}, environ_base=OUT)
    _, answer = scan(inside, badge, OUT, browser)
    assert answer.status_code == 303


def test_without_a_network_named_no_address_is_the_shops(api: Any) -> None:
    _, answer = scan(api, badge_of(api, "laminator"), {"REMOTE_ADDR": "127.0.0.1"})
    assert answer.status_code == 403


@pytest.mark.parametrize(("code", "said"), [("B000009", "check character"), ("B00099Z", "code"), ("nonsense", "code")])
def test_a_badge_that_is_none_opens_nothing(inside: Any, code: str, said: str) -> None:
    _, answer = scan(inside, code, IN)
    assert answer.status_code in (422, 429)
    assert "potmark_session" not in answer.headers.get("Set-Cookie", "")


def test_a_withdrawn_badge_is_forgotten_by_the_browsers_at_once(inside: Any) -> None:
    badge = badge_of(inside, "laminator")
    browser, _ = scan(inside, badge, IN)
    assert browser.get("/scan", environ_base=OUT).status_code == 200
    inside.post(f"/v1/badges/{badge}/withdrawal", who="administrator")
    assert browser.get("/scan", environ_base=OUT).headers["Location"].startswith("/enter")
    assert scan(inside, badge, IN)[1].status_code == 422
    inside.refused(f"/v1/badges/{badge}/withdrawal", {}, "wrong-state", who="administrator")


def test_pages_are_read_without_signing_on_in_the_shop_alone(inside: Any) -> None:
    mixing = makers.mixing(inside)
    stranger = inside.client.application.test_client()
    page = stranger.get(f"/I/{mixing.slow_can}", headers={"Accept": "text/html"}, environ_base=IN)
    assert "Use it" in page.get_data(as_text=True)
    assert "_who" not in page.get_data(as_text=True)
    assert stranger.get("/board", environ_base=IN).status_code == 200
    assert stranger.get("/board", environ_base=OUT).headers["Location"].startswith("/enter")
    assert stranger.get("/v1/containers", environ_base=IN).status_code == 401
    assert stranger.post(f"/I/{mixing.slow_can}/open", data={}, environ_base=IN).status_code == 401


def test_another_site_cannot_say_who_is_here(inside: Any) -> None:
    browser = inside.client.application.test_client()
    answer = browser.post(
        "/enter/badge",
        data={"badge": badge_of(inside, "lead")},
        headers={"Origin": "http://elsewhere.example"},
        environ_base=IN,
    )
    assert answer.status_code == 403
