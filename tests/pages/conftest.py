"""A real browser on the served pages: one browser for the whole run, a fresh profile for each test."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from werkzeug.serving import make_server

from service.app import create_app
from service.config import Settings
from tests.fresh import PEPPER

# A shop's own network has no TLS: under this name the browser treats the service as it would there (no service worker,
# no Sec-Fetch headers). 127.0.0.1 would count as secure and hide it.
HOST = "potmark.shop"
SIZES = {"phone": (390, 844), "desk": (1280, 800)}
expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path="/usr/bin/chromium",
            args=["--no-sandbox", "--disable-background-networking", f"--host-resolver-rules=MAP {HOST} 127.0.0.1"],
        )
        yield launched
        launched.close()


@dataclass
class Tablet:
    """A browser with somebody's session, and what it complained of."""

    context: BrowserContext
    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)

    def sign_on(self, key: str, after: str = "/scan") -> None:
        self.open(f"/enter?next={after}")
        self.page.get_by_label("Key").fill(key)
        self.page.get_by_role("button", name="Enter").click()


@pytest.fixture
def shop_network() -> str:
    """From where the pages are read without a session, and entered by badge."""
    return ""


@pytest.fixture
def served(api: Any, database_url: str, signing: dict[str, str], shop_network: str) -> Iterator[str]:
    """The pages on a port of their own, over the database of this test."""
    settings = Settings(
        database=database_url, shop_network=shop_network, secrets_key=str(api.accounts.folder / PEPPER), **signing
    )
    app = create_app(settings, clock=api.shop.clock)
    server = make_server("127.0.0.1", 0, app, threaded=True)
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
    yield f"http://{HOST}:{server.server_port}"
    server.shutdown()
    server.server_close()


@pytest.fixture(params=["phone"])
def size(request: pytest.FixtureRequest) -> tuple[int, int]:
    return SIZES[request.param]


@pytest.fixture
def new_tablet(browser: Browser, served: str, size: tuple[int, int]) -> Iterator[Any]:
    """Tablets that nobody has signed on at yet."""
    made: list[Tablet] = []

    def new() -> Tablet:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]})
        context.set_default_timeout(30_000)
        tablet = Tablet(context, context.new_page(), served)
        tablet.page.on(
            "console",
            lambda m: tablet.complaints.append(m.text) if "Content Security Policy" in m.text else None,
        )
        tablet.page.on("pageerror", lambda e: tablet.complaints.append(str(e)))
        made.append(tablet)
        return tablet

    yield new
    for tablet in made:
        tablet.context.close()
        assert tablet.complaints == []


@pytest.fixture
def tablet(new_tablet: Any, api: Any) -> Tablet:
    """A tablet at which the laminator has signed on."""
    made: Tablet = new_tablet()
    made.sign_on(api.shop.keys["laminator"])
    return made
