"""How many wrong keys an address may try, and how often a key may ask: counted by all server processes together."""

import hashlib
import ipaddress
import math
import secrets
import struct

from service.api.shared_memory import SharedMemory

# As many at once, and then one for every so many seconds: a mistyped key is typed again, a guess never comes true.
AT_ONCE = 10
EACH_S = 6.0

_PLACES = 4096
_BUCKET = struct.Struct("<dd")  # how full, and when


class Throttle:
    """A leaky bucket for each address. Two that share a place share what is let through; both were wrong."""

    def __init__(self, *, at_once: int = AT_ONCE, each_s: float = EACH_S) -> None:
        self._at_once, self._each_s = at_once, each_s
        self._secret = secrets.token_bytes(16)
        self._memory = SharedMemory(_PLACES * _BUCKET.size)

    def wait_s(self, address: str, now_s: float) -> float:
        """Count one try from ``address``. How many seconds it comes too early; 0 if it is let through.

        ``now_s`` is a clock that all processes share and that never goes back.
        """
        return self.take(address, now_s)[0]

    def take(self, address: str, now_s: float) -> tuple[float, int]:
        """The same, and how many more may come at once."""
        at = self._place(address) * _BUCKET.size
        with self._memory.alone(at, _BUCKET.size):
            level, since = _BUCKET.unpack_from(self._memory.bytes, at)
            level = max(0.0, level - (now_s - since) / self._each_s)
            if level + 1 > self._at_once:
                return math.ceil((level + 1 - self._at_once) * self._each_s), 0
            _BUCKET.pack_into(self._memory.bytes, at, level + 1, now_s)
            return 0, int(self._at_once - level - 1)

    def _place(self, address: str) -> int:
        digest = hashlib.blake2b(_network(address).encode(), key=self._secret, digest_size=8).digest()
        return int.from_bytes(digest, "big") % _PLACES


def _network(address: str) -> str:
    """What one caller has: an IPv4 address, or the 2^64 addresses of an IPv6 network.

    >>> _network("192.0.2.7"), _network("2001:db8::1") == _network("2001:db8::2")
    ('192.0.2.7', True)
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(found) if found.version == 4 else str(ipaddress.ip_network((int(found), 64), strict=False))
