"""Who is at the door: keys, roles, and the act that a request stands for."""

import hashlib
import json
import logging
import time
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import current_app, g, request
from flask_smorest import abort
from peewee import OperationalError

from schemas.words import Role, Scope
from service.api.rates import count
from service.database import connected, rows_of
from service.operations.door.act import Act
from service.operations.door.operation import journal_turned_away
from service.operations.door.refusals import ClockSetBack, NotAllowed
from service.operations.door.scopes import refusal
from service.operations.door.signing import signing_by
from service.records.base import known, microseconds
from service.records.people import BrowserSession

# Where a browser keeps the session that it got for a key at /enter. It opens what is read and nothing that is done, so
# that no other site can make a browser act.
COOKIE = "potmark_session"

log = logging.getLogger("potmark")


@dataclass(frozen=True, slots=True)
class Visitor:
    """The holder of a key.

    A system has no ``person`` who would be told what people are told; it ``acts_as`` one of its own, within its
    ``scopes``.
    """

    key: int
    person: int | None
    system: str | None
    roles: frozenset[Role]
    site: int
    badge: bool = False
    acts_as: int | None = None
    scopes: frozenset[Scope] | None = None


def let_in(right: str | None) -> None:
    """Before any view: no key, no answer; no row in the table of rights, no answer."""
    visitor = _visitor()
    count(visitor.key)
    if right is None:
        raise NotAllowed("Nobody has been given the right to this.")
    require(visitor, right)
    g.visitor = visitor


def may(visitor: Visitor, right: str) -> bool:
    return refusal(visitor.roles, visitor.scopes, right) is None


def require(visitor: Visitor, right: str) -> None:
    """Turn away whose key does not open this, and keep that they came."""
    not_allowed = refusal(visitor.roles, visitor.scopes, right)
    if not_allowed is None:
        return
    now = current_app.extensions["clock"]()
    if not current_app.extensions["turned_away"].is_first(visitor.key, right, now):
        raise not_allowed
    act = Act(
        person=known(visitor.person or visitor.acts_as), roles=visitor.roles, site=visitor.site, occurred_at=now,
        recorded_at=now, key=visitor.key, system=visitor.system, scopes=visitor.scopes,
    )  # fmt: skip
    try:
        journal_turned_away(act, right, {"method": request.method, "path": request.path[:200]}, not_allowed)
    except (ClockSetBack, OperationalError) as trouble:
        log.warning("not journalled that key %s was turned away: %s", visitor.key, trouble)
    raise not_allowed


def digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _visitor() -> Visitor:
    scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
    token = request.cookies.get(COOKIE, "")
    try:
        if scheme.lower() == "bearer" and secret.strip():
            return holder_of(secret)
        if "Authorization" not in request.headers and request.method in ("GET", "HEAD") and token:
            return holder_of_session(token)
    except UnknownKey as unknown:
        wait_s = too_many_wrong_keys()
        if wait_s:
            abort(429, message=f"Too many wrong keys came from here; wait {wait_s:.0f} s, and look at the key.",
                  headers={"Retry-After": f"{wait_s:.0f}"})  # fmt: skip
        return _no_key(str(unknown))
    return _no_key("Send your key in the header Authorization: Bearer KEY, or give it at /enter in a browser.")


def too_many_wrong_keys() -> float:
    """Count a wrong key and say so in the log; how many seconds to wait, if there were too many from the same address.

    A key that is known opens all the same: a tablet that was left with an old one stops nobody who shares its address.
    """
    address = request.remote_addr or ""
    wait_s: float = current_app.extensions["throttle"].wait_s(address, time.monotonic())
    g.wrong_key = True
    if not wait_s:
        log.warning("wrong key from %s: %s %r", address, request.method, request.path[:200])
    return wait_s


def shows_key(environ: dict[str, Any]) -> bool:
    """Does a request carry a key that opens something? Asked before more than a little of its body is taken."""
    scheme, _, secret = environ.get("HTTP_AUTHORIZATION", "").partition(" ")
    if scheme.lower() != "bearer" or not secret.strip():
        return False
    with connected():
        try:
            holder_of(secret)
        except UnknownKey:
            return False
    return True


class UnknownKey(Exception):
    """The key opens nothing; the sentence says why."""


def holder_of(secret: str) -> Visitor:
    """Whose key this is, and what it covers."""
    return _holder("k.digest = ?", digest(secret.strip()), unknown="This key is not known, or was revoked.")


