"""Who is signed on, and where: a tablet's sessions listed and ended, one's own secret set, signing locked at once."""

import re
import secrets
from typing import Any

from flask import Blueprint, Response, current_app, g, redirect, render_template, request, url_for
from marshmallow import ValidationError
from werkzeug.wrappers import Response as AnyResponse

from schemas.people import SecretIn
from service.api.access import Visitor, current_act, may
from service.api.problems import pointers, status_of
from service.database import reading
from service.operations.door.refusals import Refusal
from service.operations.door.resetting import key_of
from service.operations.door.sessions import end_session, end_tablet, lasting_sessions
from service.operations.door.shop import the_site
from service.operations.door.signing import end_signing, set_secret
from service.pages.base import new_key, way_out_here
from service.pages.signed import forget_signing, keep_token, token_here
from service.pages.visiting import who

blp = Blueprint("page-tablets", __name__, template_folder="templates")
RIGHTS = {
    "page-tablets.tablets": "read_account",
    "page-tablets.end_one": "end_session",
    "page-tablets.end_all": "end_tablet",
    "page-tablets.lock": "end_signing",
    "page-tablets.secret": "read_account",
    "page-tablets.set_own_secret": "set_secret",
}
# What a tablet is called from the first time on that somebody signs on at it.
TABLET = "potmark_tablet"
_NAME = re.compile(r"[2-9A-HJ-NP-Z]{4}", re.ASCII)
_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
_YEARS_S = 5 * 365 * 86_400


def tablet_here() -> str:
    """The name of this tablet: four letters, from its cookie or new ones."""
    kept = request.cookies.get(TABLET, "")
    return kept if _NAME.fullmatch(kept) else "".join(secrets.choice(_LETTERS) for _ in range(4))


def keep_tablet(answer: AnyResponse, tablet: str) -> None:
    answer.set_cookie(TABLET, tablet, max_age=_YEARS_S, httponly=True, samesite="Strict", secure=request.is_secure)


# Order matters: an Edge calls itself Chrome as well, and every Chrome Safari.
_BROWSERS = (("Edg", "Edge"), ("Firefox", "Firefox"), ("SamsungBrowser", "Samsung's browser"), ("Chrom", "Chrome"))
_SYSTEMS = (("Android", "Android"), ("iPhone", "an iPhone"), ("iPad", "an iPad"), ("Windows", "Windows"),
            ("Mac OS", "a Mac"), ("Linux", "Linux"))  # fmt: skip


def browser_here() -> str:
    """What this browser says it is, in words."""
    said = request.headers.get("User-Agent", "")
    browser = next((name for sign, name in _BROWSERS if sign in said), "Safari" if "Safari" in said else "a browser")
    system = next((name for sign, name in _SYSTEMS if sign in said), None)
    return browser if system is None else f"{browser} on {system}"


def _seen() -> Visitor | None:
    visitor: Visitor | None = getattr(g, "visitor", None)
    return visitor


@blp.get("/tablets")
def tablets() -> Any:
    """Who is signed on at which tablet: one's own, and for lead, quality and administrators everybody's."""
    return _tablets()


def _tablets(trouble: Refusal | None = None) -> Response:
    visitor = _seen()
    if visitor is None:
        return redirect(url_for("open.enter", next="/tablets"), 303)  # type: ignore[return-value]
    everybody, at = may(visitor, "end_tablet"), current_app.extensions["clock"]()
    with reading():
        site = the_site()
        rows = lasting_sessions(at=at, person=None if everybody else visitor.person)
    by_tablet: dict[str | None, list[Any]] = {}
    for row in rows:
        by_tablet.setdefault(row.tablet, []).append(row)
    html = render_template(
        "tablets.html", site=site, at=at, tablets=by_tablet, here=request.cookies.get(TABLET), everybody=everybody,
        trouble=trouble, who=who, new_key=new_key, typed={},
    )  # fmt: skip
    return Response(html, status_of(type(trouble)) if trouble else 200, headers={"Cache-Control": "no-store"})


@blp.post("/tablets/session")
def end_one() -> Any:
    """End one session."""
    return _ended(lambda act: end_session(act, session=request.form.get("session", 0, type=int)))


@blp.post("/tablets/tablet")
def end_all() -> Any:
    """End all sessions of a tablet."""
    return _ended(lambda act: end_tablet(act, tablet=request.form.get("tablet", "")[:20]))


def _ended(end: Any) -> Any:
    try:
        end(current_act({}, device="browser"))
    except Refusal as no:
        return _tablets(no)
    return redirect(url_for("page-tablets.tablets"), 303)


@blp.post("/lock")
def lock() -> Any:
    """Sign nothing more here until the secret is given again."""
    end_signing(current_act({}, device="browser"))
    keep_token(None, None)
    answer = redirect(_here(), 303)
    forget_signing(answer)
    return answer


def _here() -> str:
    path = request.form.get("next", "")
    inside = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if inside else "/scan"


@blp.get("/secret")
def secret() -> Any:
    """Where a person sets the secret with which they sign."""
    return _secret()


def _secret(said: str | None = None, status: int = 200, made: Any = None) -> Any:
    visitor = _seen()
    if visitor is None or visitor.person is None:
        return redirect(url_for("open.enter", next="/secret"), 303)
    at = current_app.extensions["clock"]()
    with reading():
        site, has_one = the_site(), key_of(visitor.person) is not None
    html = render_template(
        "secret.html", site=site, at=at, said=said, made=made, by_badge=visitor.badge, has_one=has_one,
        least=site.secret_least, next=request.values.get("next", ""), who=who, new_key=new_key, trouble=None, typed={},
    )  # fmt: skip
    return Response(html, status, headers={"Cache-Control": "no-store"})


@blp.post("/secret")
def set_own_secret() -> Any:
    """Set it; whoever has one already signs that it is another from now on."""
    typed = request.form.get("secret", "")
    if typed != request.form.get("again", ""):
        return _secret("The two are not the same; type them once more.", 422)
    try:
        fields = SecretIn().load({"secret": typed})
        token = token_here() if request.form.get("_secret") else None
        made = set_secret(current_act(fields, signed=token is not None, token=token, device="browser"), **fields)
    except ValidationError as wrong:
        return _secret(next(iter(pointers(wrong.messages)))["detail"], 422)
    except Refusal as no:
        return _secret(f"{no.sentence} {way_out_here(no) or ''}".strip(), status_of(type(no)))
    keep_token(made.token, made.until)
    return _secret(made=made)
