"""Secrets of people: set by themselves, given to sign for some minutes, locked after wrong ones.

Nobody but its person ever learns a secret, the account does not either: see `signatures`.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from itertools import pairwise
from typing import Any

from service.database import locked, rows_of, writing
from service.operations.door.act import Act
from service.operations.door.operation import Work, beforehand, operation
from service.operations.door.people import KeyView, claim
from service.operations.door.refusals import (
    NoSecretYet,
    NotAllowed,
    SecretLocked,
    Unprocessable,
    WrongSecret,
    WrongState,
)
from service.operations.door.resetting import ResetView, end_key, key_of, last_reset
from service.operations.door.shop import the_site
from service.operations.door.signatures import PublicKey, Signing, derive, new_key, open_seed, public_half, seal_seed
from service.records.base import known, microseconds
from service.records.people import AccessKey, Person, SecretTry, SigningKey, SigningToken

# How long a token signs, by the server's clock.
LASTS = timedelta(minutes=5)
# So many wrong secrets in a row, by whatever way and process they come, and nothing is tried any more.
TRIES = 5


@dataclass(frozen=True, slots=True)
class SecretView:
    """A person has a secret of their own to sign with.

    Attributes
    ----------
    set_at
        From when on they sign with it.
    secret
        Of the access key that they came in with, if it had been handed out: that one opens nothing any more.
    token
        As if the secret had just been given: signs until then.
    """

    person: int
    set_at: datetime
    until: datetime | None = None
    secret: str | None = None
    token: str | None = None


@dataclass(frozen=True, slots=True)
class SigningEnded:
    """Nothing is signed at this access key any more until the secret is given again."""

    person: int
    ended_at: datetime


@dataclass(frozen=True, slots=True)
class SigningView:
    """For some minutes whoever gave their secret signs with this token.

    Attributes
    ----------
    token
        Goes along in the header Signing-Token, with the same access key; shown once.
    set_at
        When the secret was set that was given.
    failed_before
        How many wrong ones were tried since the last right one.
    reset
        How it came that the secret was set anew, if it was.
    """

    person: int
    until: datetime
    set_at: datetime
    failed_before: int
    reset: ResetView | None
    token: str | None = None


@operation
def claim_key(work: Work) -> KeyView:
    """Make the key that one came in with one's own: its secret is another from now on, shown once."""
    _refuse_repeatable(work.act)
    return claim(work, _own_key(work.act))


def _own_key(act: Act) -> AccessKey:
    if act.badge or act.key is None:
        raise NotAllowed(
            "A badge says who taps; this needs a key of your own.",
            way_out="Give the key that an administrator handed you at /enter.",
        )
    return AccessKey.get_by_id(act.key)


def _refuse_repeatable(act: Act) -> None:
    if act.idempotency_key is not None:
        raise Unprocessable("What is shown here cannot be shown twice; send no Idempotency-Key.")


