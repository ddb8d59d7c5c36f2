"""Browsers that were given a key: each holds a token of its own for a shift, and never the key. Forms have a secret
that follows from the token."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import NotAllowed, UnknownThing
from service.operations.door.rows import find_row
from service.records.base import known
from service.records.people import AccessKey, BrowserSession, Person

# A browser on the shop floor is somebody's for a shift and no longer.
SHIFT = timedelta(hours=12)
# More than these are not looked through; the newest come first.
_ROWS = 200


def form_secret(token: str) -> str:
    """What the forms of a browser's session carry. It follows from the token, and the token does not follow from it."""
    return sha256(f"form {token}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class SessionView:
    """A session; its token is said once, to the browser."""

    id: int
    until: datetime
    token: str | None = None
    tablet: str | None = None


@dataclass(frozen=True, slots=True)
class SessionRow:
    """Somebody who is signed on at a browser.

    Attributes
    ----------
    tablet
        What the tablet calls itself; a name, no secret.
    browser
        Which browser it is, as it says itself.
    badge
        A badge was scanned; no key was given.
    """

    id: int
    person: str
    begun_at: datetime
    until: datetime
    tablet: str | None
    browser: str | None
    badge: bool


@dataclass(frozen=True, slots=True)
class TabletEnded:
    """How many sessions of a tablet were ended."""

    tablet: str
    ended: int


@operation
def begin_session(work: Work, *, key: int, tablet: str | None = None, browser: str | None = None) -> SessionView:
    """Let a browser read and act for a shift as this key lets its person."""
    token = secrets.token_urlsafe(32)
    begun_at = work.act.recorded_at
    row = BrowserSession.create(
        digest=sha256(token.encode()).hexdigest(),
        form_digest=sha256(form_secret(token).encode()).hexdigest(),
        key=key,
        begun_at=begun_at,
        until=begun_at + SHIFT,
        tablet=tablet,
        browser=browser,
    )
    work.note(session=row.id, key=key, until=row.until, tablet=tablet)
    return SessionView(id=row.id, until=row.until, token=token, tablet=tablet)


@operation
def end_session(work: Work, *, session: int) -> SessionView:
    """Take a browser's session from it, before it ends by itself: one's own, or for the lead anybody's."""
    row = find_row(BrowserSession, session, "session")
    if row.key.person_id != work.act.person and not ACTS["end_tablet"].roles & work.act.roles:
        raise NotAllowed("This is the session of somebody else.", way_out="The lead or quality ends it.")
    ended = BrowserSession.ended_at.is_null()
    BrowserSession.update(ended_at=work.act.recorded_at).where((BrowserSession.id == row.id) & ended).execute()
    work.note(session=row.id, key=row.key_id)
    return SessionView(id=row.id, until=row.until)


@operation
def end_tablet(work: Work, *, tablet: str) -> TabletEnded:
    """End every session of a tablet that was lost; what waits on it unsent is not taken any more."""
    lasting = BrowserSession.ended_at.is_null() & (BrowserSession.until > work.act.recorded_at)
    ended = (
        BrowserSession.update(ended_at=work.act.recorded_at)
        .where((BrowserSession.tablet == tablet) & lasting)
        .execute()
    )
    if not ended:
        raise UnknownThing("Nobody is signed on at that tablet.")
    work.note(tablet=tablet, ended=ended)
    return TabletEnded(tablet, int(ended))


def lasting_sessions(*, at: datetime, person: int | None = None) -> tuple[SessionRow, ...]:
    """Who is signed on, and where: everybody, or one person alone; the newest first, at most 200."""
    query = (
        BrowserSession.select(BrowserSession, AccessKey, Person)
        .join(AccessKey)
        .join(Person)
        .where(BrowserSession.ended_at.is_null() & (BrowserSession.until > at) & AccessKey.revoked_at.is_null())
        .order_by(BrowserSession.id.desc())
        .limit(_ROWS)
    )
    if person is not None:
        query = query.where(AccessKey.person == person)
    return tuple(
        SessionRow(
            id=row.id, person=known(row.key.person).name, begun_at=row.begun_at, until=row.until, tablet=row.tablet,
            browser=row.browser, badge=row.key.badge is not None,
        )
        for row in query
    )  # fmt: skip
