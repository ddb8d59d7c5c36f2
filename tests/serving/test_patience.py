"""Callers who are silent or slow: they are cut off, and nobody waits for them."""

import resource
import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager

import psycopg
import pytest

from service.serving.connection import Limits
from tests.conftest import Api
from tests.serving.conftest import Served, is_cut

SILENT = 1000


@pytest.fixture
def many_files() -> Iterator[None]:
    """As many open files as a thousand connections need on this side."""
    usual, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(usual, min(most, 3 * SILENT)), most))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (usual, most))


@contextmanager
def _callers(served: Served, count: int, *first: bytes) -> Iterator[list[socket.socket]]:
    """So many connections, on each of which these bytes were sent and nothing else."""
    with ExitStack() as stack:
        wires = [stack.enter_context(served.connect()) for _ in range(count)]
        for wire in wires:
            for piece in first:
                wire.sendall(piece)
        yield wires


def _slowest(served: Served, turns: int) -> float:
    """The slowest of so many acts and readings, in seconds; each on a connection of its own."""
    slowest = 0.0
    for turn in range(turns):
        for method, path, body in (
            ("POST", "/v1/places", {"name": f"Shelf {time.monotonic_ns()} {turn}"}),
            ("GET", "/v1/me", None),
            ("GET", "/healthz", None),
        ):
            begun = time.monotonic()
            status, answer = served.call(method, path, body)
            slowest = max(slowest, time.monotonic() - begun)
            assert status in (200, 201), answer
    return slowest


def test_a_thousand_silent_connections_stop_nobody(standing: Served, many_files: None) -> None:
    """Before a word, in the midst of a head, and after an answer: the scales go on, and the silent ones are cut off."""
    standing.call("GET", "/v1/me")
    with (
        _callers(standing, SILENT) as silent,
        _callers(standing, 200, b"GET /v1/me HTTP/1.1\r\nHost: ") as halfway,
        _callers(standing, 200, b"GET /healthz HTTP/1.1\r\nHost: a\r\n\r\n") as done,
    ):
        assert _slowest(standing, 10) < 3
        for wire in done:
            assert wire.recv(100).startswith(b"HTTP/1.1 200 ")
        with ThreadPoolExecutor(16) as pool:
            ends = list(pool.map(lambda wire: is_cut(wire, Limits().head_s + 10), silent + halfway))
    assert None not in ends


def test_a_head_that_drips_is_cut_off(standing: Served) -> None:
    with standing.connect() as wire:
        begun = time.monotonic()
        wire.sendall(b"GET /v1/me HTTP/1.1\r\nHost: a\r\nX-Slow: ")
        wire.settimeout(0.5)
        said = b""
        while time.monotonic() < begun + Limits().head_s + 10:
            try:
                wire.sendall(b"x")
                piece = wire.recv(1000)
                if not piece:
                    break
                said += piece
            except TimeoutError:
                continue
            except ConnectionError:
                break
    assert Limits().head_s - 1 < time.monotonic() - begun < Limits().head_s + 5
    assert said.startswith(b"HTTP/1.1 408 ")


def test_bodies_and_readers_that_are_slow_hold_no_thread(standing: Served) -> None:
    """More of each than there are threads in all processes."""
    body = standing.head("POST", "/v1/documents?name=a.txt", "Content-Length: 5000") + b"x"
    ask = standing.head("GET", "/openapi.json")
    with _callers(standing, 32, body), ExitStack() as stack:
        for _ in range(32):
            wire = stack.enter_context(socket.socket())
            wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            wire.connect(("127.0.0.1", standing.port))
            wire.sendall(ask)
        _slowest(standing, 3)  # the descriptions are made
        assert _slowest(standing, 10) < 3


def test_an_idle_server_stops_within_two_seconds(serve: Callable[..., Served]) -> None:
    """Nobody has anything under way: neither the silent, nor those whose request was answered."""
    fastest = 60.0
    for _ in range(3):
        served = serve()
        with (
            _callers(served, 20),
            _callers(served, 20, b"GET /healthz HTTP/1.1\r\nHost: a\r\n\r\n") as done,
            _callers(served, 20, b"GET / HTTP/1.1\r\nHost: a\r\n"),
        ):
            for wire in done:
                assert wire.recv(100).startswith(b"HTTP/1.1 200 ")
            fastest = min(fastest, served.stop())
        if fastest < 2:
            break
    assert fastest < 2


def test_what_is_under_way_at_the_stop_is_finished(serve: Callable[..., Served]) -> None:
    served = serve()
    statuses: list[int] = []
    asking = threading.Thread(target=lambda: statuses.append(served.call("GET", "/openapi.json")[0]))
    with served.connect() as wire:
        body = b'{"name": "Shelf B2"}'
        head = served.head("POST", "/v1/places", "Content-Type: application/json", f"Content-Length: {len(body)}")
        wire.sendall(head + body[:5])
        asking.start()
        time.sleep(0.3)
        stopping = threading.Thread(target=served.stop)
        stopping.start()
        time.sleep(0.3)
        wire.sendall(body[5:])
        assert wire.recv(1000).startswith(b"HTTP/1.1 201 ")
    asking.join()
    stopping.join()
    assert statuses == [200]


def test_a_lone_lock_holder_delays_writers_but_no_reader(api: Api, serve: Callable[..., Served]) -> None:
    """More acts wait than there are threads; what is read is answered meanwhile, and then the acts are done."""
    served = serve()
    served.call("GET", "/v1/me")
    with ThreadPoolExecutor(16) as pool:
        with _locked(api.url):
            begun = time.monotonic()
            acts = [pool.submit(served.call, "POST", "/v1/places", {"name": f"Shelf {n}"}) for n in range(16)]
            time.sleep(0.5)
            for _ in range(5):
                for path in ("/healthz", "/v1/me", "/v1/places", "/v1/journal"):
                    before = time.monotonic()
                    assert served.call("GET", path)[0] == 200
                    assert time.monotonic() - before < 2
            assert not any(act.done() for act in acts)
            assert time.monotonic() - begun < 8  # the acts give up after ten seconds
        assert [act.result()[0] for act in acts] == [201] * 16


@contextmanager
def _locked(url: str) -> Iterator[None]:
    """Somebody else is in the midst of writing and does not come to an end."""
    if url.startswith("postgresql"):
        with psycopg.connect(url) as db:
            db.execute("SELECT * FROM head FOR UPDATE")
            yield
            db.rollback()
        return
    other = sqlite3.connect(url.removeprefix("sqlite:///"), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield
    other.execute("ROLLBACK")
    other.close()
