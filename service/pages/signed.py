"""The secret on a page: asked at the first signed step, kept as a token that signs for a few minutes and never longer.

The lock is for signing only: who reads, weighs and records goes on. The token lies in a cookie of its own, which runs
out when nobody has asked for a page for two minutes, or five minutes after the secret was typed, whichever is first.
"""

from datetime import datetime, timedelta

from flask import Flask, Response, current_app, g, request
from werkzeug.wrappers import Response as AnyResponse

from schemas.people import SecretIn
from service.api.access import act_in_browser, may
from service.database import connected
from service.operations.door.signing import begin_signing, signs_until

SIGNING = "potmark_signing"
# A page that nobody touched for so long signs nothing any more.
IDLE = timedelta(minutes=2)
# What a page says that renews itself by the clock: that nobody touched it.
BY_ITSELF = "Potmark-By-Itself"


def token_here() -> str | None:
    """The token by which this form is signed: of the secret that was typed in it, or of one given a moment ago."""
    typed = request.form.get("_secret", "")
    if not typed:
        return request.cookies.get(SIGNING) or None
    given = begin_signing(act_in_browser(g.visitor), **SecretIn().load({"secret": typed}))
    keep_token(given.token, given.until)
    return given.token


def keep_token(token: str | None, until: datetime | None) -> None:
    """Let this browser sign with it until then, as long as somebody is there."""
    g.signs_with, g.signs_until = token, until


def signing_until() -> datetime | None:
    """Until when whoever is at this browser signs without giving the secret again."""
    if "signs_until" not in g:
        token, visitor = request.cookies.get(SIGNING, ""), getattr(g, "visitor", None)
        now = current_app.extensions["clock"]()
        with connected():
            keep_token(token, signs_until(token, access_key=visitor.key, at=now) if token and visitor else None)
    until: datetime | None = g.signs_until
    return until


def may_do(name: str) -> bool:
    """Has whoever is at this browser the right to this act?"""
    visitor = getattr(g, "visitor", None)
    return visitor is not None and may(visitor, name)


def forget_signing(response: AnyResponse) -> None:
    response.delete_cookie(SIGNING, httponly=True, samesite="Strict", secure=request.is_secure)


def register(app: Flask) -> None:
    app.add_template_global(signing_until)
    app.add_template_global(may_do)
    app.after_request(_carry)


def _carry(response: Response) -> Response:
    """The cookie runs on with every page that somebody asked for."""
    token, until = getattr(g, "signs_with", None), getattr(g, "signs_until", None)
    if token and until and BY_ITSELF not in request.headers:
        left = min(IDLE, until - current_app.extensions["clock"]())
        response.set_cookie(
            SIGNING, token, max_age=max(0, int(left.total_seconds())), httponly=True, samesite="Strict",
            secure=request.is_secure,
        )  # fmt: skip
    return response
