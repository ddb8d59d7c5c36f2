"""Errors as problem documents (RFC 9457): one map from reason to status, for JSON and the pages that explain them."""

import logging
import re
from collections.abc import Iterator
from itertools import islice
from typing import Any

from flask import Flask, Response, current_app, g, request
from peewee import OperationalError
from werkzeug.exceptions import HTTPException

from service.database import is_busy
from service.formulas.ranges import OutOfRange
from service.operations.door import refusals
from service.operations.door.refusals import Refusal

log = logging.getLogger("potmark")

# More than this tells nobody more, and an answer is not to be longer than what was asked.
MOST_ERRORS = 50

# The nearest class in a reason's ancestry decides.
STATUS: dict[type[Refusal], int] = {
    refusals.Refusal: 409,
    refusals.ShopReason: 409,
    refusals.NotAllowed: 403,
    refusals.UnknownThing: 404,
    refusals.Unprocessable: 422,
    refusals.AlreadyThere: 409,
    refusals.ChangedMeanwhile: 412,
    refusals.KeyReused: 422,
    refusals.StillRunning: 409,
    refusals.ClockSetBack: 503,
    refusals.UnreadableLog: 422,
    refusals.DoesNotFitLabel: 422,
}

# Reasons of the door rather than of the shop, with their text.
DOOR = {
    "bad-request": (
        "Cannot be read",
        "The request cannot be read: broken JSON, a header out of shape, a path misspelt.",
    ),
    "no-key": ("No key", "Send your key in the header Authorization: Bearer KEY. An administrator hands out keys."),
    "too-many-wrong-keys": (
        "Too many wrong keys",
        "Too many wrong keys came from the same address. Wait as the header Retry-After says, and look at the key.",
    ),
    "too-many-requests": (
        "Too many requests",
        "This key asks more often than it may (POTMARK_REQUESTS_PER_MIN). Wait as the header Retry-After says; each "
        "answer tells in RateLimit how many requests are left.",
    ),
    "not-found": ("Nothing there", "There is nothing at this address."),
    "method-not-allowed": ("Not this way", "This address answers to other methods; the header Allow names them."),
    "too-large": ("Too large", "The body is larger than the service takes (POTMARK_UPLOAD_MB)."),
    "not-json": ("Not JSON", "Send JSON, with the header Content-Type: application/json."),
    "version-needed": ("Version needed", "Read the record first and send its ETag in the header If-Match."),
    "out-of-range": ("Out of range", "A calculation was asked outside the range in which its formula holds."),
    "internal": (
        "Our fault",
        "Something went wrong here and was logged. Nothing was half-written; try again, or use the paper form.",
    ),
}
DOOR_BY_STATUS = {
    400: "bad-request",
    401: "no-key",
    403: "not-allowed",
    404: "not-found",
    405: "method-not-allowed",
    413: "too-large",
    415: "not-json",
    422: "invalid",
    428: "version-needed",
    429: "too-many-wrong-keys",
    500: "internal",
}


def status_of(reason: type[Refusal]) -> int:
    return next(STATUS[cls] for cls in reason.__mro__ if cls in STATUS)


def problem(kind: str, title: str, status: int, **more: Any) -> Response:
    g.problem = kind
    body = {
        "type": f"/problems/{kind}",
        "title": title,
        "status": status,
        **{k: v for k, v in more.items() if v is not None},
    }
    page = current_app.extensions.get("page of a problem")
    if (
        page is not None
        and request.accept_mimetypes.best_match(["application/problem+json", "text/html"]) == "text/html"
    ):
        return current_app.response_class(page(body), status, mimetype="text/html")
    # A lone surrogate that somebody sent and a sentence repeats is no UTF-8; JSON has an escape for it.
    content = current_app.json.dumps(body).encode("utf-8", "backslashreplace")
    return current_app.response_class(content, status, mimetype="application/problem+json")


def refused(refusal: Refusal) -> Response:
    status = status_of(type(refusal))
    pointer = refusal.pointer
    if isinstance(refusal, refusals.UnknownThing) and _stands_in_body(refusal):
        # A code in a path that leads nowhere is a 404; in a body it is a field that does not hold.
        status, pointer = 422, pointer or _pointer_to(refusal.facts["code"])
    errors = [{"pointer": pointer, "detail": refusal.sentence}] if pointer else None
    return problem(
        refusal.kind,
        refusal.title,
        status,
        detail=refusal.sentence,
        way_out=refusal.way_out,
        errors=errors,
        **refusal.facts,
    )


