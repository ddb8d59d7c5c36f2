"""The morning's look at the cups, and the evening's round: each one list, walked from top to bottom."""

from typing import Any

from flask import Blueprint, Response, current_app, render_template

from service.database import reading
from service.operations.door.shop import the_site
from service.operations.pots.rounds import evening_round, morning_round
from service.pages.base import new_key
from service.pages.visiting import who

blp = Blueprint("page-rounds", __name__, template_folder="templates")
RIGHTS = {"page-rounds.morning": "read_account", "page-rounds.evening": "read_account"}


@blp.get("/morning")
def morning() -> Any:
    """The cups that were kept: hard or soft, one tap each."""
    at = current_app.extensions["clock"]()
    with reading():
        shown = {"site": the_site(), "round": morning_round(at=at)}
    return _page("morning.html", shown)


@blp.get("/evening")
def evening() -> Any:
    """Pots that are open, and cans to weigh back."""
    at = current_app.extensions["clock"]()
    with reading():
        shown = {"site": the_site(), "round": evening_round(at=at)}
    return _page("evening.html", shown)


def _page(template: str, shown: dict[str, Any]) -> Response:
    at = current_app.extensions["clock"]()
    html = render_template(template, at=at, who=who, new_key=new_key, trouble=None, typed={}, **shown)
    return Response(html, headers={"Cache-Control": "no-store"})
