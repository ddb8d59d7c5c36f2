"""What every answer has, whichever route made it: where what was made can be read, its digest, its shorter form.

- 201 says in `Location` where the thing that was made, or that was acted on, can be read (RFC 9110, 15.3.2).
- `Repr-Digest` is the SHA-256 of the content as it is sent (RFC 9530), on all but streams, which nobody has whole.
- A route that is to go says so (`endings`).
- gzip where the caller takes it and it is worth it. What is signed or named by its SHA-256 is sent as it is kept.
"""

import gzip
from base64 import b64encode
from hashlib import sha256
from typing import Any

from flask import Flask, Response, current_app, request
from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, RequestRedirect

from schemas.words import Kind
from service.api import endings

# Below this the headers weigh as much as what is saved.
_WORTH_IT = 1400
_LEVEL = 5
_TEXT = ("application/json", "application/problem+json", "application/openapi+json", "image/svg+xml")


def register(app: Flask) -> None:
    @app.after_request
    def finish(response: Response) -> Response:
        endings.mark(response, request.endpoint)
        if response.is_streamed or response.direct_passthrough or response.status_code in (204, 304):
            return response
        # What a view names by a digest of its own stays byte for byte what it named.
        if "Repr-Digest" not in response.headers:
            if request.path.startswith(("/v1/", "/openapi")) and _is_text(response):
                _shorten(response)
            digest = sha256(response.get_data()).digest()
            response.headers["Repr-Digest"] = f"sha-256=:{b64encode(digest).decode()}:"
        return response


def _is_text(response: Response) -> bool:
    kind = response.mimetype or ""
    return kind in _TEXT or kind.startswith("text/")


def _shorten(response: Response) -> None:
    response.vary.add("Accept-Encoding")
    content = response.get_data()
    if len(content) < _WORTH_IT or request.accept_encodings.quality("gzip") <= 0:
        return
    response.set_data(gzip.compress(content, _LEVEL, mtime=0))
    response.headers["Content-Encoding"] = "gzip"
    # The same answer in other bytes: a strong tag would promise the same bytes.
    tag, _ = response.get_etag()
    if tag is not None:
        response.set_etag(tag, weak=True)


def location_of(value: Any) -> str:
    """Where a result can be read: by its own number or code, else the thing in whose path it was made.

    What has no address of its own, such as a secret or many things at once, has its entry in the journal.
    """
    rules = _readable()
    rule = request.url_rule.rule if request.url_rule is not None else ""
    own = rules["children"].get(rule)
    number = _said(value, own) if own is not None else None
    if number is not None:
        return f"{request.path}/{number}"
    code = _said(value, "code")
    if isinstance(code, str) and code[:1] in set(Kind):
        return f"{rules['kinds'].get(code[0], '/v1/items')}/{code}"
    # What was made may come with more about it, under its own name.
    for name in ("order", "reservation"):
        number = _said(_said(value, name), "id")
        if isinstance(number, int):
            return f"/v1/{name}s/{number}"
    above = _above(current_app.url_map, request.path)
    return above or f"/v1/journal?operation={(request.endpoint or '').rpartition('.')[2]}&sort=newest"


def _said(value: Any, name: str) -> Any:
    return value.get(name) if isinstance(value, dict) else getattr(value, name, None)


def _readable() -> dict[str, dict[str, str]]:
    """Of each list's address, by what of a row it is followed; and of each kind where one is read."""
    found: dict[str, dict[str, str]] | None = current_app.extensions.get("locations")
    if found is None:
        children, kinds = {}, {}
        for rule in current_app.url_map.iter_rules():
            above, _, last = rule.rule.rpartition("/")
            if "GET" not in (rule.methods or ()) or not above.startswith("/v1/") or not last.startswith("<"):
                continue
            by = "code" if last.startswith("<code") else "id" if last.startswith("<number") else None
            children[above] = by or last.strip("<>").rpartition(":")[2]
            if last.startswith("<code(") and "<" not in above and len(last.split(")")[0]) == len("<code(X"):
                kinds[last[len("<code(")]] = above
        found = current_app.extensions["locations"] = {"children": children, "kinds": kinds}
    return found


def _above(url_map: Map, path: str) -> str | None:
    """The longest address above this one that can be read."""
    adapter = url_map.bind("localhost")
    while path.count("/") > 1:
        try:
            adapter.match(path, method="GET")
            return path
        except (HTTPException, RequestRedirect):
            path = path.rpartition("/")[0]
    return None
