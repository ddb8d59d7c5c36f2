"""What comes in is whole or not kept, whatever becomes of the connection it came by."""

import socket
import time
from base64 import b64encode
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256, sha512
from typing import Any

from service.records.journal import Document
from tests import makers
from tests.logger_files import SEMICOLONS, every, ramp, semicolons
from tests.serving.conftest import Served

CONTENT = b"".join(b"%07d\n" % n for n in range(2000))
TO_DOCUMENTS = "/v1/documents?name=certificate.txt"


def _chunks(content: bytes, size: int = 4000) -> bytes:
    pieces = [content[i : i + size] for i in range(0, len(content), size)]
    return b"".join(b"%x\r\n%s\r\n" % (len(piece), piece) for piece in pieces)


def _files() -> int:
    return int(Document.select().count())


def _soon(held: Callable[[], bool]) -> bool:
    until = time.monotonic() + 5
    while not held() and time.monotonic() < until:
        time.sleep(0.05)
    return held()


def test_a_cut_upload_is_not_kept_and_its_key_is_free_for_the_whole_file(served: Served) -> None:
    """Cut after a part of the body, with a length announced or in chunks, by closing half or all of the connection."""
    before = _files()
    key = "Idempotency-Key: certificate 1"
    length = served.head("POST", TO_DOCUMENTS, key, f"Content-Length: {len(CONTENT)}")
    chunked = served.head("POST", TO_DOCUMENTS, key, "Transfer-Encoding: chunked")
    for raw in (length + CONTENT[:1000], length + CONTENT[:-1], chunked + _chunks(CONTENT), chunked + b"fa0\r\n1234"):
        status, headers, content = served.say(raw, close=True)
        assert (status, headers["content-type"]) == (400, "application/problem+json")
        assert b"ended before all of it had come" in content
        with served.connect() as wire:
            wire.sendall(raw)
        assert served.call("GET", "/healthz")[0] == 200
    assert _files() == before
    status, _, content = served.say(chunked + _chunks(CONTENT) + b"0\r\n\r\n")
    assert status == 201, content
    kept = Document.select().order_by(Document.id.desc()).get()
    assert (_files(), bytes(kept.content)) == (before + 1, CONTENT)


def test_a_cut_act_is_not_done(served: Served) -> None:
    body = b'{"name": "Shelf B2"}'
    head = served.head("POST", "/v1/places", "Content-Type: application/json", f"Content-Length: {len(body) + 1}",
                       "Idempotency-Key: shelf")  # fmt: skip
    assert served.say(head + body, close=True)[0] == 400
    assert served.call("GET", "/v1/places")[1] == []
    assert served.say(head + body + b" ")[0] == 201


def test_a_body_beyond_the_limit_is_refused_and_never_cut(serve: Callable[..., Served]) -> None:
    served, before = serve(upload_mb="1"), _files()
    long = b"x" * 1_000_001
    announced = served.head("POST", TO_DOCUMENTS, f"Content-Length: {len(long)}")
    chunked = served.head("POST", TO_DOCUMENTS, "Transfer-Encoding: chunked")
    for raw in (announced, announced + long, chunked + _chunks(long)):
        assert served.say(raw)[0] == 413
    assert _files() == before
    assert served.say(chunked + _chunks(long[:-1]) + b"0\r\n\r\n")[0] == 201


def test_what_comes_is_what_its_digest_describes(served: Served) -> None:
    """RFC 9530, sha-256 and sha-512; another kind of digest is passed over, as it says."""
    before = _files()
    other = b64encode(sha256(CONTENT[:-1]).digest()).decode()
    first, second = b64encode(sha256(CONTENT).digest()).decode(), b64encode(sha512(CONTENT).digest()).decode()

    def send(*lines: str) -> tuple[int, bytes]:
        head = served.head("POST", TO_DOCUMENTS, f"Content-Length: {len(CONTENT)}", "Idempotency-Key: one", *lines)
        status, _, content = served.say(head + CONTENT)
        return status, content

    for wrong in (f"sha-256=:{other}:", f"sha-256=:{first}:, sha-512=:{first}:"):
        status, content = send(f"Repr-Digest: {wrong}")
        assert status == 400
        assert b"nothing was kept" in content
    status, content = send("Repr-Digest: sha-256=" + sha256(CONTENT).hexdigest())
    assert status == 400
    assert b"sha-256=:BASE64:" in content
    assert send(f"Content-Digest: sha-512=:{other}:")[0] == 400
    assert _files() == before
    assert send(f"Repr-Digest: md5=:AAAA:, sha-512=:{second}:, sha-256=:{first}:")[0] == 201


def test_a_logger_whose_connection_breaks_fails_no_cure_and_passes_none(api: Any, serve: Callable[..., Served]) -> None:
    """The overshoot stands at the end of the file: cut before it, the file would prove a good cure."""
    began = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=12)
    api.shop.clock.now = began
    schedule = makers.schedule(api, start_within_min=120)
    logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    cure = api.post("/v1/cures", {"schedule": schedule["name"], "parts": [makers.laid_up_part(api)]})["code"]
    curve = ramp([(0, 20), (80, 60), (640, 60), (650, 140)])
    raw = semicolons(began, every(5, until_min=700), {"root": curve, "tip": curve, "air": curve})
    served = serve()
    path = f"/v1/cures/{cure}/logs?logger={logger}&part_probes=root,tip&air_probes=air"
    head = served.head("POST", path, "Idempotency-Key: night", f"Content-Length: {len(raw)}")
    cut = raw.index(b"\n", len(raw) * 9 // 10) + 1
    assert served.say(head + raw[:cut], close=True)[0] == 400
    with served.connect() as wire:
        wire.sendall(head + raw[:cut])
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
    assert served.call("GET", f"/v1/cures/{cure}")[1]["logs"] == []
    status, _, content = served.say(head + raw)
    assert status == 201, content
    assert served.call("GET", f"/v1/cures/{cure}")[1]["verdict"]["passed"] is False