def _with_key(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    person, typed = Person.get_by_id(act.person), str(asked["secret"])
    _refuse_guessable(typed, person.name, the_site().secret_least)
    return {"secret": _Made(*new_key(person.id, typed))}


@dataclass(frozen=True, slots=True)
class _Made:
    """A new secret: the public half of its key, and the seed that it gives."""

    public: PublicKey
    seed: bytes


def _refuse_guessable(typed: str, name: str, least: int) -> None:
    if len(typed) < least:
        raise Unprocessable(f"Take at least {least} characters here.", pointer="/secret")
    steps = {ord(after) - ord(before) for before, after in pairwise(typed)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise Unprocessable("That is among the first that anybody tries; take another.", pointer="/secret")
    if any(word in typed.casefold() for word in name.casefold().split() if len(word) > 2):
        raise Unprocessable("Take one without your name in it.", pointer="/secret")


@operation
@beforehand(_with_key)
def set_secret(work: Work, *, secret: Any) -> SecretView:
    """Set one's own secret: a PIN or a passphrase, which signs what only a person can.

    The first time, a key that was handed out becomes one's own with it. Later ones are signed with the one before.
    """
    made: PublicKey = secret.public
    _refuse_repeatable(work.act)
    shown = None
    if work.act.key is not None:
        key = _own_key(work.act)
        shown = claim(work, key).secret if key.claimed_at is None else None
    locked(Person.select().where(Person.id == work.act.person)).get()
    before = key_of(work.act.person)
    if before is not None:
        work.sign("changed their secret")
        end_key(before, work.act.recorded_at)
    row = SigningKey.create(
        person=made.person, public_key=made.public_key, salt=made.salt, cost=made.cost, voucher=made.voucher(),
        made_at=work.act.recorded_at,
    )  # fmt: skip
    if SecretTry.update(failed=0).where(SecretTry.person == made.person).execute() == 0:
        SecretTry.create(person=made.person, failed=0)
    work.note(signing_key=row.id, person=made.person, before=before.id if before is not None else None)
    token, until = None, work.act.recorded_at + LASTS
    if work.act.key is not None:
        token = new_token(row.id, secret.seed, access_key=work.act.key, until=until)
    return SecretView(person=made.person, set_at=row.made_at, until=until, secret=shown, token=token)


@dataclass(frozen=True, slots=True)
class _Given:
    """A secret that was right: the key that it belongs to, the seed that it gave, what had been tried before."""

    key: SigningKey
    seed: bytes
    failed_before: int


def _given(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    """Count first, then look, and before the act begins: no more are tried than may be, however many try at once."""
    key = key_of(act.person)
    if key is None:
        raise NoSecretYet(
            "You have no secret to sign with yet.",
            way_out="Set a PIN or passphrase of your own first (POST /v1/secret).",
        )
    _require_own(act)
    failed = _count_try(act.person)
    public = PublicKey(key.person_id, key.public_key, key.salt, key.cost)
    if not public.is_vouched_for(key.voucher):
        raise WrongState(
            "Nobody vouches for the key of your secret: it was not made with the file that guards secrets here.",
            way_out="Tell whoever looks after the service; `potmark check` says more.",
        )
    seed = derive(str(asked["secret"]), key.salt, key.cost)
    if public_half(seed) != key.public_key:
        left = TRIES - failed
        tries = "It is locked now" if not left else f"{left} {'try is' if left == 1 else 'tries are'} left"
        raise WrongSecret(f"That is not your secret. {tries}.", way_out=_unlocking(left), tries_left=left)
    return {"secret": _Given(key, seed, failed - 1)}


def _unlocking(left: int) -> str:
    return "Type it again, slowly." if left else "Another person unlocks it: an administrator, the lead or quality."


def _require_own(act: Act) -> None:
    """Whoever handed out a key has seen it: with that, nobody tries a secret of its person."""
    if act.key is None:
        raise NotAllowed("Nobody signs without an access key.")
    if not act.badge and AccessKey.get_by_id(act.key).claimed_at is None:
        raise NotAllowed(
            "This key was handed to you, so somebody else has seen it.",
            way_out="Make it your own first (POST /v1/keys/claim).",
        )


def _count_try(person: int) -> int:
    counting = SecretTry.update(failed=SecretTry.failed + 1)
    mine = (SecretTry.person == person) & (SecretTry.failed < TRIES)
    with writing():
        found = list(counting.where(mine).returning(SecretTry.failed).execute())
    if not found:
        raise SecretLocked(
            f"{TRIES} wrong secrets were tried in your name; nothing is tried any more.",
            way_out="Another person unlocks it: an administrator, the lead or quality.",
        )
    return int(found[0].failed)


@operation
@beforehand(_given)
def begin_signing(work: Work, *, secret: Any) -> SigningView:
    """Give one's secret; what is answered signs for five minutes, beside the access key that it was given with."""
    given: _Given = secret
    _refuse_repeatable(work.act)
    still = (SigningKey.id == given.key.id) & SigningKey.ended_at.is_null()
    if not SigningKey.select().where(still).exists():
        raise WrongState("Your secret was set anew this moment.", way_out="Give the new one.")
    SecretTry.update(failed=0).where(SecretTry.person == work.act.person).execute()
    SigningToken.delete().where(SigningToken.until <= work.act.recorded_at).execute()
    until = work.act.recorded_at + LASTS
    token = new_token(given.key.id, given.seed, access_key=known(work.act.key), until=until)
    work.note(signing_key=given.key.id, until=until, failed_before=given.failed_before)
    return SigningView(
        person=work.act.person, until=until, set_at=given.key.made_at, failed_before=given.failed_before,
        reset=last_reset(work.act.person), token=token,
    )  # fmt: skip


def new_token(signing_key: int, seed: bytes, *, access_key: int, until: datetime) -> str:
    """A token that signs with this seed until then, and with this access key only."""
    token = secrets.token_urlsafe(32)
    SigningToken.create(
        digest=_digest(token),
        signing_key=signing_key,
        access_key=access_key,
        sealed=seal_seed(seed, token),
        until=until,
    )
    return token


def _digest(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def signing_by(token: str, *, access_key: int, at: datetime) -> Signing | None:
    """Who signs with this token, if it still signs and came with the access key that it was given with."""
    rows = rows_of(
        "SELECT k.person_id, k.id, t.sealed FROM signing_token t JOIN signing_key k ON k.id = t.signing_key_id"
        " WHERE t.digest = ? AND t.access_key_id = ? AND t.until > ? AND k.ended_at IS NULL",
        _digest(token), access_key, microseconds(at),
    )  # fmt: skip
    if not rows:
        return None
    person, key, sealed = rows[0]
    return Signing(person=person, key=key, seed=open_seed(sealed, token))


def signs_until(token: str, *, access_key: int, at: datetime) -> datetime | None:
    """Until when this token signs beside that access key, if it does."""
    row = (
        SigningToken.select(SigningToken.until)
        .join(SigningKey)
        .where(
            (SigningToken.digest == _digest(token))
            & (SigningToken.access_key == access_key)
            & (SigningToken.until > at)
            & SigningKey.ended_at.is_null()
        )
        .first()
    )
    return None if row is None else row.until


@operation
def end_signing(work: Work) -> SigningEnded:
    """Sign no more with what was given: at this access key the secret is asked again."""
    SigningToken.delete().where(SigningToken.access_key == work.act.key).execute()
    return SigningEnded(person=work.act.person, ended_at=work.act.recorded_at)
