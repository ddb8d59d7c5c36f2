"""What answers without a key, and the page where a browser is given one."""

import re
from hashlib import sha256
from typing import Any

import pytest

from service.database import connected
from service.records.journal import Entry
from service.records.people import BrowserSession
from tests import makers

PAGES = [
    "/",
    "/docs",
    "/enter",
    "/problems",
    "/problems/not-fit",
    "/problems/no-key",
    "/verify",
    "/guide",
    "/guide/webhooks",
]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_a_page_is_whole_under_its_own_content_security_policy(api: Any, path: str) -> None:
    """No script or style in the page itself, nothing fetched from elsewhere, and all that it names is there."""
    answer = api.client.get(path)
    assert answer.status_code == 200
    page = answer.get_data(as_text=True)
    policy = answer.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=", page)
    named = set(re.findall(r'(?:src|href|data-url)="([^"#][^"]*)"', page))
    assert all(link.startswith("/") and not link.startswith("//") for link in named)
    for link in named:
        led = api.client.get(link)
        assert led.status_code == 200 or led.headers["Location"].startswith("/enter?next="), link
    assert '<html lang="en">' in page
    assert 'name="viewport"' in page


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_the_style_brings_its_own_fonts(api: Any) -> None:
    style = api.client.get("/static/potmark.css").get_data(as_text=True)
    fonts = re.findall(r'url\("([^"]+)"\)', style)
    assert len(fonts) == 3
    for font in fonts:
        answer = api.client.get(f"/static/{font}")
        assert answer.mimetype == "font/woff2"
        assert len(answer.get_data()) < 20_000
    assert "SIL OPEN FONT LICENSE" in api.client.get("/static/fonts/LICENSE.txt").get_data(as_text=True)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_reason_that_is_not_there_is_not_found(api: Any) -> None:
    assert api.client.get("/problems/out-of-luck").status_code == 404


def _luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_every_pair_of_colours_can_be_read_by_day_and_by_night(api: Any) -> None:
    """WCAG 2.2, 1.4.3: text at least 4.5:1, by the contrast ratio (L1 + 0.05)/(L2 + 0.05)."""
    style = api.client.get("/static/potmark.css").get_data(as_text=True)
    schemes = [
        dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.S)
    ]
    assert len(schemes) == 2
    for colours in schemes:
        pairs = [(text, ground) for text in ("ink", "soft", "action", "leave") for ground in ("paper", "card")]
        for text, ground in [*pairs, ("on-action", "action")]:
            light, dark = sorted((_luminance(colours[text]), _luminance(colours[ground])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, ground)


def _enter(api: Any, key: str, **headers: str) -> Any:
    return api.client.post("/enter", data={"key": key}, headers=headers)


def _token(answer: Any) -> str:
    return str(answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0])


def test_a_browser_that_was_given_a_key_opens_what_is_read(api: Any) -> None:
    assert api.client.get("/v1/me").status_code == 401
    answer = _enter(api, f" {api.shop.keys['quality']} ")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/enter")
    cookie = answer.headers["Set-Cookie"]
    assert all(part in cookie for part in ("HttpOnly", "SameSite=Strict", "Max-Age=43200"))
    assert "Secure" not in cookie
    assert api.client.get("/v1/me").get_json()["roles"] == ["quality"]
    assert "quality" in api.client.get("/enter").get_data(as_text=True)
    api.client.post("/leave")
    assert api.client.get("/v1/me").status_code == 401


def test_a_browser_keeps_a_session_and_never_the_key(api: Any) -> None:
    """Neither the key nor its token can be found in the account; nobody's store keeps the page."""
    key = api.shop.keys["quality"]
    answer = _enter(api, key)
    token = _token(answer)
    assert len(token) >= 40
    assert key not in answer.headers["Set-Cookie"]
    for said in (answer, api.client.get("/enter"), api.client.post("/leave"), _enter(api, "wrong")):
        assert said.headers["Cache-Control"] == "no-store"
    with connected():
        row = BrowserSession.get()
        kept = repr(list(BrowserSession.select().dicts())) + "".join(e.body for e in Entry.select())
    assert row.digest == sha256(token.encode()).hexdigest()
    assert token not in kept
    assert key not in kept
    # The token opens no door that the key opens.
    assert api.client.get("/v1/me", headers={"Authorization": f"Bearer {token}"}).status_code == 401


