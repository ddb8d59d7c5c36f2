"""A person's own secret as a key that signs: derived and never kept, vouched for, proved again by who checks.

The secret (a PIN or a passphrase) and a pepper, which is a file outside the database, go through Argon2id (RFC 9106).
What comes out is the seed of an Ed25519 key (RFC 8032), of which the account keeps the public half. So whoever has the
database alone can neither try PINs nor sign, and every signature can be proved again as long as the account lasts. Each
public key is vouched for with the pepper, too: a key that somebody put into the database vouches for nothing.

Nothing here knows the database or the clock.
"""

import base64
import hashlib
import hmac
import os
import secrets
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import rfc8785

from service.operations.door.refusals import WrongState

# What deriving costs: 19 MiB and two passes, where OWASP's password storage cheat sheet begins for Argon2id (read as
# told at https://theproductguy.in/blogs/argon2-tuning-guide/). Kept beside each key, so that it can be raised for the
# keys that are made later.
COST = "argon2id t=2 m=19456 p=1"
_WITH_PEPPER, _VOUCHED, _SIGNED, _SEALED, _TOLD = (
    f"potmark {what} 1\n".encode() for what in ("secret", "key", "signature", "token", "webhook")
)
_ABSENT = Path("potmark-secrets.key")


class _Pepper:
    """Where the pepper is, and what it is once it was read."""

    file = _ABSENT
    content: bytes | None = None


def look_in(file: Path) -> None:
    """From now on the pepper is the one in this file."""
    if file != _Pepper.file:
        _Pepper.file, _Pepper.content = file, None


def make_pepper(file: Path) -> bool:
    """Make the file with a new pepper, if there is none; was it made?"""
    try:
        with open(file, "x", encoding="ascii", opener=lambda name, how: os.open(name, how, 0o600)) as out:
            out.write(base64.b64encode(secrets.token_bytes(32)).decode() + "\n")
    except FileExistsError:
        return False
    return True


def has_pepper() -> bool:
    return _Pepper.file.is_file()


def _pepper() -> bytes:
    if _Pepper.content is None:
        try:
            _Pepper.content = base64.b64decode(_Pepper.file.read_text("ascii").strip(), validate=True)
        except FileNotFoundError:
            raise WrongState(
                "The file with the key that guards people's secrets is not where this service looks for it.",
                way_out="Put it back from the backup, or let POTMARK_SECRETS_KEY name it; `potmark upgrade` makes one"
                " where there never was any.",
            ) from None
        except (OSError, ValueError):
            raise WrongState(
                "The file with the key that guards people's secrets cannot be read.",
                way_out="Put it back from the backup.",
            ) from None
    return _Pepper.content


@dataclass(frozen=True, slots=True)
class PublicKey:
    """The public half of a person's key, and what their secret is derived with; all but the number is text."""

    person: int
    public_key: str
    salt: str
    cost: str

    def _said(self) -> bytes:
        return _VOUCHED + rfc8785.dumps([self.person, self.public_key, self.salt, self.cost])

    def voucher(self) -> str:
        """What vouches for this key: nobody makes it without the pepper."""
        return _text(hmac.new(_pepper(), self._said(), hashlib.sha256).digest())

    def is_vouched_for(self, voucher: str) -> bool:
        return hmac.compare_digest(self.voucher(), voucher)


@dataclass(frozen=True, slots=True)
class Signing:
    """A person who has just given their secret: the number of their key, and the key itself, which nothing shows."""

    person: int
    key: int
    seed: bytes = field(repr=False)

    def sign(self, facts: Mapping[str, Any]) -> str:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        return _text(Ed25519PrivateKey.from_private_bytes(self.seed).sign(_to_sign(facts)))


def proves(public_key: str, signature: str, facts: Mapping[str, Any]) -> bool:
    """Is this the signature of that key under these facts?"""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(public_key, validate=True))
        key.verify(base64.b64decode(signature, validate=True), _to_sign(facts))
    except (InvalidSignature, ValueError):
        return False
    return True


def fingerprint(facts: Mapping[str, Any]) -> str:
    """The hash of what is signed, in hexadecimal: of the facts of an entry, the rows that it wrote among them."""
    return hashlib.sha256(rfc8785.dumps(dict(facts))).hexdigest()


def _to_sign(facts: Mapping[str, Any]) -> bytes:
    return _SIGNED + fingerprint(facts).encode()


def new_salt() -> str:
    return _text(secrets.token_bytes(16))


def webhook_secret(salt: str) -> bytes:
    """The secret by which webhooks are signed: made of its salt and the pepper, and kept nowhere.

    Whoever has the database alone signs no webhook.
    """
    return hmac.new(_pepper(), _TOLD + salt.encode(), hashlib.sha256).digest()


def new_key(person: int, secret: str) -> tuple[PublicKey, bytes]:
    """A key for a new secret: its public half, and the seed that the secret gives again."""
    salt = new_salt()
    seed = derive(secret, salt, COST)
    return PublicKey(person, public_half(seed), salt, COST), seed


def public_half(seed: bytes) -> str:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return _text(Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw())


def derive(secret: str, salt: str, cost: str) -> bytes:
    """The seed that a secret gives; about 20 ms of one core, on purpose."""
    from argon2.low_level import Type, hash_secret_raw

    kind, *numbers = cost.split()
    time_cost, memory_kib, lanes = (int(number.partition("=")[2]) for number in numbers)
    if kind != "argon2id":
        raise LookupError(f"no secret is derived with {kind}")
    typed = unicodedata.normalize("NFKC", secret).encode()
    return hash_secret_raw(
        secret=hmac.new(_pepper(), _WITH_PEPPER + typed, hashlib.sha256).digest(),
        salt=base64.b64decode(salt),
        time_cost=time_cost,
        memory_cost=memory_kib,
        parallelism=lanes,
        hash_len=32,
        type=Type.ID,
    )


def seal_seed(seed: bytes, token: str) -> str:
    """A seed as it is kept while a token lasts: only the token, which nobody keeps, opens it again."""
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    # The token is 256 random bits and seals one seed only: a key of its own needs no other number used once.
    return _text(ChaCha20Poly1305(_key_of(token)).encrypt(bytes(12), seed, None))


def open_seed(sealed: str, token: str) -> bytes:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    return ChaCha20Poly1305(_key_of(token)).decrypt(bytes(12), base64.b64decode(sealed), None)


def _key_of(token: str) -> bytes:
    return hashlib.sha256(_SEALED + token.encode()).digest()


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
