"""What printed codes lead to: the address of this service, and whether a phone in the shop can open it."""

import ipaddress
import socket
import ssl
import urllib.request
from urllib.parse import urlsplit

_EVERYWHERE = ("0.0.0.0", "::")
# Enough for a service in the same network, and nobody at a bench waits longer for a label.
_PATIENCE_S = 2.0
# An address that belongs to nobody (RFC 5737): nothing is sent there, the system is only asked which way it would go.
_ELSEWHERE = ("192.0.2.1", 9)


def served_at(bind: str, *, tls: bool) -> str:
    """The address of a service at ``bind``; one that listens everywhere is found at its address in the network."""
    host, _, port = bind.rpartition(":")
    if host.strip("[]") in _EVERYWHERE:
        host = own_address() or "127.0.0.1"
    return f"{'https' if tls else 'http'}://{host}:{port}"


def own_address() -> str | None:
    """This machine's address in the network that it would use, or nothing if it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect(_ELSEWHERE)
        except OSError:
            return None
        found = str(trial.getsockname()[0])
    return None if ipaddress.ip_address(found).is_loopback else found


def opens_only_here(address: str) -> bool:
    """Is this a loopback address, which means another machine on every machine?

    >>> opens_only_here("http://127.0.0.1:8000"), opens_only_here("https://potmark.example")
    (True, False)
    """
    host = urlsplit(address).hostname or ""
    if host == "localhost" or host.endswith(".localhost"):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def answers(address: str) -> bool:
    """Does a Potmark answer at this address, asked from here? Whose certificate it shows is the phone's question."""
    unchecked = ssl.create_default_context()
    unchecked.check_hostname = False
    unchecked.verify_mode = ssl.CERT_NONE
    direct = urllib.request.build_opener(
        urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=unchecked)
    )
    try:
        with direct.open(f"{address}/healthz", timeout=_PATIENCE_S) as answer:
            return bool(answer.status == 200)
    except (OSError, ValueError):
        return False


def doubt(address: str) -> str | None:
    """Why a printed code with this address would not open on a phone, as one sentence; nothing if it would."""
    if opens_only_here(address):
        return (
            f"Printed codes lead to {address}, which no phone can open: it is this machine's name for itself. "
            "Set POTMARK_BIND to an address in the shop's network, or POTMARK_ADDRESS to what phones can open."
        )
    if not answers(address):
        return (
            f"Printed codes lead to {address}, and nothing answers there. "
            "Set POTMARK_ADDRESS to the address at which phones in the shop reach this service."
        )
    return None
