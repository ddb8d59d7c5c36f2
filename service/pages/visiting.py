"""Who is at the browser: the session that its cookie opens, and the person for whom a form was drawn."""

import ipaddress
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

from flask import abort, current_app, g, redirect, request, url_for

from service.api.access import COOKIE, UnknownKey, Visitor, holder_of_form, holder_of_session, require
from service.database import database
from service.operations.door.refusals import NotAllowed
from service.operations.door.sessions import form_secret
from service.records.people import Person

# What a form says beside the fields of its act: a key of its own, how old the tap is, and for whom it was drawn.
KEY, AGE, WHO = "_key", "_age_s", "_who"
# Longer than this no tap waits for the network.
LONGEST_WAIT_S = 12 * 3600.0


def reader() -> Visitor | None:
    """Whose browser this is, if it is anybody's."""
    token = request.cookies.get(COOKIE, "")
    if not token:
        return None
    try:
        visitor = holder_of_session(token)
    except UnknownKey:
        return None
    g.visitor_name = visitor.system if visitor.person is None else Person.get_by_id(visitor.person).name
    return visitor


def in_the_shop() -> bool:
    """Does this browser stand in the shop's own network, as the settings name it?

    The address is that of the connection: what a header says, anybody can say.
    """
    networks = [ipaddress.ip_network(n) for n in current_app.extensions["settings"].shop_network.split(",") if n]
    try:
        address = ipaddress.ip_address(request.remote_addr or "")
    except ValueError:
        return False
    return any(address in network for network in networks)


def let_in(right: str | None) -> Any:
    """Before any page but the open ones: nobody's browser is asked who it is, and led back after that.

    A form is not asked for the cookie. It says for whom it was drawn, so that a tap which waited for the network stays
    that person's, even if somebody else is at the tablet by then; and no other site can draw one.
    """
    database.connect(reuse_if_open=True)
    if request.method in ("GET", "HEAD"):
        g.visitor = reader()
        if g.visitor is None and in_the_shop() and right == "read_account":
            return None
        if g.visitor is None:
            return redirect(url_for("open.enter", next=request.full_path.rstrip("?")), 303)
    else:
        refuse_other_sites()
        g.visitor = _drawn_for()
    if right is None:
        raise NotAllowed("This needs the role of nobody.")
    require(g.visitor, right)
    return None


def _drawn_for() -> Visitor:
    tapped_at = current_app.extensions["clock"]() - timedelta(seconds=waited_s())
    reader()  # whose name stands at the top of a page that refuses
    try:
        return holder_of_form(request.form.get(WHO, ""), tapped_at=tapped_at)
    except UnknownKey as unknown:
        abort(401, description=str(unknown))


def waited_s() -> float:
    """How long ago the tap was that this form stands for.

    A tablet's clock is wrong more often than a difference on it.
    """
    waited = request.form.get(AGE, 0.0, type=float)
    return waited if 2 < waited < LONGEST_WAIT_S else 0.0


def who() -> str:
    """What a form carries to say for whom it is drawn; worked out once for a page of many forms."""
    if "drawn_for" not in g:
        g.drawn_for = form_secret(request.cookies.get(COOKIE, ""))
    drawn_for: str = g.drawn_for
    return drawn_for


def signed_on() -> bool:
    """Is there somebody in whose name a form could be drawn?"""
    return getattr(g, "visitor", None) is not None


def refuse_other_sites() -> None:
    """Browsers say where a form was sent from: always in Origin, over TLS in Sec-Fetch-Site as well.

    It needs Referrer-Policy: same-origin; under no-referrer a form's Origin reads "null".
    """
    origin = request.headers.get("Origin")
    foreign = origin is not None and urlsplit(origin).netloc != request.host
    if foreign or request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403, description="This form was sent from another site.")