def _stands_in_body(refusal: Refusal) -> bool:
    code = refusal.facts.get("code")
    if code is None or request.method in ("GET", "HEAD"):
        return False
    return code not in (request.view_args or {}).values()


def _pointer_to(code: str) -> str | None:
    """Where in the body that code stands, read the way codes are read."""
    from labels.codes import parse

    def search(value: Any, at: str) -> str | None:
        if isinstance(value, dict):
            return next((hit for k, v in value.items() if (hit := search(v, f"{at}/{k}"))), None)
        if isinstance(value, list):
            return next((hit for i, v in enumerate(value) if (hit := search(v, f"{at}/{i}"))), None)
        if isinstance(value, str) and len(value) <= 200:
            try:
                return at if parse(value).text == code else None
            except ValueError:
                return None
        return None

    return search(request.get_json(silent=True), "")


def _pointer_to_argument(argument: str) -> str | None:
    """Where in the body a formula's argument stands, such as `points[2].life_min`; as far as it can be followed."""
    here, at = request.get_json(silent=True), ""
    for step in re.findall(r"[^.\[\] ]+", argument.partition(" ")[0]):
        if isinstance(here, dict) and step in here:
            here = here[step]
        elif isinstance(here, list) and step.isascii() and step.isdigit() and int(step) < len(here):
            here = here[int(step)]
        else:
            break
        at += f"/{_escaped(step)}"
    return at or None


def pointers(messages: Any, at: str = "") -> Iterator[dict[str, str]]:
    """marshmallow's messages as JSON Pointers with their sentences, one after the other."""
    if isinstance(messages, dict):
        for key, inner in messages.items():
            yield from pointers(inner, at if key == "_schema" else f"{at}/{_escaped(str(key))}")
        return
    for message in messages if isinstance(messages, list) else [messages]:
        yield {"pointer": at, "detail": _sentence(str(message))}


def _escaped(key: str) -> str:
    return key.replace("~", "~0").replace("/", "~1")[:100]


def _sentence(text: str) -> str:
    return {
        "Missing data for required field.": "This has to be given.",
        "Unknown field.": "There is no such field.",
        "Invalid input type.": "Give a JSON object.",
    }.get(text, text)


def http_error(error: HTTPException) -> Response:
    data = getattr(error, "data", None) or {}
    status = error.code or 500
    kind = data.get("kind") or DOOR_BY_STATUS.get(status, "bad-request")
    title = DOOR[kind][0] if kind in DOOR else ("Not allowed" if status == 403 else "Values that do not fit")
    kind, title = getattr(error, "problem", (kind, title))
    errors, detail = None, data.get("message") or (DOOR[kind][1] if kind in DOOR else None)
    if "messages" in data:
        every = ({**found, "in": where} for where, inner in data["messages"].items() for found in pointers(inner))
        errors = list(islice(every, MOST_ERRORS))
        first = errors[0] if errors else {"pointer": "", "detail": ""}
        detail = f"{first['pointer'].lstrip('/').replace('/', ', ') or 'The body'}: {first['detail']}"
        if next(every, None) is not None:
            detail += f" (The first {MOST_ERRORS} errors are listed; there are more.)"
    response = problem(kind, title, status, detail=detail, way_out=data.get("way_out"), errors=errors)
    for name, value in {**dict(error.get_headers() or []), **(data.get("headers") or {})}.items():
        if name.lower() in ("allow", "retry-after", "www-authenticate"):
            response.headers[name] = value
    return response


def register(app: Flask) -> None:
    app.register_error_handler(Refusal, refused)

    @app.errorhandler(OutOfRange)
    def out_of_range(error: OutOfRange) -> Response:
        at = _pointer_to_argument(error.argument)
        errors = [{"pointer": at, "detail": str(error)}] if at else None
        title = DOOR["out-of-range"][0]
        return problem("out-of-range", title, 422, detail=str(error), argument=error.argument, errors=errors)

    @app.errorhandler(OperationalError)
    def database_trouble(error: OperationalError) -> Response:
        if is_busy(error):
            return refused(refusals.StillRunning("Someone else is at the same thing; send it again in a moment."))
        return unexpected(error)

    @app.errorhandler(Exception)
    def unexpected(error: Exception) -> Response:
        if isinstance(error, HTTPException):
            return http_error(error)
        log.exception("unexpected error at %s %s, request %s", request.method, request.path, g.get("request_id"))
        return problem("internal", DOOR["internal"][0], 500, detail=DOOR["internal"][1])
