"""TLS from the server itself, with no proxy before it, and with the same patience."""

import socket
import ssl
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.certificates import Made, make_certificate
from service.config import Settings
from service.opening import Trouble
from service.serving import tls_context
from service.serving.connection import Limits
from tests.serving.conftest import Served, is_cut


@pytest.fixture
def made(tmp_path: Path) -> Made:
    return make_certificate(tmp_path / "tls", ["127.0.0.1"], at=datetime.now(UTC))


def _shake_hands(served: Served) -> ssl.SSLSocket:
    context = ssl.create_default_context(cafile=str(served.trusted))
    return context.wrap_socket(served.connect(), server_hostname="127.0.0.1")


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_the_service_answers_over_tls_and_cuts_off_who_does_not_shake_hands(
    made: Made, serve: Callable[..., Served]
) -> None:
    served = serve(trusted=made.authority, tls_certificate=str(made.certificate), tls_key=str(made.key))
    assert f"answers at https://127.0.0.1:{served.port}" in served.log.read_text("utf-8")
    with ExitStack() as stack:
        silent = [stack.enter_context(served.connect()) for _ in range(300)]
        after = [stack.enter_context(_shake_hands(served)) for _ in range(20)]
        for turn in range(5):
            begun = time.monotonic()
            assert served.call("POST", "/v1/places", {"name": f"Shelf {turn}"})[0] == 201
            status, description = served.call("GET", "/openapi.json")
            assert (status, len(description["paths"]) > 100) == (200, True)
            if turn:  # the description is made once in each process
                assert time.monotonic() - begun < 5
        ends = [is_cut(wire, Limits().head_s + 10) for wire in silent + after]
    assert None not in ends

    with served.connect() as plain:
        plain.sendall(b"GET /healthz HTTP/1.1\r\nHost: a\r\n\r\n")
        assert b"HTTP" not in plain.recv(100)
    with _shake_hands(served) as wire:
        wire.sendall(served.head("POST", "/v1/documents?name=a.txt", "Content-Length: 10") + b"abc")
        wire.shutdown(socket.SHUT_WR)
    assert served.call("GET", "/enter")[0] == 200
    with _shake_hands(served):
        assert served.stop() < 10


def test_a_key_or_certificate_that_is_none_is_said_at_the_start(made: Made, tmp_path: Path) -> None:
    other = make_certificate(tmp_path / "other", ["127.0.0.1"], at=datetime.now(UTC))
    crt, key = str(made.certificate), str(made.key)
    (tmp_path / "empty").write_text("")
    for certificate, of, said in (
        (crt, str(other.key), "is not that of"),
        (key, key, "must hold a certificate"),
        (str(tmp_path / "empty"), key, "must hold a certificate"),
        (crt, str(tmp_path / "empty"), "must hold a certificate"),
        (str(tmp_path / "missing"), key, "POTMARK_TLS_CERTIFICATE names, cannot be read"),
        (crt, str(tmp_path), "POTMARK_TLS_KEY names, cannot be read"),
    ):
        with pytest.raises(Trouble, match=said):
            tls_context(Settings(tls_certificate=certificate, tls_key=of))
    assert tls_context(Settings(tls_certificate=crt, tls_key=key)) is not None
    assert tls_context(Settings()) is None
