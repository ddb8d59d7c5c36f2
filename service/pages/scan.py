"""Whatever was scanned, typed or photographed leads to its page, or says what to do."""

import re
from typing import Any
from urllib.parse import urlsplit

from flask import Blueprint, Response, current_app, redirect, render_template, request, url_for

from labels.codes import Code, parse
from labels.errors import Misread
from service.pages.read_photo import CannotRead, read_codes
from service.pages.visiting import who

blp = Blueprint("page-scan", __name__, template_folder="templates")
RIGHTS = {"page-scan.scan": "read_account", "page-scan.scanned": "read_account"}


@blp.get("/scan")
def scan() -> Any:
    """A field for a code; with a code in the query, the way to its page."""
    return _lead([request.args["code"]]) if request.args.get("code", "").strip() else _page(None, 200)


@blp.post("/scan")
def scanned() -> Any:
    """A photo of a label."""
    photo = request.files.get("photo")
    if photo is None or not photo.filename:
        return _page("No photo came. Take one of the code, or type it.", 422)
    content = photo.read()
    if not content:
        return _page("No photo came. Take one of the code, or type it.", 422)
    try:
        texts = read_codes(content)
    except CannotRead as trouble:
        return _page(trouble.sentence, 422)
    return _for_a_field(texts) if request.form.get("only") == "code" else _lead(texts)


def _for_a_field(texts: list[str]) -> Response:
    """The code alone, for a page that has a field for one; else why there is none."""
    said = _NONE
    for text in texts:
        try:
            code = parse(text[:200])
        except Misread as misread:
            said = str(misread)
            continue
        if code.host is None or _named(code.host) in _our_hosts():
            return Response(code.text, 200, content_type="text/plain; charset=utf-8")
        said = f"This label is not of this shop: it belongs to {code.host.lower()}."
    return Response(said, 422, content_type="text/plain; charset=utf-8")


_NONE = "No code was found in this photo. Hold the phone so that the code fills half the picture."


def _lead(texts: list[str]) -> Any:
    said = _NONE
    for text in texts:
        try:
            code = parse(text[:200])
        except Misread as misread:
            if _is_suppliers(text):
                return redirect(url_for("page-receive.receive", supplier_code=text[:300]), 303)
            said = str(misread)
            continue
        if code.host is not None and _named(code.host) not in _our_hosts():
            return _page(None, 422, foreign=code)
        here = "" if code.issue is None else f"/{code.issue}"
        return redirect(f"/I/{code.text}{here}", 303)
    return _page(said, 422)


# How a GS1 element string begins: with what its symbol is, with the first identifier in brackets, or with a GTIN.
_GS1 = re.compile(r"\](?:C1|d2|Q3|e0)|\(\d{2,4}\)|\x1d|0[12]\d{14}", re.ASCII)


def _is_suppliers(text: str) -> bool:
    """Does this look like the code that a supplier puts on the goods?

    >>> _is_suppliers("]d20109506000134352"), _is_suppliers("(01)09506000134352(10)26-0914"), _is_suppliers("C003183")
    (True, True, False)
    """
    return _GS1.match(text.strip(" ")) is not None


def _our_hosts() -> set[str]:
    """Under which names codes of this shop are printed, and this page was opened."""
    return {_named(request.host), _named(label_host())}


def _named(host: str) -> str:
    """A host without its port: another port of the same machine is no other shop."""
    return (urlsplit(f"//{host}").hostname or "").upper()


def label_host() -> str:
    """Which host this shop's labels name, for a page that reads one."""
    return urlsplit(current_app.extensions["settings"].address).netloc


def _page(said: str | None, status: int, foreign: Code | None = None) -> Response:
    html = render_template(
        "scan.html", said=said, foreign=foreign, who=who, at=current_app.extensions["clock"](), trouble=None
    )
    return Response(html, status, headers={"Cache-Control": "no-store"})