def holder_of_session(token: str) -> Visitor:
    """Whose key a browser was given, as long as its session lasts and the key opens anything."""
    return _holder(
        "k.id IN (SELECT key_id FROM browser_session WHERE digest = ? AND ended_at IS NULL AND until > ?)",
        digest(token),
        microseconds(current_app.extensions["clock"]()),
        unknown="This browser's session has ended; give it the key again at /enter.",
    )


def holder_of_form(secret: str, *, tapped_at: datetime) -> Visitor:
    """For whom a form was drawn, if their session lasted when they tapped."""
    return _holder(
        "k.id IN (SELECT key_id FROM browser_session WHERE form_digest = ? AND ended_at IS NULL AND until > ?)",
        digest(secret),
        microseconds(tapped_at),
        unknown="The session in which this form was drawn has ended.",
    )


def holder_of_badge(code: str) -> Visitor:
    """Whose badge this is."""
    return _holder("k.badge = ?", code, unknown="This badge is not known, or was withdrawn.")


def session_of(token: str) -> int:
    """The number of a browser's session."""
    return int(BrowserSession.get(BrowserSession.digest == digest(token)).id)


# Every request begins with it, so its text stands here: composing it anew took more than half as long as all the rest
# of a short request.
_HOLDER = (
    "SELECT k.id, k.person_id, k.system, k.role, p.active, r.role, (SELECT min(id) FROM site), k.badge, k.acts_as_id,"
    " k.scopes FROM access_key k LEFT JOIN person p ON p.id = COALESCE(k.person_id, k.acts_as_id)"
    " LEFT JOIN person_role r ON r.person_id = p.id"
    " WHERE k.revoked_at IS NULL AND "
)


def _holder(which: str, *values: str | int, unknown: str) -> Visitor:
    rows = rows_of(_HOLDER + which, *values)
    if not rows:
        raise UnknownKey(unknown)
    key, person, system, role, active, _, site, badge, acts_as, scopes = rows[0]
    if not active:
        raise UnknownKey(f"The {'system' if person is None else 'person'} of this key no longer works here.")
    if person is None:
        opens = frozenset(Scope(scope) for scope in json.loads(scopes))
        return Visitor(
            key=key, person=None, system=system, roles=frozenset({Role(role)}), site=site, acts_as=acts_as, scopes=opens
        )
    roles = frozenset(Role(row[5]) for row in rows if row[5] is not None)
    return Visitor(key=key, person=person, system=None, roles=roles, site=site, badge=badge is not None)


def _no_key(sentence: str) -> Any:
    abort(401, message=sentence, headers={"WWW-Authenticate": 'Bearer realm="Potmark"'})


def act_in_browser(visitor: Visitor) -> Act:
    """An act that a page does for its reader: it begins or ends what the browser may see."""
    if visitor.person is None:
        raise UnknownKey("This is the key of a system; a browser is given that of a person.")
    now = current_app.extensions["clock"]()
    return Act(
        person=visitor.person, roles=visitor.roles, site=visitor.site, occurred_at=now, recorded_at=now,
        key=visitor.key, badge=visitor.badge, device="browser",
    )  # fmt: skip


def current_act(
    fields: dict[str, Any],
    *,
    signed: bool = False,
    token: str | None = None,
    idempotency_key: str | None = None,
    device: str | None = None,
) -> Act:
    """The act of this request; takes `occurred_at` and `why` out of the parsed fields.

    A page says itself with which key it is repeated, on what it was tapped and by which ``token`` it is signed; a
    program says it in headers. Only for what is ``signed`` is a token looked up.
    """
    visitor: Visitor = g.visitor
    now = current_app.extensions["clock"]()
    stated = fields.pop("occurred_at", None)
    token = token or request.headers.get("Signing-Token", "").strip()
    return Act(
        person=known(visitor.person or visitor.acts_as),
        roles=visitor.roles,
        site=visitor.site,
        occurred_at=stated or now,
        stated_at=stated,
        recorded_at=now,
        key=visitor.key,
        system=visitor.system,
        scopes=visitor.scopes,
        signing=signing_by(token, access_key=visitor.key, at=now) if signed and token else None,
        badge=visitor.badge,
        device=device or _header("Potmark-Device", 60),
        idempotency_key=idempotency_key or _header("Idempotency-Key", 80),
        why=fields.pop("why", None),
    )


def _header(name: str, longest: int) -> str | None:
    value = request.headers.get(name)
    if value is None:
        return None
    text = unicodedata.normalize("NFC", value).strip()
    if not text or len(text) > longest or any(unicodedata.category(c) in ("Cc", "Cs") for c in text):
        abort(400, message=f"The header {name} must be 1 to {longest} printable characters.")
    return text
