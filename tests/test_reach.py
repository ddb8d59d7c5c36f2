"""What printed codes lead to, and whether a phone could open it."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest

from service import reach
from service.config import read_settings
from tests import makers


@pytest.fixture
def answering() -> Iterator[str]:
    """The address of a server on this machine that answers 200 to everything."""

    class Yes(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Yes)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def test_codes_lead_to_what_is_really_served_unless_told_otherwise() -> None:
    assert read_settings({}).address == "http://127.0.0.1:8000"
    assert read_settings({"POTMARK_BIND": "192.168.1.20:8080"}).address == "http://192.168.1.20:8080"
    told = {"POTMARK_BIND": "127.0.0.1:8000", "POTMARK_ADDRESS": "https://potmark.example/"}
    assert read_settings(told).address == "https://potmark.example"


def test_a_service_that_listens_everywhere_is_not_printed_as_nowhere() -> None:
    address = read_settings({"POTMARK_BIND": "0.0.0.0:8000"}).address
    assert "0.0.0.0" not in address
    assert address == f"http://{reach.own_address() or '127.0.0.1'}:8000"


@pytest.mark.parametrize(
    "address", ["http://127.0.0.1:8000", "https://localhost", "http://127.8.0.1:1", "http://shop.localhost:8000"]
)
def test_a_loopback_address_opens_on_no_phone(address: str) -> None:
    assert "no phone can open" in str(reach.doubt(address))


def test_an_address_where_nothing_answers_is_doubted(answering: str) -> None:
    assert reach.answers(answering)
    assert not reach.answers("http://127.0.0.1:9")
    # A name that is not loopback by its looks, so that the second question is asked.
    assert "nothing answers there" in str(reach.doubt("http://potmark.invalid:9"))


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_label_whose_code_opens_nowhere_says_so_when_it_is_issued(api: Any) -> None:
    shelf = makers.place(api)
    made = api.post(f"/v1/items/{shelf}/labels", {"size": "100x50"}, Idempotency_Key="shelf")
    assert "http://127.0.0.1:8000, which no phone can open" in made["notice"]
    assert api.post(f"/v1/items/{shelf}/labels", {"size": "100x50"}, Idempotency_Key="shelf") == made
