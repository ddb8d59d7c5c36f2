"""Where a webhook may be sent: to the world, and to the shop's own network if a setting says so.

A name is looked up once, every address that it has is judged, and the request goes to one of those and nowhere else:
between the judgement and the sending no second look-up can lead to another machine.
"""

import ipaddress
import socket
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

LONGEST = 500

# An IPv6 address that stands for an IPv4 one behind a translator (RFC 6052).
_NAT64 = ipaddress.IPv6Network("64:ff9b::/96")


class Unsuitable(Exception):
    """An address to which nothing is sent; the sentence says why."""


class NotFound(Exception):
    """A name that nobody knows now; it may be known later."""


@dataclass(frozen=True, slots=True)
class Target:
    """An address taken apart: ``asked`` is path and query."""

    scheme: str
    host: str
    port: int
    asked: str

    @property
    def named(self) -> str:
        """Host and port as a request's header says them."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        usual = 443 if self.scheme == "https" else 80
        return host if self.port == usual else f"{host}:{self.port}"


def take_apart(url: str) -> Target:
    """Read an address, or say what is wrong with its form.

    >>> take_apart("https://orders.example:8443/hooks?shop=1")
    Target(scheme='https', host='orders.example', port=8443, asked='/hooks?shop=1')
    """
    if len(url) > LONGEST or not url.isascii() or not url.isprintable() or " " in url or "\\" in url:
        raise Unsuitable(
            f"Give an address of at most {LONGEST} plain characters, such as https://orders.example/hooks."
        )
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        raise Unsuitable("This is no address that can be read; write it as https://orders.example/hooks.") from None
    if parts.scheme not in ("https", "http") or not host:
        raise Unsuitable("Give an address that begins with https://, such as https://orders.example/hooks.")
    if parts.username is not None or parts.password is not None:
        raise Unsuitable("Leave user and password out of the address: what is sent is signed instead.")
    if parts.fragment:
        raise Unsuitable("Leave out what follows the #: it is never sent.")
    if port == 0:
        raise Unsuitable("Port 0 is none that anybody listens at.")
    asked = f"{parts.path or '/'}{'?' + parts.query if parts.query else ''}"
    return Target(parts.scheme, host, port or (443 if parts.scheme == "https" else 80), asked)


def find(
    target: Target, own: Iterable[Network] = (), *, resolve: Callable[..., Any] = socket.getaddrinfo
) -> tuple[str, ...]:
    """The addresses of a target's host, all of which may be sent to; in the order in which to try them.

    Raises ``NotFound`` where the name is not known, ``Unsuitable`` if any of them is one that nothing is sent to.
    """
    networks = tuple(own)
    try:
        found = resolve(target.host, target.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        raise NotFound(f"{target.host} is a name that is not known here now.") from None
    addresses = list(dict.fromkeys(ipaddress.ip_address(each[4][0].partition("%")[0]) for each in found))
    if not addresses:
        raise NotFound(f"{target.host} is a name that is not known here now.")
    barred = [str(one) for one in addresses if not may_be_sent_to(one, networks)]
    if barred:
        raise Unsuitable(f"{target.host} leads to {barred[0]}, which is no address in the open network.")
    if target.scheme == "http" and not all(_among(meant(one), networks) for one in addresses):
        raise Unsuitable("Into the open network it goes over https:// only; plain http:// is read on the way.")
    return tuple(str(one) for one in addresses)


def may_be_sent_to(address: Address, own: Iterable[Network] = ()) -> bool:
    """Is it an address of the open network, or one in the shop's ``own`` networks? Link-local is neither, ever.

    Python's `is_global` alone lets multicast, site-local and translated addresses through.

    >>> [may_be_sent_to(ipaddress.ip_address(text)) for text in ("9.9.9.9", "10.0.0.1", "::ffff:127.0.0.1")]
    [True, False, False]
    >>> may_be_sent_to(ipaddress.ip_address("10.0.0.1"), [ipaddress.ip_network("10.0.0.0/8")])
    True
    """
    address = meant(address)
    if address.is_link_local or address.is_multicast or address.is_unspecified:
        return False
    if _among(address, own):
        return True
    site_local = isinstance(address, ipaddress.IPv6Address) and address.is_site_local
    return address.is_global and not (address.is_reserved or address.is_private or site_local)


def meant(address: Address) -> Address:
    """The IPv4 address that an IPv6 one stands for, or the address itself.

    >>> meant(ipaddress.ip_address("64:ff9b::a9fe:a9fe")), meant(ipaddress.ip_address("2002:7f00:1::"))
    (IPv4Address('169.254.169.254'), IPv4Address('127.0.0.1'))
    """
    if isinstance(address, ipaddress.IPv4Address):
        return address
    for inner in (address.ipv4_mapped, address.sixtofour, (address.teredo or (None, None))[1]):
        if inner is not None:
            return inner
    if address in _NAT64 or (int(address) >> 32 == 0 and int(address) > 1):
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return address


def _among(address: Address, networks: Iterable[Network]) -> bool:
    return any(address.version == network.version and address in network for network in networks)


def networks(text: str) -> tuple[Network, ...]:
    """The networks of a setting, in which they stand with commas between them."""
    return tuple(ipaddress.ip_network(one) for one in text.split(",") if one)


class _Own:
    networks: tuple[Network, ...] = ()


def allow_own(text: str) -> None:
    """From now on the shop's own networks are those of this setting."""
    _Own.networks = networks(text)


def own_networks() -> tuple[Network, ...]:
    return _Own.networks