def test_a_session_ends_with_the_shift_or_when_the_browser_leaves(api: Any) -> None:
    other = api.client.application.test_client()
    other.set_cookie("potmark_session", _token(_enter(api, api.shop.keys["quality"])))
    api.shop.clock.forward(hours=11.9)
    assert other.get("/v1/me").status_code == 200
    api.shop.clock.forward(hours=0.2)
    assert other.get("/v1/me").status_code == 401
    api.client.post("/leave")
    other.set_cookie("potmark_session", _token(_enter(api, api.shop.keys["quality"])))
    assert other.get("/v1/me").status_code == 200
    api.client.post("/leave")
    assert other.get("/v1/me").status_code == 401, "kept elsewhere, it opens nothing"
    acts = [e["operation"] for e in api.get("/v1/journal", who="quality")]
    assert (acts.count("begin_session"), acts.count("end_session")) == (2, 1)


def test_a_browser_is_given_no_systems_key(api: Any) -> None:
    answer = _enter(api, api.shop.keys["integrator"])
    assert answer.status_code == 422
    assert "the key of a system" in answer.get_data(as_text=True)


def test_the_cookie_opens_no_door_to_doing(api: Any) -> None:
    _enter(api, api.shop.keys["lead"])
    assert api.client.get("/v1/places").status_code == 200
    assert api.client.post("/v1/places", json={"name": "Shelf B2"}).status_code == 401
    assert api.client.patch("/v1/site", json={"name": "Other"}, headers={"If-Match": '"1"'}).status_code == 401
    assert api.get("/v1/places") == []


def test_a_key_in_the_header_goes_before_the_cookie(api: Any) -> None:
    _enter(api, api.shop.keys["quality"])
    assert api.get("/v1/me", who="laminator")["roles"] == ["laminator"]
    assert api.client.get("/v1/me", headers={"Authorization": "Bearer wrong"}).status_code == 401


def test_a_cookie_of_a_revoked_key_opens_nothing(api: Any) -> None:
    _enter(api, api.shop.keys["laminator"])
    listed = api.get("/v1/keys", who="administrator")
    number = next(k["id"] for k in listed if k["person"] == api.shop.people["laminator"])
    api.post(f"/v1/keys/{number}/revocation", who="administrator")
    assert api.client.get("/v1/me").status_code == 401
    assert "Give this browser a key" in api.client.get("/enter").get_data(as_text=True)


@pytest.mark.parametrize(("key", "said"), [("wrong", "not known"), ("", "Give a key."), ("ø" * 300, "not known")])
def test_a_wrong_key_is_said_on_the_page_and_not_kept(api: Any, key: str, said: str) -> None:
    answer = _enter(api, key)
    assert answer.status_code == 422
    assert said in answer.get_data(as_text=True)
    assert "Set-Cookie" not in answer.headers


def test_a_form_of_another_site_is_not_taken(api: Any) -> None:
    answer = _enter(api, api.shop.keys["quality"], **{"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 403
    assert "Set-Cookie" not in answer.headers


def test_behind_tls_the_cookie_stays_on_it(api: Any) -> None:
    answer = api.client.post("/enter", data={"key": api.shop.keys["quality"]}, base_url="https://potmark.example.org")
    assert "Secure" in answer.headers["Set-Cookie"]


def test_a_void_label_says_so_first(api: Any) -> None:
    makers.supplier(api)
    hardener = makers.material(api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"])
    can = makers.cans(api, hardener, makers.place(api), "26-0914")[0]
    api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    api.post(f"/v1/items/{can}/labels/replacement", {"size": "100x50", "why": "resin ran over it"})
    page = api.client.get(f"/I/{can}/1", headers={"Accept": "text/html"}).get_data(as_text=True)
    assert page.index("This label is void") < page.index("Alder 32 slow hardener</h1>")
    assert "H314" in page
