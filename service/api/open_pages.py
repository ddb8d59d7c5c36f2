"""What answers without a key: health, the API's description, problem pages, and the page that takes a browser's key."""

import mimetypes
from importlib.metadata import version
from importlib.resources import files
from typing import Any

from flask import Blueprint, jsonify, redirect, render_template, request, send_from_directory, url_for
from flask_smorest import abort
from markupsafe import Markup, escape

from service.api.access import COOKIE, UnknownKey, Visitor, holder_of
from service.api.problems import DOOR, DOOR_BY_STATUS, status_of
from service.database import database, reading
from service.operations.door.refusals import every_refusal
from service.records.people import Person

blp = Blueprint(
    "open", __name__, template_folder="../pages/templates", static_folder="../pages/static", static_url_path="/static"
)

# Python 3.11 does not know it, and the pages are sent with "nosniff".
mimetypes.add_type("font/woff2", ".woff2")

# A browser on the shop floor keeps a key for a shift and no longer.
_SHIFT_S = 12 * 3600


@blp.get("/healthz")
def healthz() -> Any:
    """Alive, and the database answers."""
    with reading():
        database.execute_sql("SELECT 1")
    return jsonify(status="ok")


@blp.get("/")
def front() -> Any:
    """What this is, and where to go from here."""
    return render_template("front.html", version=version("potmark"))


@blp.get("/docs")
def documentation() -> Any:
    """The API's description, to read and to try."""
    return render_template("documentation.html")


@blp.get("/docs/static/<path:name>")
def documentation_static(name: str) -> Any:
    """Script and style of the documentation page."""
    return send_from_directory(str(files("swagger_ui") / "static"), name)


@blp.get("/enter")
def enter() -> Any:
    """Where a browser is given a key."""
    visitor = None
    if COOKIE in request.cookies:
        try:
            visitor = _known(request.cookies[COOKIE])
        except UnknownKey:
            visitor = None
    return render_template("enter.html", visitor=visitor, trouble=None)


@blp.post("/enter")
def enter_with_key() -> Any:
    """Keep the key in the browser for a shift: it opens what is read there, never what is done."""
    _refuse_other_sites()
    secret = request.form.get("key", "").strip()[:200]
    try:
        _known(secret)
    except UnknownKey as unknown:
        trouble = str(unknown) if secret else "Give a key."
        return render_template("enter.html", visitor=None, trouble=trouble), 422
    answer = redirect(url_for("open.enter"), 303)
    answer.set_cookie(COOKIE, secret, max_age=_SHIFT_S, httponly=True, samesite="Strict", secure=request.is_secure)
    return answer


@blp.post("/leave")
def leave() -> Any:
    """Let the browser forget its key."""
    _refuse_other_sites()
    answer = redirect(url_for("open.enter"), 303)
    answer.delete_cookie(COOKIE, httponly=True, samesite="Strict", secure=request.is_secure)
    return answer


def _known(secret: str) -> dict[str, Any]:
    with reading():
        visitor: Visitor = holder_of(secret)
        name = visitor.system if visitor.person is None else Person.get_by_id(visitor.person).name
    return {"name": name, "roles": sorted(visitor.roles)}


def _refuse_other_sites() -> None:
    """Browsers say where a form was sent from; a form of somebody else's page is not taken."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403, message="This form was sent from another site.")


@blp.get("/problems")
def problems() -> Any:
    """Every reason for which a request can be refused."""
    return render_template("problems.html", reasons=sorted(_reasons().items(), key=lambda reason: reason[1]["title"]))


@blp.get("/problems/<kind>")
def problem_page(kind: str) -> Any:
    """One reason, in words."""
    reason = _reasons().get(kind)
    if reason is None:
        abort(404)
    return render_template("problem.html", kind=kind, reason=reason)


@blp.app_template_filter()
def with_code(text: str) -> Markup:
    """Docstrings set field names in backquotes; pages set them as code."""
    pieces = str(text).split("`")
    return Markup("").join(Markup("<code>{}</code>").format(p) if i % 2 else escape(p) for i, p in enumerate(pieces))


def _reasons() -> dict[str, dict[str, Any]]:
    shop = {
        cls.kind: {"title": cls.title, "text": " ".join((cls.__doc__ or "").split()), "status": status_of(cls)}
        for cls in every_refusal()
    }
    statuses = {kind: status for status, kind in DOOR_BY_STATUS.items()}
    door = {
        kind: {"title": title, "text": text, "status": statuses.get(kind, 422)} for kind, (title, text) in DOOR.items()
    }
    return {**door, **shop}
