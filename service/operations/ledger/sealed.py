"""The head of the journal as a signed statement: written, signed, read and proved; no database, no clock.

A head says how far the journal had come at a time: the number and hash of its last entry, the hash of its first one (so
that a head of another account is told apart), the head before it, and what documents were issued since then. It is
signed with Ed25519 (RFC 8032) over its canonical JSON (RFC 8785). Whoever keeps it elsewhere can show later that the
journal still begins with just those entries.
"""

import base64
import binascii
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import rfc8785

FORMAT = "potmark head 1"
# Of a hash in hexadecimal, as it is printed for people to keep: 80 bits.
PRINTED = 20
_HASH = re.compile(r"[0-9a-f]{64}")


class NotAHead(ValueError):
    """What was given as a head is none, or not as it was signed; the sentence says why."""


@dataclass(frozen=True, slots=True)
class IssuedDocument:
    """A document that was issued: its number, which issue of it, and the SHA-256 of its bytes."""

    document: str
    issue: int
    sha256: str


@dataclass(frozen=True, slots=True)
class JournalHead:
    """What a head says.

    Attributes
    ----------
    number, hash : of the last entry.
    at : when it was signed, by the signer's clock.
    founding : hash of the first entry.
    before : number and hash of the head that the same signer signed before.
    documents : issued since then.
    abandoned : numbers of earlier heads that do not hold any more since the account was restored from a backup.
    """

    number: int
    hash: str
    at: datetime
    founding: str
    before: tuple[int, str] | None = None
    documents: tuple[IssuedDocument, ...] = ()
    abandoned: tuple[int, ...] = ()

    def canonical(self) -> str:
        """The text that is signed."""
        said: dict[str, Any] = {
            "format": FORMAT,
            "number": self.number,
            "hash": self.hash,
            "at": self.at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
            "founding": self.founding,
            "before": None if self.before is None else {"number": self.before[0], "hash": self.before[1]},
            "documents": [{"document": d.document, "issue": d.issue, "sha256": d.sha256} for d in self.documents],
            "abandoned": list(self.abandoned),
        }
        return rfc8785.dumps(said).decode()


@dataclass(frozen=True, slots=True)
class SignedHead:
    """A head with its signature and the public key that proves it, both in base64."""

    head: JournalHead
    text: str = field(repr=False)
    signature: str
    public_key: str

    def as_file(self) -> str:
        """What is kept elsewhere; `read_head` reads it again."""
        said = {"head": self.text, "signature": self.signature, "public_key": self.public_key}
        return json.dumps(said, indent=1) + "\n"


def sign_head(head: JournalHead, private_key: bytes) -> SignedHead:
    """Sign with an Ed25519 key of 32 bytes."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    key, text = Ed25519PrivateKey.from_private_bytes(private_key), head.canonical()
    return SignedHead(head, text, _base64(key.sign(text.encode())), _base64(key.public_key().public_bytes_raw()))


def read_head(content: str) -> SignedHead:
    """The head that a file holds, if its signature is that of the key that stands beside it."""
    try:
        said = json.loads(content)
    except ValueError:
        raise NotAHead("It is not a head of a journal: it is no JSON.") from None
    if not isinstance(said, dict) or not all(isinstance(said.get(n), str) for n in ("head", "signature", "public_key")):
        raise NotAHead("It is not a head of a journal: it lacks the head, its signature or its key.")
    return proved(said["head"], said["signature"], said["public_key"])


def proved(text: str, signature: str, public_key: str) -> SignedHead:
    """A signed head, once its signature has been proved and its text understood; or ``NotAHead``."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(public_key, validate=True))
        key.verify(base64.b64decode(signature, validate=True), text.encode())
    except (ValueError, binascii.Error):
        raise NotAHead("Its signature or key cannot be read.") from None
    except InvalidSignature:
        raise NotAHead("It is not as it was signed.") from None
    return SignedHead(_understood(text), text, signature, public_key)


def _understood(text: str) -> JournalHead:
    try:
        said: Mapping[str, Any] = json.loads(text)
        before = said["before"]
        head = JournalHead(
            number=said["number"],
            hash=said["hash"],
            at=datetime.fromisoformat(said["at"]),
            founding=said["founding"],
            before=None if before is None else (before["number"], before["hash"]),
            documents=tuple(IssuedDocument(d["document"], d["issue"], d["sha256"]) for d in said["documents"]),
            abandoned=tuple(said["abandoned"]),
        )
        right = head.canonical() == text and head.number > 0
        if not right or not _HASH.fullmatch(head.hash) or not _HASH.fullmatch(head.founding):
            raise ValueError(text)
    except (ValueError, KeyError, TypeError, AttributeError, rfc8785.CanonicalizationError):
        raise NotAHead("It is signed, but it is not a head of a journal in a form that is known here.") from None
    return head


def printed(number: int, digest: str) -> str:
    """A head as it stands on paper: the number of the entry and the first twenty figures of its hash.

    >>> printed(1234, "00112233445566778899" + "a" * 44)
    '1234 0011 2233 4455 6677 8899'
    """
    groups = [digest[start : start + 4] for start in range(0, PRINTED, 4)]
    return " ".join([str(number), *groups])


def read_printed(typed: str) -> tuple[int, str]:
    """What somebody typed from paper: number, and twenty figures of the hash with any spaces, dots or hyphens.

    >>> read_printed("1234 0011-2233 4455 6677 8899")
    (1234, '00112233445566778899')
    """
    number, _, rest = typed.strip().replace(":", " ").partition(" ")
    figures = re.sub(r"[\s.-]", "", rest).lower()
    known = number.isascii() and number.isdigit() and len(number) < 16
    if not known or not re.fullmatch(r"[0-9a-f]{20,64}", figures):
        raise NotAHead(
            f"{typed!r} is neither a file nor a head as it is printed: a number, then twenty figures, a to f."
        )
    return int(number), figures


def new_key() -> bytes:
    """A new private key of Ed25519, 32 bytes."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.generate().private_bytes_raw()


def public_key_of(private_key: bytes) -> str:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return _base64(Ed25519PrivateKey.from_private_bytes(private_key).public_key().public_bytes_raw())


def _base64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
