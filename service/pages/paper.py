"""The paper form for when nothing works: printed with its pair and ratio, and entered later with the times on it.

Entering a sheet is the same pages: as long as a tablet is at a sheet, each form asks when it was, and the act is late
by itself. So nothing of a sheet has a rule, or a page, of its own.
"""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, Flask, Response, current_app, g, redirect, render_template, request, url_for

from service.database import connected, reading
from service.operations.door.shop import the_site
from service.operations.pots.systems import list_systems
from service.pages.visiting import who

blp = Blueprint("page-paper", __name__, template_folder="templates")
RIGHTS = {
    "page-paper.paper": "read_account",
    "page-paper.begin": "read_account",
    "page-paper.end": "read_account",
}
# This tablet is at a sheet: the time that was typed last, for the next line of it.
SHEET = "potmark_sheet"
WHEN = "_at"
_HOURS_S = 4 * 3600
_AS_MANY_AS_A_SHOP_HAS = 200


def told_time() -> datetime | None:
    """When it happened, by the shop's clock, as it stands on the sheet."""
    text = request.form.get(WHEN, "").strip()
    told = on_the_shops_clock(text)
    if told is not None:
        g.sheet_time = text[:16]
    return told


def on_the_shops_clock(text: str) -> datetime | None:
    """A day and a time as a form gives them, which know of no zone."""
    try:
        there = datetime.fromisoformat(text[:16])
    except ValueError:
        return None
    with connected():
        zone = the_site().zone
    return there.replace(tzinfo=ZoneInfo(zone))


def at_a_sheet() -> bool:
    return SHEET in request.cookies


def sheet_time() -> str:
    """The time that stands in the next line unless another is typed."""
    text: str = getattr(g, "sheet_time", None) or request.cookies.get(SHEET, "")
    return text if len(text) == 16 else ""


def register(app: Flask) -> None:
    app.add_template_global(at_a_sheet)
    app.add_template_global(sheet_time)
    app.after_request(_carry)


def _carry(response: Response) -> Response:
    told = getattr(g, "sheet_time", None)
    if told and at_a_sheet():
        _keep(response, told)
    return response


def _keep(response: Any, text: str) -> None:
    response.set_cookie(SHEET, text, max_age=_HOURS_S, httponly=True, samesite="Strict", secure=request.is_secure)


@blp.get("/paper")
def paper() -> Any:
    """Sheets to print before they are needed, and where to enter one after."""
    with reading():
        shown = {
            "site": the_site(),
            "systems": list_systems(after=None, limit=_AS_MANY_AS_A_SHOP_HAS, approved=True, current=True).rows,
        }
    html = render_template(
        "paper.html", at=current_app.extensions["clock"](), who=who, trouble=None, typed={}, **shown
    )  # fmt: skip
    return Response(html, headers={"Cache-Control": "no-store"})


@blp.post("/paper/begin")
def begin() -> Any:
    """From now on what is entered at this tablet stands on a sheet."""
    answer = redirect(url_for("page-scan.scan"), 303)
    _keep(answer, "begun")
    return answer


@blp.post("/paper/end")
def end() -> Any:
    """The sheet is in: what is tapped from now on is of now."""
    answer = redirect(url_for("page-paper.paper"), 303)
    answer.delete_cookie(SHEET, httponly=True, samesite="Strict", secure=request.is_secure)
    return answer
