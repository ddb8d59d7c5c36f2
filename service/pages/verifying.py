"""Open to anyone who holds a document: is it ours, which issue, and does it still stand? Nothing else is told.

A file is only ever hashed, by the browser where it can (over TLS), else here; nobody reads or keeps it.
"""

import hashlib
import time
from typing import Any

from flask import Blueprint, Flask, Response, current_app, redirect, render_template, request, url_for
from werkzeug.exceptions import HTTPException

from service.api.throttle import Throttle
from service.database import reading
from service.operations.door.refusals import UnknownThing
from service.operations.ledger.issuing import IssueStanding, issue_standing

blp = Blueprint("open-verify", __name__, template_folder="templates")

_PATH = "/verify"
_AT_ONCE = 1 << 20
# Files from one address: so many at once, and then one for every so many seconds.
_FILES_AT_ONCE, _EACH_S = 20, 3.0
_THROTTLE = "throttle of files"
_TOO_MANY = "potmark.too_many_files"


def register(app: Flask) -> None:
    app.extensions[_THROTTLE] = Throttle(at_once=_FILES_AT_ONCE, each_s=_EACH_S)
    app.register_blueprint(blp)


def may_send(app: Flask, environ: dict[str, Any]) -> bool:
    """May a caller without a key send more than a little? A file to be hashed, now and then."""
    if (environ.get("REQUEST_METHOD"), environ.get("PATH_INFO")) != ("POST", _PATH):
        return False
    throttle: Throttle = app.extensions[_THROTTLE]
    wait_s = throttle.wait_s(environ.get("REMOTE_ADDR", ""), time.monotonic())
    environ[_TOO_MANY] = wait_s
    return not wait_s


@blp.get(_PATH)
def verify_page() -> Any:
    """A form for a file or a hash; with a hash in the query, the answer."""
    asked = request.args.get("sha256", "").strip()
    return _answer(asked) if asked else _page(200)


@blp.post(_PATH)
def verify_file() -> Any:
    """Hash a file and lead to what is known of its hash."""
    wait_s = request.environ.get(_TOO_MANY)
    if wait_s:
        return _page(429, said=f"Too many files came from here at once; wait {wait_s:.0f} s and send it again.")
    try:
        sent = request.files.get("file")
    except HTTPException as trouble:
        status = trouble.code or 400
        return _page(status, said="The file could not be taken whole; it may be too long to be one of ours.")
    if sent is None or not sent.filename:
        return _page(422, said="No file came. Choose the PDF as you got it.")
    digest = hashlib.sha256()
    while piece := sent.stream.read(_AT_ONCE):
        digest.update(piece)
    return redirect(url_for("open-verify.verify_page", sha256=digest.hexdigest()), 303)


def _answer(sha256: str) -> Response:
    try:
        with reading():
            standing = issue_standing(sha256)
    except UnknownThing as unknown:
        return _page(404, said=unknown.sentence, way_out=unknown.way_out, sha256=sha256[:64])
    return _page(200, standing=standing, sha256=sha256[:64].lower())


def _page(
    status: int,
    *,
    said: str | None = None,
    way_out: str | None = None,
    standing: IssueStanding | None = None,
    sha256: str = "",
) -> Response:
    longest_mb = current_app.extensions["settings"].upload_mb
    html = render_template(
        "verify.html", said=said, way_out=way_out, standing=standing, sha256=sha256, longest_mb=longest_mb
    )
    return Response(html, status, headers={"Cache-Control": "no-store"})
