"""What answers without a key: health, the API's description, problem pages, and the page that takes a browser's key."""

from contextlib import suppress
from importlib.metadata import version
from importlib.resources import files
from typing import Any

from flask import (
    Blueprint,
    Response,
    make_response,
    redirect,
    render_template,
    request,
    send_from_directory,
    url_for,
)
from flask_smorest import abort
from markupsafe import Markup, escape

from labels.codes import parse
from labels.errors import Misread
from service.api.access import (
    COOKIE,
    UnknownKey,
    Visitor,
    act_in_browser,
    holder_of,
    holder_of_badge,
    holder_of_session,
    session_of,
    too_many_wrong_keys,
)
from service.api.problems import DOOR, DOOR_BY_STATUS, status_of
from service.database import connected, reading
from service.operations.door.refusals import Refusal, every_refusal
from service.operations.door.sessions import SHIFT, SessionView, begin_session, end_session
from service.pages.signed import forget_signing
from service.pages.tablets import browser_here, keep_tablet, tablet_here
from service.pages.visiting import in_the_shop, reader, refuse_other_sites, who
from service.records.people import Person

blp = Blueprint("open", __name__, template_folder="templates")


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
    if request.cookies.get(COOKIE):
        try:
            with reading():
                visitor = _described(holder_of_session(request.cookies[COOKIE]))
        except UnknownKey:
            visitor = None
    return _page(visitor=visitor, trouble=None)


@blp.post("/enter")
def enter_with_key() -> Any:
    """Give the browser a session for a shift. The key is not kept."""
    refuse_other_sites()
    secret = request.form.get("key", "").strip()[:200]
    if not secret:
        return _page(trouble="Give a key."), 422
    try:
        with connected():
            visitor = holder_of(secret)
            session = _begun(visitor)
    except UnknownKey as unknown:
        wait_s = too_many_wrong_keys()
        if wait_s:
            return _page(trouble=f"Too many wrong keys were given here; wait {wait_s:.0f} s."), 429
        return _page(trouble=str(unknown)), 422
    except Refusal as refusal:
        return _page(trouble=refusal.sentence), 409
    return _entered(session)


@blp.post("/enter/badge")
def enter_with_badge() -> Any:
    """Say by a badge who is at the browser from now on. It is enough in the shop's network, or after somebody's key."""
    refuse_other_sites()
    code = request.form.get("badge", "").strip()[:200]
    try:
        with connected():
            if not (in_the_shop() or reader() is not None):
                trouble = "Badges open the pages in the shop's own network; here, a key comes first."
                return _page(trouble=trouble, by_badge=True), 403
            visitor = holder_of_badge(parse(code).text)
            session = _begun(visitor)
    except Misread as misread:
        return _page(trouble=str(misread), by_badge=True), 422
    except UnknownKey as unknown:
        wait_s = too_many_wrong_keys()
        said = f"Too many wrong badges were tried here; wait {wait_s:.0f} s." if wait_s else str(unknown)
        return _page(trouble=said, by_badge=True), 429 if wait_s else 422
    except Refusal as refusal:
        return _page(trouble=refusal.sentence, by_badge=True), 409
    return _entered(session)


def _begun(visitor: Visitor) -> SessionView:
    return begin_session(act_in_browser(visitor), key=visitor.key, tablet=tablet_here(), browser=browser_here())


def _entered(session: SessionView) -> Any:
    answer = redirect(_back_to(request.form.get("next", "")), 303)
    answer.set_cookie(
        COOKIE, session.token or "", max_age=SHIFT, httponly=True, samesite="Strict", secure=request.is_secure
    )
    keep_tablet(answer, session.tablet or tablet_here())
    forget_signing(answer)
    return _not_kept(answer)


@blp.post("/leave")
def leave() -> Any:
    """End the browser's session, and ask who comes next: they go on with the page that was open."""
    refuse_other_sites()
    token = request.cookies.get(COOKIE, "")
    # A session that has ended by itself needs no end.
    with suppress(UnknownKey), connected():
        end_session(act_in_browser(holder_of_session(token)), session=session_of(token))
    answer = redirect(url_for("open.enter", next=request.form.get("next") or None), 303)
    forget_signing(answer)
    answer.delete_cookie(COOKIE, httponly=True, samesite="Strict", secure=request.is_secure)
    return _not_kept(answer)


