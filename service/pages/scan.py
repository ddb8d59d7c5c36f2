"""Whatever was scanned, typed or photographed leads to its page, or says what to do."""

from typing import Any

from flask import Blueprint, Response, current_app, redirect, render_template, request

from labels.codes import parse
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
        return _lead(read_codes(content))
    except CannotRead as trouble:
        return _page(trouble.sentence, 422)


def _lead(texts: list[str]) -> Any:
    said = "No code was found in this photo. Hold the phone so that the code fills half the picture."
    for text in texts:
        try:
            code = parse(text[:200])
        except Misread as misread:
            said = str(misread)
            continue
        here = "" if code.issue is None else f"/{code.issue}"
        return redirect(f"/I/{code.text}{here}", 303)
    return _page(said, 422)


def _page(said: str | None, status: int) -> Response:
    html = render_template("scan.html", said=said, who=who, at=current_app.extensions["clock"](), trouble=None)
    return Response(html, status, headers={"Cache-Control": "no-store"})
