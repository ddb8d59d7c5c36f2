"""A code that is typed, or photographed, leads to its page or says what to do."""

import io
from typing import Any

import pytest
import qrcode
from PIL import Image, ImageFilter

from tests import makers

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def photo(text: str, *, turned: float = 12, blur: float = 1.2, size: int = 420) -> bytes:
    """A label as a phone sees it: the code on paper, on a bench, turned, and not quite sharp."""
    code = qrcode.make(text, border=4).convert("L").resize((size, size))
    bench = Image.new("L", (1600, 1200), 120)
    label = Image.new("L", (size + 260, size + 80), 250)
    label.paste(code, (40, 40))
    bench.paste(label.rotate(turned, expand=True, fillcolor=120), (320, 220))
    out = io.BytesIO()
    bench.filter(ImageFilter.GaussianBlur(blur)).save(out, "JPEG", quality=80)
    return out.getvalue()


@pytest.fixture
def browser(api: Any) -> Any:
    client = api.client.application.test_client()
    assert client.post("/enter", data={"key": api.shop.keys["laminator"]}).status_code == 303
    return client


def sent(browser: Any, content: bytes) -> Any:
    from service.api.access import COOKIE
    from service.operations.door.sessions import form_secret

    who = form_secret(browser.get_cookie(COOKIE).value)
    return browser.post("/scan", data={"photo": (io.BytesIO(content), "photo.jpg"), "_who": who})


@pytest.mark.parametrize(("turned", "blur"), [(0, 0.5), (12, 1.2), (-35, 1.0), (90, 1.5)])
def test_a_photo_of_a_label_leads_to_its_page(api: Any, browser: Any, turned: float, blur: float) -> None:
    can = makers.mixing(api).slow_can
    answer = sent(browser, photo(f"HTTP://LOCALHOST:8000/I/{can}/1", turned=turned, blur=blur))
    assert (answer.status_code, answer.headers.get("Location")) == (303, f"/I/{can}/1")


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "No photo came"), (b"no picture", "no JPEG"), (photo("https://elsewhere.example/x"), "")],
)
def test_a_photo_without_a_code_of_ours_says_what_to_do(browser: Any, content: bytes, said: str) -> None:
    answer = sent(browser, content)
    assert answer.status_code == 422
    assert said in answer.get_data(as_text=True)
    assert 'role="alert"' in answer.get_data(as_text=True)


def test_a_typed_code_is_read_as_it_is_meant(api: Any, browser: Any) -> None:
    can = makers.mixing(api).slow_can
    for typed in (can, can.lower(), f"{can[:-1]} {can[-1]}", can.replace("0", "O")):
        assert browser.get("/scan", query_string={"code": typed}).headers["Location"] == f"/I/{can}"
    wrong = browser.get("/scan", query_string={"code": can[:-1] + ("7" if can[-1] != "7" else "8")})
    assert wrong.status_code == 422


def test_an_unknown_thing_is_a_page_that_says_what_to_do(browser: Any) -> None:
    answer = browser.get("/I/C999999X", headers={"Accept": "text/html"})
    assert answer.status_code == 404
    assert answer.mimetype == "text/html"
    assert "Scan" in answer.get_data(as_text=True)
