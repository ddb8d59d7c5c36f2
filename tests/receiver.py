"""A receiver of webhooks as somebody else would write it: a real server here, which answers as the test wants."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import orjson
import pytest
from jsonschema import validate

from service.api.events import add_webhooks
from service.sending import addresses


@dataclass
class Heard:
    """One request: its headers by their names in small letters, and its body to the letter."""

    headers: dict[str, str]
    body: str

    @property
    def message(self) -> str:
        return self.headers["webhook-id"]

    @property
    def told(self) -> Any:
        return orjson.loads(self.body)


@dataclass
class Receiver:
    """What it heard, and what it answers: a status, with headers of its own if there are any."""

    heard: list[Heard] = field(default_factory=list)
    answer: Callable[[Heard], tuple[int, dict[str, str]]] = lambda heard: (204, {})
    url: str = ""

    @property
    def events(self) -> list[str]:
        return [one.told["type"] for one in self.heard]


@contextmanager
def receiving() -> Iterator[Receiver]:
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            content = self.rfile.read(int(self.headers["Content-Length"])).decode()
            one = Heard({name.lower(): value for name, value in self.headers.items()}, content)
            receiver.heard.append(one)
            status, headers = receiver.answer(one)
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *said: Any) -> None:
            """What is heard is kept, not printed."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    receiver.url = f"http://127.0.0.1:{server.server_port}/potmark"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    """A receiver in the shop's own network, which a setting has opened; what it heard is as the description has it."""
    addresses.allow_own("127.0.0.0/8")
    with receiving() as receiver:
        yield receiver
    addresses.allow_own("")
    described: dict[str, Any] = {"components": {"schemas": {}}}
    add_webhooks(described)
    forms = {one["properties"]["type"]["const"]: one for one in described["components"]["schemas"].values()}
    for one in receiver.heard:
        if one.headers.get("content-type") == "application/json" and "type" in one.told:
            validate(one.told, forms[one.told["type"]])
