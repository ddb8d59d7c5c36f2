"""Browsers that were given a key: each holds a token of its own for a shift, and never the key. Forms have a secret
that follows from the token."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from service.operations.door.operation import Work, operation
from service.operations.door.rows import find_row
from service.records.people import BrowserSession

# A browser on the shop floor is somebody's for a shift and no longer.
SHIFT = timedelta(hours=12)


def form_secret(token: str) -> str:
    """What the forms of a browser's session carry. It follows from the token, and the token does not follow from it."""
    return sha256(f"form {token}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class SessionView:
    """A session; its token is said once, to the browser."""

    id: int
    until: datetime
    token: str | None = None


@operation
def begin_session(work: Work, *, key: int) -> SessionView:
    """Let a browser read and act for a shift as this key lets its person."""
    token = secrets.token_urlsafe(32)
    begun_at = work.act.recorded_at
    row = BrowserSession.create(
        digest=sha256(token.encode()).hexdigest(),
        form_digest=sha256(form_secret(token).encode()).hexdigest(),
        key=key,
        begun_at=begun_at,
        until=begun_at + SHIFT,
    )
    work.note(session=row.id, key=key, until=row.until)
    return SessionView(id=row.id, until=row.until, token=token)


@operation
def end_session(work: Work, *, session: int) -> SessionView:
    """Take a browser's session from it, before it ends by itself."""
    row = find_row(BrowserSession, session, "session")
    ended = BrowserSession.ended_at.is_null()
    BrowserSession.update(ended_at=work.act.recorded_at).where((BrowserSession.id == row.id) & ended).execute()
    work.note(session=row.id, key=row.key_id)
    return SessionView(id=row.id, until=row.until)
