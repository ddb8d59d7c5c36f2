"""How the server speaks HTTP: who is asked for a body, requests that come at once, and what is no request."""

import time

import pytest

from service.api.throttle import AT_ONCE, EACH_S
from tests.serving.conftest import Served

CONTENT = b"x" * 16_000
TO_DOCUMENTS = "/v1/documents?name=certificate.txt"


def test_a_stranger_cannot_make_the_server_take_a_long_body(standing: Served) -> None:
    """Without a key that opens something, the answer comes before the body is taken."""
    for who, status in ((None, 401), ("lead", None)):
        with standing.connect() as wire:
            wire.sendall(standing.head("POST", TO_DOCUMENTS, f"Content-Length: {len(CONTENT)}", who=who))
            wire.settimeout(1)
            if status is None:
                with pytest.raises(TimeoutError):
                    wire.recv(1)
            else:
                assert wire.recv(20).startswith(b"HTTP/1.1 401")


def test_a_caller_who_waits_to_be_asked_for_the_body_is_asked(standing: Served) -> None:
    for size in (2000, len(CONTENT)):
        lines = (f"Content-Length: {size}", "Expect: 100-continue")
        with standing.connect() as wire:
            wire.sendall(standing.head("POST", TO_DOCUMENTS, *lines))
            assert wire.recv(100).startswith(b"HTTP/1.1 100 ")
            wire.sendall(CONTENT[:size])
            assert wire.recv(100).startswith(b"HTTP/1.1 201 ")
        with standing.connect() as wire:
            wire.sendall(standing.head("POST", TO_DOCUMENTS, *lines, who=None))
            if size > 8192:
                assert wire.recv(100).startswith(b"HTTP/1.1 401 ")


def test_requests_that_come_at_once_are_answered_in_turn(standing: Served) -> None:
    one = standing.head("GET", "/v1/me")
    with standing.connect() as wire:
        wire.sendall(one * 3 + standing.head("GET", "/healthz", "Connection: close"))
        said = b""
        while piece := wire.recv(65_536):
            said += piece
    assert said.count(b"HTTP/1.1 200 ") == 4
    assert said.endswith(b'{"status":"ok"}\n') or b'"ok"' in said[-40:]


@pytest.mark.parametrize(
    "raw",
    [
        b"GARBAGE\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd",
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: -3\r\n\r\nabcd",
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n0\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip\r\n\r\nabcd",
        b"GET / HTTP/1.1\r\nHost: a\r\nA: " + b"x" * 70_000,
    ],
)
def test_what_is_no_request_is_answered_as_such(standing: Served, raw: bytes) -> None:
    status, headers, _ = standing.say(raw)
    assert status in (400, 431, 501)
    assert (headers["content-type"], headers["connection"]) == ("application/problem+json", "close")


def test_wrong_keys_are_counted_by_all_processes_together(standing: Served) -> None:
    """Each on a connection of its own, so that both processes get some; a proxy on this machine names the caller."""
    begun = time.monotonic()
    raw = b"GET /v1/me HTTP/1.1\r\nHost: a\r\nX-Forwarded-For: 192.0.2.7\r\nAuthorization: Bearer guess\r\n\r\n"
    statuses = [standing.say(raw)[0] for _ in range(3 * AT_ONCE)]
    more = int((time.monotonic() - begun) / EACH_S) + 1
    assert AT_ONCE <= statuses.count(401) <= AT_ONCE + more
    assert statuses.count(429) == 3 * AT_ONCE - statuses.count(401)
    logged = standing.log.read_text("utf-8")
    assert logged.count("wrong key from 192.0.2.7: GET '/v1/me'") == statuses.count(401)
    assert "guess" not in logged
