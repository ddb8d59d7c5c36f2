"""One signed request to the address that was judged: no redirect, no second look-up, no end but the deadline."""

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks.webhooks import Webhook

from service.certificates import make_certificate
from service.sending.addresses import networks
from service.sending.posting import as_said, post, signed
from tests.receiver import receiving

OWN = networks("127.0.0.0/8")
HERE = [(0, 0, 0, "", ("127.0.0.1", 0))]
AT = datetime(2026, 11, 3, 10, 0, tzinfo=timezone(timedelta(hours=1)))


@contextmanager
def _speaking(say: Callable[[socket.socket], object], context: ssl.SSLContext | None = None) -> Iterator[int]:
    """A server that says what it likes to the first who comes, byte for byte."""
    listening = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        wire, _ = listening.accept()
        with wire:
            try:
                talk = context.wrap_socket(wire, server_side=True) if context is not None else wire
                say(talk)
            except OSError:
                return  # whoever was there has gone

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield listening.getsockname()[1]
    finally:
        listening.close()
        thread.join(timeout=5)


def test_what_is_sent_is_signed_by_each_secret_as_the_standards_own_library_reads_it() -> None:
    new, old = bytes(range(32)), bytes(24)
    with receiving() as receiver:
        headers = signed('{"type":"part.released"}', message="7-abc-0", at=datetime.now(UTC), secrets=[new, old])
        outcome = post(receiver.url, '{"type":"part.released"}', headers, own=OWN)
    assert (outcome.status, outcome.delivered) == (204, True)
    (heard,) = receiver.heard
    for secret in (new, old):
        assert Webhook(as_said(secret)).verify(heard.body, heard.headers) == {"type": "part.released"}
    with pytest.raises(Exception, match="No matching signature"):
        Webhook(as_said(b"x" * 32)).verify(heard.body, heard.headers)
    told = signed("{}", message="m", at=AT, secrets=[new])
    assert told["webhook-timestamp"] == "1793696400", "the instant, not the figures of a zone"
    assert told["webhook-signature"] == Webhook(new).sign("m", AT.astimezone(UTC), "{}")


def test_a_redirect_is_a_failure_and_a_name_is_looked_up_once() -> None:
    asked = []

    def once(host: str, port: int, **more: Any) -> Any:
        asked.append(host)
        return HERE if len(asked) == 1 else [(0, 0, 0, "", ("10.9.9.9", port))]

    with receiving() as receiver:
        receiver.answer = lambda heard: (307, {"Location": "/elsewhere", "Retry-After": "120"})
        url = receiver.url.replace("127.0.0.1", "orders.example")
        outcome = post(url, "{}", {}, own=OWN, resolve=once)
    assert (outcome.status, outcome.delivered, outcome.wait_s, asked) == (307, False, 120.0, ["orders.example"])
    assert len(receiver.heard) == 1
    assert receiver.heard[0].headers["host"] == url.split("/")[2], "the receiver is asked for by its name"


def test_who_answers_too_slowly_is_cut_off_and_half_a_head_is_no_answer() -> None:
    def drip(wire: socket.socket) -> None:
        for letter in b"HTTP/1.1 200 OK\r\nX-Slow: " + b"a" * 500:
            wire.sendall(bytes([letter]))
            time.sleep(0.05)

    with _speaking(drip) as port:
        begun = time.monotonic()
        outcome = post(f"http://127.0.0.1:{port}/", "{}", {}, own=OWN, seconds=1)
    assert (outcome.status, outcome.said) == (None, "no whole answer within 1 s")
    assert time.monotonic() - begun < 4
    with _speaking(lambda wire: (wire.recv(4096), wire.sendall(b"SSH-2.0-OpenSSH_9\r\n\r\n"))) as port:
        assert post(f"http://127.0.0.1:{port}/", "{}", {}, own=OWN).said == "what was answered is no HTTP"
    assert post(f"http://127.0.0.1:{port}/", "{}", {}, own=OWN).said == "nothing listens there"


def test_over_tls_the_certificate_has_to_be_the_names_and_trusted(tmp_path: Path) -> None:
    made = make_certificate(tmp_path, ["orders.example"], at=datetime.now(UTC))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made.certificate, made.key)
    trusting = ssl.create_default_context(cafile=str(made.authority))

    def answer(wire: socket.socket) -> None:
        heard = b""
        while not heard.endswith(b"{}"):
            heard += wire.recv(4096)
        wire.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\n\r\n")

    def sent(name: str, own: ssl.SSLContext | None) -> str:
        with _speaking(answer, context) as port:
            here = [(0, 0, 0, "", ("127.0.0.1", port))]
            return post(f"https://{name}:{port}/", "{}", {}, own=OWN, context=own, resolve=lambda *a, **m: here).said

    assert sent("orders.example", trusting) == "answered 200"
    assert sent("orders.example", None).startswith("its certificate is not trusted: ")
    assert sent("other.example", trusting).startswith("its certificate is not trusted: Hostname mismatch")


def test_at_sending_a_name_that_now_leads_inside_is_refused_in_a_sentence() -> None:
    outcome = post("https://orders.example/hooks", "{}", {}, resolve=lambda *asked, **more: HERE)
    assert (outcome.status, outcome.said) == (
        None, "orders.example leads to 127.0.0.1, which is no address in the open network"
    )  # fmt: skip
