"""A certificate for the shop's own network: what a phone that trusts the authority accepts, and what it does not."""

import http.server
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from service.certificates import Made, in_words, make_certificate
from service.opening import Trouble

AT = datetime.now(UTC).replace(microsecond=0)


@contextmanager
def _serving(made: Made) -> Iterator[int]:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made.certificate, made.key)
    server = http.server.HTTPServer(("127.0.0.1", 0), http.server.BaseHTTPRequestHandler)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def _shakes_hands(port: int, trusted: Path, name: str) -> str:
    """Empty if a client that trusts this authority accepts the server under this name, else its reason."""
    import socket

    context = ssl.create_default_context(cafile=str(trusted))
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    with socket.create_connection(("127.0.0.1", port), timeout=5) as plain:
        try:
            with context.wrap_socket(plain, server_hostname=name):
                return ""
        except ssl.SSLCertVerificationError as error:
            return str(error.verify_message)


def test_a_phone_that_trusts_the_authority_accepts_the_service_by_each_of_its_names(tmp_path: Path) -> None:
    made = make_certificate(tmp_path, ["potmark.heron-yard.example", "127.0.0.1"], at=AT)
    with _serving(made) as port:
        assert _shakes_hands(port, made.authority, "potmark.heron-yard.example") == ""
        assert _shakes_hands(port, made.authority, "127.0.0.1") == ""
        assert "Hostname mismatch" in _shakes_hands(port, made.authority, "elsewhere.example")


def test_the_authority_vouches_for_nothing_but_the_shop(tmp_path: Path) -> None:
    """Its key in other hands opens no other site: a client refuses a bank's name signed with it."""
    made = make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    from service import certificates

    authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
    signing = load_pem_private_key((tmp_path / "authority.key").read_bytes(), None)
    own = load_pem_private_key(made.key.read_bytes(), None)
    forged = certificates._service(
        authority,
        signing,
        own,
        [x509.DNSName("bank.example")],
        AT,
        AT + timedelta(days=90),  # type: ignore[arg-type]
    )
    made.certificate.write_bytes(certificates._text(forged) + certificates._text(authority))
    with _serving(made) as port:
        assert "permitted subtree violation" in _shakes_hands(port, made.authority, "bank.example")


def test_renewing_keeps_the_authority_that_the_phones_trust(tmp_path: Path) -> None:
    first = make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT - timedelta(days=700))
    before = first.authority.read_bytes()
    again = make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    assert (first.authority_is_new, again.authority_is_new) == (True, False)
    assert again.authority.read_bytes() == before
    with _serving(again) as port:
        assert _shakes_hands(port, again.authority, "potmark.heron-yard.example") == ""


def test_the_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    modes = {file.name: oct(file.stat().st_mode & 0o777) for file in tmp_path.iterdir()}
    assert modes == {
        "authority.crt": "0o644", "authority.key": "0o600", "potmark.crt": "0o644", "potmark.key": "0o600",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: (folder / "authority.key").unlink(), "bring the authority's key back"),
        (lambda folder: (folder / "authority.crt").write_text("no certificate"), "cannot be read"),
        (lambda folder: (folder / "authority.key").write_text("no key"), "cannot be read"),
    ],
)
def test_an_authority_that_cannot_be_used_is_named_and_left_alone(
    tmp_path: Path, spoil: Callable[[Path], None], said: str
) -> None:
    make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    spoil(tmp_path)
    before = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    with pytest.raises(Trouble, match=said):
        make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == before


def test_another_name_needs_another_authority(tmp_path: Path) -> None:
    make_certificate(tmp_path, ["potmark.heron-yard.example"], at=AT)
    with pytest.raises(Trouble, match="may not vouch for 192"):
        make_certificate(tmp_path, ["potmark.heron-yard.example", "192.168.1.20"], at=AT)


@pytest.mark.parametrize("name", ["bücher.example"])
def test_a_name_that_no_certificate_can_carry_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(Trouble, match="neither a host name nor an address"):
        make_certificate(tmp_path, [name], at=AT)


def test_a_folder_that_is_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "here").write_text("")
    with pytest.raises(Trouble, match="No certificate can be kept"):
        make_certificate(tmp_path / "here", ["potmark.example"], at=AT)


def test_the_words_name_the_settings_the_fingerprint_and_how_a_phone_is_told(tmp_path: Path) -> None:
    made = make_certificate(tmp_path, ["potmark.example"], at=AT)
    words = in_words(made)
    for expected in ("POTMARK_TLS_CERTIFICATE=", "POTMARK_TLS_KEY=", made.fingerprint, "Android", "iPhone"):
        assert expected in words
