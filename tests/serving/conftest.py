"""The real server, and what can be done to it over bare sockets."""

import http.client
import json
import os
import signal
import socket
import ssl
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import POTMARK, clean_environment
from tests.conftest import NOW, Api
from tests.fresh import PEPPER, found


@dataclass
class Served:
    """A server on the account of a test."""

    process: subprocess.Popen[bytes]
    port: int
    keys: dict[str, str]
    log: Path
    trusted: Path | None = None

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=30)

    def head(self, method: str, path: str, *lines: str, who: str | None = "lead") -> bytes:
        """The head of a request."""
        key = [f"Authorization: Bearer {self.keys[who]}"] if who else []
        return "\r\n".join([f"{method} {path} HTTP/1.1", "Host: potmark.example", *key, *lines, "", ""]).encode()

    def say(self, raw: bytes, *, close: bool = False) -> tuple[int, dict[str, str], bytes]:
        """What is answered to these bytes: status, headers, content. ``close`` ends the sending side after them."""
        with self.connect() as wire:
            wire.sendall(raw)
            if close:
                wire.shutdown(socket.SHUT_WR)
            return heard(wire)

    def call(self, method: str, path: str, body: Any = None, who: str = "lead", **headers: str) -> tuple[int, Any]:
        """One request in the ordinary way, on a connection of its own."""
        sent = {"Authorization": f"Bearer {self.keys[who]}", "Content-Type": "application/json"}
        sent.update({name.replace("_", "-"): value for name, value in headers.items()})
        if self.trusted is None:
            connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        else:
            context = ssl.create_default_context(cafile=str(self.trusted))
            connection = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=30, context=context)
        try:
            connection.request(
                method, path, body if body is None or isinstance(body, bytes) else json.dumps(body), sent
            )
            response = connection.getresponse()
            content = response.read()
            is_json = "json" in response.headers.get_content_type()
            return response.status, json.loads(content) if is_json else content
        finally:
            connection.close()

    def stop(self) -> float:
        """Stop it as a service is stopped; how many seconds that took."""
        begun = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(timeout=40) == 0
        return time.monotonic() - begun


def heard(wire: socket.socket) -> tuple[int, dict[str, str], bytes]:
    response = http.client.HTTPResponse(wire)
    response.begin()
    return response.status, {name.lower(): value for name, value in response.getheaders()}, response.read()


def is_cut(wire: socket.socket, within_s: float) -> float | None:
    """After how many seconds the other side ended the connection; nothing if it did not."""
    begun = time.monotonic()
    wire.settimeout(0.2)
    while time.monotonic() < begun + within_s:
        with suppress(TimeoutError):
            try:
                if wire.recv(65_536) == b"":
                    return time.monotonic() - begun
            except ConnectionError:
                return time.monotonic() - begun
    return None


@contextmanager
def serving(url: str, keys: dict[str, str], folder: Path) -> Iterator[Callable[..., Served]]:
    started: list[subprocess.Popen[bytes]] = []

    def start(trusted: Path | None = None, **settings: str) -> Served:
        environment = {**clean_environment(), "POTMARK_DATABASE": url}
        environment.update({f"POTMARK_{name.upper()}": value for name, value in settings.items()})
        log = folder / f"server-{len(started)}.log"
        with log.open("wb") as out:
            process = subprocess.Popen([POTMARK, "serve"], env=environment, stdout=out, stderr=out,
                                       start_new_session=True)  # fmt: skip
        started.append(process)
        port = int(environment["POTMARK_BIND"].rpartition(":")[2])
        served = Served(process, port, keys, log, trusted)
        until = time.monotonic() + 60
        while "answers at" not in log.read_text("utf-8"):
            assert process.poll() is None, log.read_text("utf-8")
            assert time.monotonic() < until, "no server in 60 s"
            time.sleep(0.05)
        return served

    # Inside a test the block may be left by what failed; nothing goes on serving after it.
    try:
        yield start
    finally:
        for process in started:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@pytest.fixture
def serve(api: Api, tmp_path: Path) -> Iterator[Callable[..., Served]]:
    """Serve the account that the test works on, with these settings."""
    with serving(api.url, api.shop.keys, tmp_path) as start:
        yield start


@pytest.fixture
def served(serve: Callable[..., Served]) -> Served:
    return serve()


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server for all tests of a file, on an account that none of them looks at."""
    folder = tmp_path_factory.mktemp("standing")
    founded = found(f"sqlite:///{folder}/potmark.db", NOW, folder / PEPPER)
    with serving(f"sqlite:///{folder}/potmark.db", founded.keys, folder) as start:
        yield start()
