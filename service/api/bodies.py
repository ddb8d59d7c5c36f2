"""The body of a request: whole or not at all, as its caller announced it, and no longer than its kind may be."""

import binascii
import hashlib
import re
from base64 import b64decode, b64encode
from typing import Any

from flask import Request
from flask_smorest import abort
from werkzeug.exceptions import ClientDisconnected, RequestEntityTooLarge

# A day's acts in one call are some 100 kB; what is longer was measured by a machine, and comes as its file.
JSON_BYTES = 1_000_000

# The names of RFC 9530 that are not deprecated, and what they are called here.
_DIGESTS = {"sha-256": hashlib.sha256, "sha-512": hashlib.sha512}
# A byte sequence as a member of a dictionary (RFC 8941): sha-256=:base64:, with parameters that say nothing to us.
_MEMBER = re.compile(r"(?P<name>[a-z*][a-z0-9_.*-]*)=:(?P<value>[A-Za-z0-9+/=]*):(?:;[^,]*)?")


class WholeRequest(Request):
    """A request that gives away its body only if that is the one which was announced."""

    def get_data(self, cache: bool = True, as_text: bool = False, parse_form_data: bool = False) -> Any:
        try:
            content = super().get_data(cache=cache, as_text=False, parse_form_data=parse_form_data)
        except ClientDisconnected:
            abort(400, message="The body ended before all of it had come, and nothing was kept; send it again whole.")
        if not getattr(self, "_is_whole", False):
            self._check(content)
            self._is_whole = True
        return content.decode() if as_text else content

    def _check(self, content: bytes) -> None:
        announced = self.content_length
        if announced is not None and len(content) != announced:
            abort(
                400,
                message=f"{len(content):,} of {announced:,} announced bytes came, and nothing was kept; "
                "send it again whole.",
            )
        for header in ("Repr-Digest", "Content-Digest"):
            for name, expected in _digests(header, self.headers.get(header, "")):
                if _DIGESTS[name](content).digest() != expected:
                    abort(
                        400,
                        message=f"What came is not what its {header} describes ({name}), and nothing was kept; "
                        "send it again whole.",
                    )


def _digests(header: str, text: str) -> list[tuple[str, bytes]]:
    """The digests that can be checked. Others may be there and are passed over (RFC 9530, 2)."""
    found = []
    for member in filter(None, (piece.strip() for piece in text.split(","))):
        read = _MEMBER.fullmatch(member)
        name = member.partition("=")[0]
        if name not in _DIGESTS:
            continue
        try:
            found.append((name, b64decode(read["value"], validate=True) if read else b""))
        except binascii.Error:
            read = None
        if read is None:
            abort(400, message=f"The header {header} must look like {name}=:BASE64: (RFC 9530).")
    return found


def json_content(request: Any) -> bytes:
    """The bytes of a JSON body."""
    request.max_content_length = JSON_BYTES
    try:
        return bytes(request.get_data())
    except RequestEntityTooLarge:
        abort(
            413,
            message="A JSON body may have 1 MB at most. Send less at once; what a machine measured comes as its file.",
        )
    raise AssertionError("unreachable")


def digest_header(sha256: str) -> str:
    """The header `Repr-Digest` of a content whose SHA-256 is known in hexadecimal.

    >>> digest_header("00" * 32)
    'sha-256=:AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=:'
    """
    return f"sha-256=:{b64encode(bytes.fromhex(sha256)).decode()}:"