def _back_to(path: str) -> str:
    """The page that asked who it is; never another site's."""
    inside = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if inside else url_for("open.enter")


def _page(*, trouble: str | None, visitor: dict[str, Any] | None = None, by_badge: bool = False) -> Response:
    page = render_template(
        "enter.html",
        visitor=visitor,
        said=trouble,
        trouble=None,
        who=who,
        by_badge=by_badge,
        badges=by_badge or visitor is not None or in_the_shop(),
        badge=request.values.get("badge", ""),
        next=request.values.get("next", ""),
    )
    return _not_kept(make_response(page))


def _not_kept(answer: Any) -> Any:
    """Who sits down at the browser next is not shown who was there before."""
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _described(visitor: Visitor) -> dict[str, Any]:
    name = visitor.system if visitor.person is None else Person.get_by_id(visitor.person).name
    return {"name": name, "roles": sorted(visitor.roles)}


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


# What a program does about an answer of that status; what a person does is said of each reason.
_PROGRAM = {
    401: "Do not send it again: give the right key first.",
    403: "Do not send it again with this key.",
    404: "Do not send it again: look the code up first.",
    409: "Not again as it stands: a person decides; what they decide is a new act with a new Idempotency-Key. Where "
    "the answer has `answer_with`, that is what is sent along with it.",
    412: "Read it again, look at what changed, and send the change with the new ETag under a new Idempotency-Key.",
    422: "Not again as it stands: `errors` point at what to change.",
    428: "Read it first, and send its ETag in If-Match.",
    429: "Wait as long as the header Retry-After says, then send it again.",
    500: "Send the same again with the same Idempotency-Key, after 1 s, 2 s, 4 s and so on.",
    503: "Send the same again with the same Idempotency-Key once the service is right again.",
}
_PROGRAM_BY_KIND = {
    "still-running": "Send the same again with the same Idempotency-Key, in a moment.",
    "already-there": "Use the one that is there: its number stands in the answer.",
    "idempotency-key-reused": "Give each act a key of its own, made before it is sent for the first time.",
}


# Where what is answered begins with the way out: what it means, then the way out.
_SAID_ANEW = {
    "no-key": "The request carries no key, or one that opens nothing. Send yours in the header "
    "`Authorization: Bearer KEY`; an administrator hands out keys.",
    "not-found": "There is nothing at this address. Compare it with the description at `/docs`.",
    "not-json": "The body is not said to be JSON. Send JSON, with the header `Content-Type: application/json`.",
    "too-large": "The body is larger than the service takes. Send less at once, or have `POTMARK_UPLOAD_MB` raised.",
    "version-needed": "What is changed in place has to be the version that was read. Read it, and send its ETag in the "
    "header `If-Match`.",
    "out-of-range": "A calculation was asked outside the range in which its formula holds. The sentence names the "
    "value and its range; outside of it there is no answer.",
}


def _reasons() -> dict[str, dict[str, Any]]:
    """Every reason with its meaning, which is the first sentence of what is said of it, and its way out, the rest."""
    statuses = {kind: status for status, kind in DOOR_BY_STATUS.items()}
    said = {kind: (title, text, statuses.get(kind, 422)) for kind, (title, text) in DOOR.items()}
    said |= {cls.kind: (cls.title, " ".join((cls.__doc__ or "").split()), status_of(cls)) for cls in every_refusal()}
    found = {}
    for kind, (title, text, status) in said.items():
        meaning, _, way_out = _SAID_ANEW.get(kind, text).partition(". ")
        found[kind] = {
            "title": title,
            "meaning": f"{meaning.rstrip('.')}.",
            "way_out": way_out or "The answer says it for this case, in `detail` and `way_out`.",
            "program": _PROGRAM_BY_KIND.get(kind) or _PROGRAM.get(status, _PROGRAM[422]),
            "status": status,
        }
    return found
